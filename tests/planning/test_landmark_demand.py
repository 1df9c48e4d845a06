"""Landmark creases counted as a cost of a packing."""

from __future__ import annotations

import pytest

from packer.model.figure import Figure, Flap
from packer.model.packing import Packing
from packer.model.problem import pose
from packer.planning.landmark_demand import landmark_demand

CORNERS = ((0.0, 0.0), (1.0, 0.0), (0.0, 1.0), (1.0, 1.0))


def packed(*tips):
    flaps = tuple(Flap(f"f{k}", "j", 1.0) for k in range(len(tips)))
    return Packing(pose(Figure("star", flaps)), tips)


@pytest.mark.parametrize(
    ("tips", "creases"),
    [
        # textbook bases (S. Randlett, The Art of Origami, 1961): corners are there already, the
        # middles of the sides take two book folds and the centre those or the diagonals
        (CORNERS, 0),
        ((*CORNERS, (0.5, 0.5)), 2),
        ((*CORNERS, (0.5, 0.0), (0.0, 0.5), (1.0, 0.5), (0.5, 1.0), (0.5, 0.5)), 2),
    ],
    ids=["waterbomb", "bird", "frog"],
)
def test_textbook_bases_take_their_landmark_creases(tips, creases):
    demand = landmark_demand(packed(*tips), 350.0)
    assert demand.creases == creases
    assert demand.steps <= creases
    assert demand.off_mm == pytest.approx(0.0, abs=1e-9)
    assert demand.side_mm == 350.0


def test_a_larger_sheet_takes_finer_landmarks():
    """Half a millimetre is a smaller share of it."""
    packing = packed(*CORNERS, (0.3719, 0.4283))
    small, large = landmark_demand(packing, 60.0), landmark_demand(packing, 600.0)
    assert 0 < small.steps < large.steps
    assert max(small.off_mm, large.off_mm) <= 0.5
