"""Tips off their places by what a packing permits itself, against where they lie exactly."""

from __future__ import annotations

import math

import numpy as np
import pytest

from packer.model.exact_places import exact_places, exact_scale
from packer.model.figure import Figure, Flap
from packer.model.packing import Bound, Packing
from packer.model.problem import pose
from packer.units import ON_EDGE

NEARLY = 0.9 * ON_EDGE
"""Nearly all that a coordinate may be off on the unit square."""


def packing_of(places, tips, symmetry="none", pair=False, bound=None):
    flaps = tuple(
        Flap(f"f{k}", "hub", 0.5, place=place, pair=pair) for k, place in enumerate(places)
    )
    return Packing(pose(Figure("few", flaps, symmetry=symmetry)), tips, bound=bound)


@pytest.mark.parametrize("apart", [1e-3, 1e-6])
def test_points_nudged_apart_are_within_a_bound_however_near_they_are(apart):
    """Two tips on fixed points: the scale is their distance, and nothing else is possible."""
    places = [((0.5, 0.5),), ((0.5, 0.5 + apart),)]
    bound = Bound(apart * (1 + 1e-9), "distance of two points")
    tips = ((0.5, 0.5 - NEARLY), (0.5, 0.5 + apart + NEARLY))
    nudged = packing_of(places, tips, bound=bound)
    assert nudged.scale == pytest.approx(apart + 2 * NEARLY, rel=1e-9)
    assert nudged.scale > bound.scale * (
        1 + 2 * ON_EDGE
    )  # more than any share of the scale allows
    assert exact_scale(nudged) == pytest.approx(apart, rel=1e-9)
    assert nudged.violations() == []


def test_exact_tips_above_a_bound_by_a_billionth_are_told():
    """Two tips in opposite corners: the diagonal, and a bound that lies below it."""
    corners = [("bottom left",), ("top right",)]
    for off, told in ((1e-9, 1), (1e-11, 1), (0.0, 0)):
        below = Bound(math.sqrt(2) * (1 - off), "diagonal")
        packing = packing_of(corners, ((0, 0), (1, 1)), bound=below)
        assert len(packing.violations()) == told


@pytest.mark.parametrize(
    ("symmetry", "place", "tips", "exact"),
    [
        ("none", "edge", ((0.3, 1 + NEARLY),), ((0.3, 1.0),)),
        ("book", "axis", ((0.5 - NEARLY, 0.2),), ((0.5, 0.2),)),
        ("diagonal", "axis", ((0.4, 0.4 + NEARLY),), ((0.4 + NEARLY / 2, 0.4 + NEARLY / 2),)),
        ("book", "left", ((NEARLY, 0.2), (1.0, 0.2 + NEARLY)), ((0.0, 0.2), (1.0, 0.2))),
        ("diagonal", "left", ((-NEARLY, 0.7), (0.7, NEARLY)), ((0.0, 0.7), (0.7, 0.0))),
    ],
)
def test_tips_are_put_on_the_nearest_exact_place(symmetry, place, tips, exact):
    problem = packing_of([(place,), ()], (*tips, *((0.5, 0.9),) * 2)[: 2 * len(tips)],
                         symmetry, len(tips) == 2).problem  # fmt: skip
    points = np.array([*tips, *((0.5, 0.9),) * len(tips)])
    put, kept = exact_places(problem, points)
    np.testing.assert_allclose(put[: len(tips)], exact, rtol=0, atol=1e-16)
    assert not kept.any()


def test_a_disc_is_kept_on_the_sheet_only_where_every_place_asks_for_it():
    """Of "middle" and the left side a tip on that side has chosen the side."""
    tips = ((0.0, 0.3), (0.8, 0.75))
    either = packing_of([("middle", "left"), ()], tips)
    assert not exact_places(either.problem, either.points)[1].any()
    assert exact_scale(either) == either.scale == math.dist(*tips)
    inside = packing_of([("middle",), ()], ((0.1, 0.3), tips[1]))
    assert exact_places(inside.problem, inside.points)[1].tolist() == [True, False]
    assert exact_scale(inside) == inside.scale == 0.1 / 0.5
