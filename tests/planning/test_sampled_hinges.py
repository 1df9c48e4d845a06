"""Hinge curves measured at points: those of the outlines, within what the gaps between points allow."""

from __future__ import annotations

import math

import pytest

from packer.model.figure import Figure, Flap, River
from packer.model.packing import Packing
from packer.model.problem import pose
from packer.model.sheet import Sheet
from packer.planning import layer_estimate
from packer.planning.layer_estimate import hinge_lengths
from packer.planning.sampled_hinges import POINTS, sampled_hinges
from tests.strategies import random_figure, scattered

GAP = 1 / math.sqrt(POINTS)


def test_the_hinges_of_a_river_are_the_arcs_that_geometry_says():
    """Arcs of radius 2 round the tips of each end, cut off by the sheet and by each other."""
    flaps = tuple(Flap(name, joint, 1) for name, joint in ("aj", "bj", "ck", "dk"))
    figure = Figure("line", flaps, (River("r", ("j", "k"), 1),))
    packing = Packing(pose(figure, Sheet(3, 2)), ((0, 0), (0, 2), (3, 0), (3, 2)))
    lengths = sampled_hinges(packing)
    assert list(lengths.values()) == pytest.approx([4 * math.asin(1 / 2)] * 2, rel=0.02)


@pytest.mark.parametrize("seed", range(6))
def test_they_are_as_long_as_the_outlines_of_the_discs(seed, monkeypatch):
    """The union of the discs of all tips beyond each river is the plain slow reference."""
    packing = scattered(pose(random_figure(seed, 8, joints=5)), seed, records=False)
    outlined = hinge_lengths(packing)
    monkeypatch.setattr(layer_estimate, "MANY_TIPS", 1)
    sampled = hinge_lengths(packing)
    assert sampled == pytest.approx(outlined, rel=0.05, abs=6 * GAP)
    assert sum(sampled.values()) == pytest.approx(sum(outlined.values()), rel=0.01)
