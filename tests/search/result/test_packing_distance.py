"""Difference of packings: blind to names and to how the sheet lies, against brute force."""

from __future__ import annotations

from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packer.model.figure import Figure, Flap, River
from packer.model.packing import Packing
from packer.model.problem import pose
from packer.model.sheet import Sheet
from packer.search.result.packing_distance import ELSEWHERE, difference, oriented_like
from tests.strategies import packings


def lying(packing, turn):
    """The same packing with its sheet turned or mirrored."""
    points = turn(packing.points, packing.sheet.width, packing.sheet.height)
    return replace(packing, tips=tuple(map(tuple, points.tolist())))


TURNS = {
    "mirrored": lambda p, w, h: np.c_[w - p[:, 0], p[:, 1]],
    "upside down": lambda p, w, h: np.c_[p[:, 0], h - p[:, 1]],
    "half turn": lambda p, w, h: [w, h] - p,
}


@given(packings(max_flaps=9, symmetry="none", places=False), st.sampled_from(sorted(TURNS)))
def test_turned_sheets_are_the_same_packing(packing, turn):
    assert difference(packing, lying(packing, TURNS[turn])) == pytest.approx(0, abs=1e-12)


@given(packings(max_flaps=9, symmetry="none", places=False), st.sampled_from(sorted(TURNS)))
def test_a_turned_packing_is_turned_back_to_lie_as_before(packing, turn):
    back = oriented_like(lying(packing, TURNS[turn]), packing)
    np.testing.assert_allclose(back.points, packing.points, atol=1e-12)


@pytest.mark.parametrize("place", [(), ((0.25, 1.0),)])
def test_no_packing_is_turned_out_of_its_places(place):
    """Mirrored, the tail would lie where the model's does, but the head may be pinned."""
    flaps = (Flap("head", "hub", 0.4, place=place), Flap("tail", "hub", 0.4))
    problem = pose(Figure("eel", flaps))
    one, model = (Packing(problem, ((0.25, 1.0), tail)) for tail in ((0.9, 0.1), (0.1, 0.1)))
    assert (oriented_like(one, model) == one) == bool(place)


@given(packings(max_flaps=9, symmetry="none", places=False))
def test_a_square_may_also_be_turned_by_a_right_angle(packing):
    square = replace(packing, problem=pose(packing.figure, Sheet(3, 3)))
    turned = lying(square, lambda p, w, h: np.c_[p[:, 1], w - p[:, 0]])
    assert difference(square, turned) == pytest.approx(0, abs=1e-12)


@given(packings(max_flaps=7, symmetry="book", places=False))
def test_exchanged_twins_are_the_same_packing(packing):
    # the mirror image is the packing with the names of all twins exchanged
    mirrored = lying(packing, TURNS["mirrored"])
    assert difference(packing, mirrored) == pytest.approx(0, abs=1e-12)


def test_one_exchanged_limb_is_the_same_packing():
    flaps = (Flap("finger", "wrist", 1, pair=True), Flap("leg", "hip", 1, pair=True))
    flaps += (Flap("thumb", "wrist", 0.5), Flap("tail", "hip", 1))
    figure = Figure("hands", flaps, (River("arm", ("hip", "wrist"), 1, pair=True),), "book")
    problem = pose(figure)
    names = problem.tree.flaps
    rng = np.random.default_rng(0)
    points = np.zeros((len(names), 2))
    for k in range(len(names)):
        twin = int(problem.mirror[k])
        if twin >= k:
            points[k] = [0.5, 0.9] if twin == k else rng.random(2)
            points[twin] = problem.reflect(points[k])
    one = Packing(problem, tuple(map(tuple, points.tolist())))
    swapped = points.copy()
    for k, name in enumerate(names):
        if name.startswith(("finger", "thumb")):
            swapped[k] = points[problem.mirror[k]]
    other = Packing(problem, tuple(map(tuple, swapped.tolist())))
    assert difference(one, other) == pytest.approx(0, abs=1e-12)


def plain_difference(one, other):
    """Least over all permutations of tips that keep every distance, and all turns."""
    d, n = one.distances, len(one.tips)
    reach = ELSEWHERE * min(one.sheet.width, one.sheet.height)
    length = np.array(one.lengths[:n])
    least = np.inf
    turns = [lambda p, w, h: p, *TURNS.values()]
    for order in map(list, permutations(range(n))):
        if not np.allclose(d[np.ix_(order, order)], d):
            continue
        for turn in turns:
            q = turn(other.points, one.sheet.width, one.sheet.height)[order]
            away = np.minimum(np.hypot(*(one.points - q).T) / reach, 1)
            least = min(least, float((length * away).sum() / length.sum()))
    return least


@settings(max_examples=25)
@given(st.integers(0, 10**6), st.booleans())
def test_the_best_matching_is_found(seed, two_centres):
    rng = np.random.default_rng(seed)
    joints = ["x", "y"] if two_centres else ["x", "x", "y"]
    flaps = [
        Flap(f"f{k}", joint, float(rng.integers(1, 3)))
        for k, joint in enumerate([*joints, *joints])
    ]
    if two_centres:
        flaps = [replace(f, length=flaps[k // 2].length) for k, f in enumerate(flaps)]
    figure = Figure("small", tuple(flaps), (River("r", ("x", "y"), 0.5),))
    problem = pose(figure, Sheet(1, 1.5))
    one, other = (
        Packing(problem, tuple(map(tuple, (rng.random((len(flaps), 2)) * [1, 1.5]).tolist())))
        for _ in range(2)
    )
    assert difference(one, other) == pytest.approx(plain_difference(one, other), abs=1e-12)
    assert difference(other, one) == pytest.approx(difference(one, other), abs=1e-12)


@given(packings(max_flaps=8, places=False), st.integers(0, 10**6))
def test_small_shifts_make_small_differences(packing, seed):
    bare = replace(packing, stress=())
    side = min(packing.sheet.width, packing.sheet.height)
    shift = np.random.default_rng(seed).uniform(-1, 1, packing.points.shape)
    shift *= 0.01 * side / np.hypot(*shift.T)[:, None]
    shifted = replace(bare, tips=tuple(map(tuple, (packing.points + shift).tolist())))
    assert difference(bare, shifted) <= 0.01 / ELSEWHERE + 1e-12


def test_a_long_flap_elsewhere_counts_by_its_length():
    flaps = (Flap("a", "x", 3), Flap("b", "x", 2), Flap("c", "x", 1))
    problem = pose(Figure("three", flaps))
    one = Packing(problem, ((0, 0), (1, 0.2), (0.4, 1)))
    other = Packing(problem, ((0, 0), (1, 0.2), (0.9, 0.9)))
    assert difference(one, other) == pytest.approx(1 / 6)


def test_flaps_loose_in_both_count_nothing():
    flaps = (Flap("a", "x", 1), Flap("b", "x", 1), Flap("c", "x", 0.1))
    problem = pose(Figure("three", flaps))
    stress = ((0, 1, 0.5),)
    one = Packing(problem, ((0, 0), (1, 1), (0.1, 0.9)), stress=stress)
    other = Packing(problem, ((0, 0), (1, 1), (0.9, 0.2)), stress=stress)
    assert difference(one, other) == 0
