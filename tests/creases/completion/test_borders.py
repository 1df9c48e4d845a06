"""Tips that lie in a corner stay there."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from packer.creases.completion.borders import at_borders
from packer.creases.tip_layout import layout_of
from packer.model.figure import Figure, Flap
from packer.model.packing import Packing
from packer.model.problem import pose

STAR = Figure("star", tuple(Flap(name, "hub", 1) for name in "abcd"))


def layout(*tips):
    """A layout at a tenth of the scale, so that every path has room."""
    return layout_of(Packing(pose(STAR), tips), 0.1)


def test_a_tip_that_is_in_a_corner_to_within_rounding_is_not_moved():
    here = layout((0.0, 0.0), (1.0, 1.0), (1.0, 0.0), (0.0, 1.0))
    off = here.points.copy()
    off[0] = 0.4 * here.tolerance, 0.3 * here.tolerance  # there, to within rounding
    moved = at_borders(replace(here, points=off), 0.0)
    assert np.array_equal(moved.points[0], off[0])
