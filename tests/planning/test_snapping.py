"""Tips moved onto marks: the packing still holds, and no more scale is lost than allowed."""

import math
from dataclasses import replace

import pytest

from packer.deadline import NEVER
from packer.landmarks.search import landmarks
from packer.landmarks.sequence import Landmarks, TipMark
from packer.model.figure import Figure, Flap
from packer.model.packing import Packing
from packer.model.problem import pose
from packer.model.sheet import Sheet
from packer.planning import snapping
from packer.planning.snapping import (
    BACK,
    FARTHEST,
    FIRST,
    MarkLimits,
    climbed_with,
    snapped,
    trade_off,
)

LIMITS = MarkLimits(0.0015, 0.5 / 350)


@pytest.fixture(scope="module")
def packing():
    # four corners and a loose tip off the centre: the centre itself will do, two folds away
    lengths = {"a": 0.4, "b": 0.4, "c": 0.4, "d": 0.4, "e": 0.1}
    figure = Figure("star", tuple(Flap(n, "hub", x) for n, x in lengths.items()))
    tips = ((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0), (0.488, 0.511))
    return Packing(pose(figure, Sheet()), tips)


def test_a_loose_tip_goes_where_it_is_easy_to_find(packing):
    moved = snapped(packing, 0.01, LIMITS)
    assert moved.landmarks.count == 2  # the centre
    assert moved.packing.violations() == []
    assert moved.packing.scale >= 0.99 * packing.scale
    x, y = moved.packing.tips[4]
    assert math.dist((x, y), moved.landmarks.tips["e"].at) < 1e-12


def test_the_rest_climbs_again_while_a_tip_is_held():
    # three equal flaps: with one tip held at (1, 0.3) the third goes along the top edge to where
    # its distances to both are equal, 1 + x x = (1 - x)(1 - x) + 0.49, so x = 0.245
    figure = Figure("three", tuple(Flap(n, "hub", 1.0) for n in "abc"))
    r = 2 - math.sqrt(3)
    packing = Packing(pose(figure, Sheet()), ((0.0, 0.0), (1.0, r), (r, 1.0)))
    held = {"a": (0.0, 0.0), "b": (1.0, 0.3)}
    climbed = climbed_with(packing, held)
    assert dict(zip("abc", climbed.tips, strict=True)) | held == dict(
        zip("abc", climbed.tips, strict=True)
    )
    assert climbed.tips[2] == pytest.approx((0.245, 1.0), abs=1e-5)
    assert climbed.scale == pytest.approx(math.hypot(1, 0.245) / 2, rel=1e-5)


def test_a_mark_that_costs_too_much_is_looked_for_again_on_the_way_to_it(monkeypatch):
    """By hand: towards the other of two tips, the share of scale lost is that of their distance."""
    figure = Figure("two", (Flap("a", "hub", 1.0), Flap("b", "hub", 1.0)))
    packing = Packing(pose(figure, Sheet()), ((0.0, 0.0), (1.0, 1.0)))
    way = 0.02 * math.sqrt(2)
    mark = TipMark((0, 1), (0.02, 0.02), way, 0.0)
    made = Landmarks(packing.sheet, (), {"a": mark}, LIMITS.hand)
    monkeypatch.setattr(snapping, "landmarks", lambda *_, **__: made)
    group = snapping._Group(packing, dict.fromkeys("ab", FARTHEST), {}, (), None)
    after = snapping._moved(group, packing.scale, 0.01, LIMITS, 1, snapping._Watch(None, NEVER))
    assert after.packing is packing
    assert after.tried == ("a",)
    most = 0.01 * (FIRST + (1 - FIRST) / 2)  # with one of two tips held
    assert after.reach["a"] == pytest.approx(BACK * way * most / 0.02, rel=1e-6)


def test_a_larger_share_never_needs_more_creases(packing):
    rows = trade_off(packing, 0.02, LIMITS, shares=(0.0, 1.0))
    assert rows[0].packing is packing
    assert rows[0].given == 0.0
    counts = [row.landmarks.count for row in rows]
    assert counts == sorted(counts, reverse=True)
    for row in rows:
        assert row.packing.violations() == []
        assert row.packing.scale >= (1 - row.allowed) * packing.scale * (1 - 1e-12)
        tips = dict(zip(row.packing.tree.flaps, row.packing.tips, strict=True))
        for name, mark in row.landmarks.tips.items():
            assert math.dist(tips[name], mark.at) == pytest.approx(mark.distance, abs=1e-12)
            assert mark.distance <= LIMITS.within


def test_no_larger_share_is_tried_after_an_interruption(packing, monkeypatch):
    """Searches counted: four without the interruption of the first."""
    begun = []

    def interrupted(*_words, **more):
        begun.append(1)
        return replace(landmarks(*_words, **more), complete=False)

    monkeypatch.setattr("packer.planning.snapping.landmarks", interrupted)
    rows = trade_off(packing, 0.02, LIMITS)
    assert len(rows) == len(begun) == 1
    assert not rows[0].complete
