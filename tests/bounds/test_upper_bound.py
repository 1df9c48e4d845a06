"""Upper bounds: closed where the optimum is known, and never below any packing."""

from __future__ import annotations

import math
from itertools import combinations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import minimize_scalar

from packer.bounds import classical_rules
from packer.bounds.classical_rules import classical_bounds, widest_subset
from packer.bounds.point_spread import most_spread, proven_spreads
from packer.bounds.tree_area import area_bound, caps, outside_area
from packer.bounds.upper_bound import quick_bound
from packer.model.figure import Figure, Flap, River
from packer.model.problem import pose
from packer.model.sheet import Sheet
from packer.model.tree import least_distances
from tests.strategies import packings, random_figure

ROOT2 = 2**0.5


def star(*lengths, sheet=None):
    flaps = [Flap(f"f{k}", "hub", length) for k, length in enumerate(lengths)]
    return pose(Figure("star", tuple(flaps), sheet=sheet))


@pytest.mark.parametrize("n", [*range(2, 34), 36])
def test_equal_flaps_in_the_square_are_closed_by_the_proven_table(n):
    # scale of a star of n unit flaps = half the greatest spread of n points, proven for these n
    bound = quick_bound(star(*[1] * n))
    assert bound.scale == pytest.approx(proven_spreads()[n] / 2, rel=1e-9)


def test_unproven_rows_bound_nothing():
    assert set(proven_spreads()) == {*range(2, 34), 36}
    # 34 points: best known 0.2056 (packomania.com), not proven; the bound must be that of 33
    assert quick_bound(star(*[1] * 34)).scale == pytest.approx(
        proven_spreads()[33] / 2, rel=1e-9
    )


@pytest.mark.parametrize(
    "lengths",
    [
        (1, ROOT2 - 1),
        (ROOT2 / 2, ROOT2 / 2, 1 - ROOT2 / 2, 1 - ROOT2 / 2),
        (0.5, 0.5, 0.5, 0.5, (ROOT2 - 1) / 2),
        (*[ROOT2 / 4] * 5, *[(2 - ROOT2) / 4] * 4),
    ],
    ids=["kite", "fish", "bird", "frog"],
)
def test_classic_bases_are_closed_at_one(lengths):
    # flap lengths of the classic bases: tangent lengths of the triangles in their creases
    assert quick_bound(star(*lengths)).scale == pytest.approx(1, rel=1e-9)


@given(st.floats(0.1, 10), st.floats(0.1, 10), st.floats(0.1, 5), st.floats(0.1, 5))
def test_two_flaps_are_closed_by_the_diagonal(w, h, a, b):
    bound = quick_bound(star(a, b, sheet=Sheet(w, h)))
    assert bound.scale == pytest.approx(math.hypot(w, h) / (a + b), rel=1e-9)


@pytest.mark.parametrize("n", [3, 4, 6, 11])
@pytest.mark.parametrize("share", [0.3, 1.0])
def test_zigzags_on_narrow_sheets_are_closed(n, share):
    # n equal flaps on W x H with H <= sqrt 3 W / (n - 1) alternate between the long sides:
    # m = sqrt(H^2 + (W / (n - 1))^2) / 2; the upper bound is the strip rule, the tips attain it
    w, h = 2.0, share * math.sqrt(3) * 2.0 / (n - 1)
    zigzag = math.hypot(h, w / (n - 1)) / 2
    assert quick_bound(star(*[1] * n, sheet=Sheet(w, h))).scale == pytest.approx(
        zigzag, rel=1e-9
    )


@given(packings(max_flaps=10))
def test_no_packing_exceeds_a_bound(packing):
    for bound in [*classical_bounds(packing.problem), area_bound(packing.problem)]:
        assert packing.scale <= bound.scale


@given(st.integers(2, 60), st.floats(0.2, 5))
def test_spread_bounds_hold_for_random_points_and_grids(k, width):
    rng = np.random.default_rng(k)
    side = math.ceil(k**0.5)
    grid = np.array([(i, j) for i in range(side) for j in range(side)], float)[:k] / (side - 1)
    hexagonal = np.array([(i + j % 2 / 2, j * 3**0.5 / 2) for j in range(k) for i in range(k)])
    for points in (rng.random((k, 2)), grid, hexagonal[np.lexsort(hexagonal.T)][:k]):
        box = np.ptp(points, axis=0)
        if not box.all():
            continue
        gaps = np.hypot(*(points[:, None] - points[None]).transpose(2, 0, 1))
        least = gaps[np.triu_indices(k, 1)].min() * (1 - 1e-12)
        assert least <= most_spread(k, *box)[0]
        stretched = gaps_of(points * [width, 1])
        assert stretched * (1 - 1e-12) <= most_spread(k, box[0] * width, box[1])[0]


def gaps_of(points):
    gaps = np.hypot(*(points[:, None] - points[None]).transpose(2, 0, 1))
    return gaps[np.triu_indices(len(points), 1)].min()


@given(st.integers(0, 10**6), st.integers(3, 9))
def test_widest_subsets_are_the_widest(seed, n):
    d = pose(random_figure(seed, n)).tree.distances
    for k in range(2, n + 1):
        plain = max(
            min(d[i, j] for i, j in combinations(chosen, 2))
            for chosen in combinations(range(n), k)
        )
        tips = widest_subset(d, k)
        assert len(set(tips)) == k
        assert min(d[i, j] for i, j in combinations(tips, 2)) == pytest.approx(plain, rel=1e-12)


def test_flex_only_lowers_distances_as_far_as_the_total_allows():
    flaps = (
        Flap("a", "x", 1, flex=0.5),
        Flap("b", "x", 1),
        Flap("c", "y", 1, flex=0.1),
        Flap("d", "y", 1),
    )
    problem = pose(Figure("flex", flaps, (River("r", ("x", "y"), 2.0, flex=0.0),)))
    least = least_distances(problem.tree)
    # a may give up 0.5, but only c can take it up, and at most 0.1
    assert least[0, 1] == pytest.approx(1.9)
    # both ends of the path may not shrink together: nothing outside it takes up the length
    assert least[0, 2] == pytest.approx(4.0)
    assert least[1, 3] == pytest.approx(4.0)


# --- the lemma and the areas of the tree area bound, against sampling


@given(st.integers(0, 10**6))
def test_outside_area_is_never_less_than_what_lies_outside(seed):
    rng = np.random.default_rng(seed)
    w, h = rng.uniform(0.5, 2, 2)
    n = int(rng.integers(1, 7))
    radii = rng.uniform(0.05, 0.5, n) * min(w, h)
    centres = rng.random((n, 2)) * [w, h]
    # push many to the edges and corners, where the bound is tight
    snap = rng.integers(0, 3, (n, 2))
    centres = np.where(snap == 0, 0, np.where(snap == 1, [w, h], centres))
    union = shapely.union_all(shapely.buffer(shapely.points(centres), radii, quad_segs=32))
    outside = union.difference(shapely.box(0, 0, w, h)).area
    assert outside <= outside_area(radii, w, h)


@given(st.lists(st.floats(0.01, 0.5), min_size=4, max_size=20), st.floats(1, 3))
def test_outside_area_is_the_least_that_any_cut_leaves(radii, height):
    """The sum is minimised by scipy's bounded search over the height of the cut, and at both its ends."""
    radii = np.array(radii)
    corners = math.pi / 4 * float((np.sort(radii)[-4:] ** 2).sum())

    def strips(t):
        return 2 * (1 + height) * t + float(caps(radii, t).sum())

    found = minimize_scalar(strips, bounds=(0, radii.max()), method="bounded")
    least = min(strips(0.0), strips(float(radii.max())), float(found.fun))
    assert outside_area(radii, 1.0, height) == pytest.approx(corners + least, rel=1e-8)


def test_outside_area_is_met_by_one_disc_in_a_corner_of_a_large_sheet():
    # three quarters of the disc lie outside; the rule gives as much when the sides are long
    radii = np.array([0.5])
    assert outside_area(radii, 100, 100) == pytest.approx(0.75 * math.pi * 0.25, rel=1e-6)


@given(st.floats(0, 1), st.floats(0, 1), st.floats(0, 1))
def test_the_strips_of_one_tip_never_exceed_a_cap(x, y, t):
    # the lemma of packer.bounds.tree_area, by integration along each side
    u = np.linspace(-1, 1, 4001)
    depth = np.sqrt(1 - u**2)
    first = np.where(u >= -x, np.maximum(depth - y - t, 0), 0)
    second = np.where(u >= -y, np.maximum(depth - x - t, 0), 0)
    area = np.trapezoid(first + second, u)
    assert area <= caps(np.array([1.0]), t)[0] + 2e-3


@pytest.mark.parametrize(("t", "area"), [(0.0, math.pi / 2), (1.0, 0.0), (0.5, 0.61418485)])
def test_caps_by_hand(t, area):
    # the third: pi / 3 - sqrt 3 / 4
    assert caps(np.array([1.0]), t)[0] == pytest.approx(area, abs=1e-8)


def test_subsets_are_sought_only_where_they_could_lower_the_bound(monkeypatch):
    """Of 200 flaps 55 sizes of subsets are asked for; bisection of each took 800 looks."""
    problem = pose(random_figure(4, 200, joints=60))
    before, looks = classical_bounds(problem), []
    apart = classical_rules._apart

    def counted(*words):
        looks.append(words)
        return apart(*words)

    monkeypatch.setattr(classical_rules, "_apart", counted)
    assert classical_bounds(problem) == before
    assert len(looks) < 400
    d, sheet = least_distances(problem.tree), problem.sheet
    every = [
        most_spread(k, sheet.width, sheet.height)[0]
        / min(d[i, j] for i, j in combinations(widest_subset(d, k), 2))
        for k in (*range(3, 34), *range(40, 201, 8))
    ]
    assert min(every) >= before[0].scale * (1 - 1e-9)
