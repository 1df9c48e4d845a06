"""Tips moved onto marks: the packing still holds, and no more scale is lost than allowed."""

import math

import pytest

from packer.model.figure import Figure, Flap
from packer.model.packing import Packing
from packer.model.problem import pose
from packer.model.sheet import Sheet
from packer.planning.snapping import MarkLimits, snapped, trade_off

LIMITS = MarkLimits(0.0015, 0.5 / 350)


@pytest.fixture(scope="module")
def packing():
    # four corners and a loose tip off the centre: the centre itself will do, two folds away
    lengths = {"a": 0.4, "b": 0.4, "c": 0.4, "d": 0.4, "e": 0.1}
    figure = Figure("star", tuple(Flap(n, "hub", x) for n, x in lengths.items()))
    tips = ((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0), (0.488, 0.511))
    return Packing(pose(figure, Sheet()), tips)


def test_a_loose_tip_goes_where_it_is_easy_to_find(packing):
    held = snapped(packing, 0.0, LIMITS)
    moved = snapped(packing, 0.01, LIMITS)
    assert held.landmarks.count > moved.landmarks.count
    assert moved.packing.violations() == []
    assert moved.packing.scale >= 0.99 * packing.scale
    x, y = moved.packing.tips[4]
    assert math.dist((x, y), moved.landmarks.tips["e"].at) < 1e-12


def test_the_trade_off_starts_with_nothing_given(packing):
    rows = trade_off(packing, 0.02, LIMITS, shares=(0.0, 1.0))
    assert rows[0].given == 0.0
    assert rows[0].packing is packing
    assert rows[1].given <= 0.02 + 1e-12
