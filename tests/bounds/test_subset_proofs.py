"""Branch and bound: never excludes a packing that exists, and closes on published optima."""

from __future__ import annotations

import math
import pickle
from itertools import product
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packer.bounds.bound_params import DEFAULT
from packer.bounds.branch_and_bound import Outcome
from packer.bounds.point_spread import proven_spreads
from packer.bounds.subset_growth import SubsetGrowth
from packer.bounds.subset_proofs import _Candidate
from packer.bounds.subsets import closed_under_mirror, subproblem, subset_program
from packer.bounds.symmetry_breaking import one_of_equals
from packer.bounds.upper_bound import upper_bound
from packer.bounds.work_budget import WorkBudget
from packer.deadline import Deadline
from packer.local_solver.initial_points import fresh_points
from packer.local_solver.interior_point import maximise
from packer.local_solver.range_assignment import assigned_ranges
from packer.model.figure import Figure, Flap, River
from packer.model.packing import Packing
from packer.model.problem import pose
from packer.model.sheet import Sheet
from tests.benchmarks.bounds import excluded as excluded_by
from tests.benchmarks.bounds import program_of
from tests.published import CIRCLES_IN_HALF_SQUARES
from tests.strategies import problems, random_figure

ROOT2 = math.sqrt(2)


def star(n, sheet=None):
    flaps = tuple(Flap(f"f{k}", "hub", 1) for k in range(n))
    return pose(Figure("star", flaps, sheet=sheet))


def whole(problem):
    """The problem of all tips, the program of boxes, and the places they are held to."""
    return program_of(problem, tuple(range(problem.tree.n_tips)))


def good_end(problem, starts, seed=0):
    """The best of some ascents, each with a choice of ranges of its own, and its points."""
    rng = np.random.default_rng(seed)
    best, found = -math.inf, None
    for _ in range(starts):
        points = fresh_points(problem, rng)
        program = subset_program(
            problem, problem, tuple(range(len(points))), assigned_ranges(problem, points, rng)
        )
        end = maximise(program, program.variables(points))
        if end.scale > best:
            best, found = end.scale, program.tips(end.z)
    return best, found


def excluded(problem, target, boxes, rows=None):
    """How an attempt to exclude a scale ends."""
    return excluded_by(problem, tuple(range(problem.tree.n_tips)), target, boxes, rows)


@settings(max_examples=15)
@given(problems(max_flaps=5), st.floats(1e-9, 0.05))
def test_a_scale_that_is_reached_is_never_excluded(problem, below):
    small, _, _ = whole(problem)
    reached, _ = good_end(small, 6)
    assert not excluded(problem, reached * (1 - below), 25_000).proven


@pytest.mark.parametrize("symmetry", ["none", "book", "diagonal"])
@pytest.mark.parametrize("seed", range(6))
def test_inequalities_among_equals_leave_the_optimum_as_it_is(symmetry, seed):
    # limbs of equal lengths, so that there is much to exchange; twice as many proofs as a check:
    # with and without the inequalities the same scale is excluded or reached
    rng = np.random.default_rng(seed)
    pair = symmetry != "none"
    flaps = (
        Flap("a", "x", 1.0, pair=pair),
        Flap("b", "x", 1.0, pair=pair),
        Flap("c", "y", 1.0),
        Flap("d", "y", float(rng.choice([0.5, 1.0]))),
    )
    rivers = (River("r", ("x", "y"), float(rng.choice([0.2, 1.0]))),)
    problem = pose(Figure("equals", flaps, rivers, symmetry))
    small, program, _ = whole(problem)
    best, _ = good_end(small, 40)
    rows = one_of_equals(small, program)
    assert rows
    for over in (1.01, 1.05):
        outcomes = [excluded(problem, best * over, 1e6, r) for r in (rows, [])]
        assert outcomes[0].proven
        assert outcomes[1].proven
        assert outcomes[0].boxes <= outcomes[1].boxes
    assert not excluded(problem, best * (1 - 1e-6), 1e5).proven


def test_nothing_is_mirrored_where_one_place_is_not_like_its_image():
    """A tip near one corner leaves the others to the far sides: their mirror images are worse."""
    flaps = (
        Flap("held", "hub", 1, place=((0.2, 0.1),)),
        Flap("long", "hub", 2),
        Flap("longer", "hub", 2.5),
    )
    small, program, _ = whole(pose(Figure("lopsided", flaps)))
    _, points = good_end(small, 20)
    z = program.variables(points)
    for row in one_of_equals(small, program):
        assert np.dot(row.factors, z[list(row.variables)]) <= row.limit + 1e-9


@pytest.mark.parametrize("n", [4, 5, 6, 7])
def test_stars_are_closed_without_the_table(n):
    # half the greatest spread of n points in the square: Schaer, Melissen (see the table's proofs)
    reached = proven_spreads()[n] / 2
    assert excluded(star(n), reached * 1.002, 1e7).proven
    assert not excluded(star(n), reached * (1 - 1e-9), 1e5).proven


def test_tips_that_share_corners_are_closed_at_the_side():
    # of three corners of a square two are neighbours; anywhere on it the three tips would reach
    # sqrt 6 - sqrt 2 = 1.035 (folklore)
    flaps = tuple(Flap(f"f{k}", "hub", 0.5, place=("corner",)) for k in range(3))
    problem = pose(Figure("three corners", flaps))
    assert 1 <= upper_bound(problem, boxes=1e5).scale <= 1 + 1e-6
    assert not excluded(problem, 1 - 1e-9, 1e4).proven


@pytest.mark.parametrize("symmetry", ["none", "book"])
@pytest.mark.parametrize("seed", range(4))
def test_lists_of_points_are_closed_at_the_best_of_all_choices(symmetry, seed):
    rng = np.random.default_rng(seed)
    lists = [tuple(map(tuple, rng.random((3, 2)).round(3).tolist())) for _ in range(4)]
    if symmetry == "book":  # each twin takes its point on the left, its image that on the right
        lists = [tuple((round(x / 2, 3), y) for x, y in points) for points in lists[:3]]
    lengths = rng.uniform(0.5, 2, len(lists))
    flaps = tuple(
        Flap(f"f{k}", "hub", float(length), place=points, pair=symmetry == "book")
        for k, (length, points) in enumerate(zip(lengths, lists, strict=True))
    )
    problem = pose(Figure("points", flaps, symmetry=symmetry))
    best = 0.0
    for choice in product(range(3), repeat=len(lists)):  # every packing there is
        points = np.array([ranges[0].middle for ranges in problem.ranges])
        for k in range(len(points)):
            written = int(problem.tree.written[k][1:])
            points[k] = problem.ranges[k][choice[written]].middle
        best = max(best, Packing(problem, tuple(map(tuple, points.tolist()))).scale)
    assert best <= upper_bound(problem, boxes=2e5).scale <= best * (1 + 1e-6)


@pytest.mark.parametrize("place", ["left", "bottom left", (0.0, 0.5)])
def test_twins_whose_place_fixes_their_x_exclude_nothing_that_is_reached(place):
    # twins and two flaps on the mirror line, all of length 1: at the middles of the four sides
    # neighbours are sqrt(1/2) apart; twins in the corners leave the two on the line 5/8 of the side
    flaps = (
        Flap("twin", "hub", 1, pair=True, place=(place,)),
        Flap("head", "hub", 1),
        Flap("tail", "hub", 1),
    )
    problem = pose(Figure("kite", flaps, symmetry="book"))
    reached = 5 / 16 if place == "bottom left" else ROOT2 / 4
    assert good_end(whole(problem)[0], 20)[0] == pytest.approx(reached, rel=1e-9)
    assert not excluded(problem, reached * (1 - 1e-9), 1e5).proven
    assert not excluded(problem, reached * (1 - 1e-2), 1e5, []).proven
    assert excluded(problem, reached * (1 + 1e-6), 1e5).proven
    assert reached <= upper_bound(problem, boxes=1e5).scale <= reached * (1 + 1e-6)


@pytest.mark.parametrize("n", CIRCLES_IN_HALF_SQUARES)
def test_published_packings_of_rectangles_are_met(n):
    # n circles of radius r in 1 x 1/2 are n points at distance 2 r in (1 - 2 r) x (1/2 - 2 r)
    r = CIRCLES_IN_HALF_SQUARES[n]
    bound = upper_bound(star(n, Sheet(1 - 2 * r, 0.5 - 2 * r)), boxes=2e5)
    assert r <= bound.scale
    assert bound.scale <= r * (1.001 if n < 6 else 1.05)


@pytest.mark.parametrize("symmetry", ["none", "book", "diagonal"])
@pytest.mark.parametrize("seed", range(3))
def test_good_packings_stay_below_and_near_their_bound(symmetry, seed):
    problem = pose(random_figure(seed, 6, symmetry=symmetry, pairs=True, joints=3))
    reached, _ = good_end(whole(problem)[0], 60)
    bound = upper_bound(problem, boxes=1e5)
    assert reached <= bound.scale
    assert bound.scale <= reached * 1.5


def test_bounds_only_fall_and_end_where_the_gap_is_closed():
    flaps = (
        Flap("claw", "x", 1, pair=True),
        Flap("leg", "y", 0.8, pair=True),
        Flap("tail", "y", 1),
    )
    problem = pose(Figure("small", flaps, (River("body", ("x", "y"), 0.5),), "book"))
    _, points = good_end(problem, 30)
    packing = Packing(problem, tuple(map(tuple, points.tolist())))
    seen = []
    bound = upper_bound(problem, best=packing, boxes=2e6, report=seen.append)
    assert [b.scale for b in seen] == sorted((b.scale for b in seen), reverse=True)
    assert seen[-1] == bound
    assert packing.scale <= bound.scale <= packing.scale * (1 + 1e-6)
    assert bound.rule == "branch and bound on 5 tips"


@pytest.mark.parametrize(("proven", "share"), [(True, 0.5), (False, 1.0)])
def test_proofs_are_expected_to_be_harder_by_what_one_took_beyond_its_expectation(
    proven, share
):
    """A thousand times the boxes are ten bits, of which a success counts half."""
    subset = SubsetGrowth(star(2), None, WorkBudget(1e9)).first()
    candidate = _Candidate(subset, DEFAULT)
    target = subset.scale * 1.01
    # without a difficulty yet: `bits` are those of a distance of one
    bits = DEFAULT.bits + DEFAULT.bits_per_variable * subset.program.n_z
    expected = bits - DEFAULT.bits_per_distance * math.log2(0.01)
    growth = SimpleNamespace(second_look=lambda subset: subset)
    outcome = Outcome(proven, round(2 ** (expected + 10)))
    candidate.learn(outcome, target, growth)
    assert candidate.difficulty == pytest.approx(10 * share, abs=1e-2)


class Asked:
    """Says stop at the n-th time it is asked, and counts."""

    def __init__(self, n):
        self.left = n

    def __call__(self):
        self.left -= 1
        return self.left <= 0


@pytest.mark.parametrize("n", [1, 20])
def test_stopping_ends_the_work(n):
    asked = Asked(n)
    upper_bound(pose(random_figure(1, 14)), stop=asked)  # without it, for ever
    assert -3 <= asked.left <= 0  # each loop that is left asks once more


def test_work_counted_in_boxes_repeats():
    problem = pose(random_figure(5, 7, joints=3))
    seen = [], []
    for found in seen:
        upper_bound(problem, boxes=1e5, report=found.append)
    assert seen[0] == seen[1]
    assert len(seen[0]) > 1


def test_the_work_can_be_sent_to_another_process():
    problem = pose(random_figure(2, 5))
    again = pickle.loads(pickle.dumps(problem))
    assert upper_bound(again, Deadline.after(0)) == upper_bound(problem, Deadline.after(0))


@given(problems(max_flaps=8), st.integers(0, 10**6))
def test_a_subproblem_keeps_the_distances_and_the_pairs(problem, seed):
    tree = problem.tree
    rng = np.random.default_rng(seed)
    tips = closed_under_mirror(problem, rng.choice(tree.n_tips, 2, replace=False).tolist())
    small = subproblem(problem, tips)
    assert small.tree.flaps == tuple(tree.flaps[k] for k in tips)
    np.testing.assert_allclose(small.tree.distances, tree.distances[np.ix_(tips, tips)])
    assert [tips[k] for k in small.mirror] == problem.mirror[list(tips)].tolist()
