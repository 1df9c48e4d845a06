"""Relaxed populations: that generations keep what they say, and that the survivors are worth it."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest

from packer.local_solver.solver import LocalSolver
from packer.model.figure import Figure, Flap, River
from packer.model.problem import pose
from packer.search.memetic.memetic_params import MemeticParams
from packer.search.memetic.preselection import preselected_starts
from packer.search.memetic.relaxed_population import (
    _relaxed,
    first_relaxed,
    has_changed,
    is_ripe,
    next_relaxed,
    probed,
)
from tests.strategies import random_figure

PARAMS = MemeticParams()


@pytest.fixture(scope="module")
def solver():
    return LocalSolver(pose(random_figure(6, 20, joints=6)))


@pytest.fixture(scope="module")
def best(solver):
    starts = preselected_starts(solver, 0.0, 16, PARAMS, np.random.default_rng(0))
    return max(optimum.scale for optimum in solver.solve(starts))


@pytest.fixture(scope="module")
def generations(solver, best):
    """Each generation of a relaxed population, until it is ripe."""
    rng = np.random.default_rng(1)
    found = [first_relaxed(solver, best, PARAMS, rng)]
    while not is_ripe(found[-1], solver, PARAMS):
        found.append(next_relaxed(solver, found[-1], PARAMS, rng))
    return found


def penalties(solver, relaxed):
    """Sum over every two tips of the square by which their path is too short at the target, over its square."""
    distances = solver.problem.tree.distances
    for points in relaxed.points:
        lack = [
            max(0.0, relaxed.target * distances[i, j] - math.dist(points[i], points[j]))
            for i, j in itertools.combinations(range(len(points)), 2)
        ]
        yield sum(x * x for x in lack) / relaxed.target**2


def test_a_packing_of_the_target_alone_has_no_penalty():
    """Three equal flaps in three corners: all paths are long enough for half a side each."""
    flaps = tuple(Flap(name, "hub", 1.0) for name in "abc")
    small = LocalSolver(pose(Figure("three", flaps)))
    corners = np.array([(0.0, 0.0), (1.0, 0.0), (0.0, 1.0)])
    start = small.start_point(corners, np.random.default_rng(0))
    (end,), penalty = _relaxed(small, [start], 0.49, 5, PARAMS)
    assert penalty == pytest.approx([0.0], abs=1e-12)
    np.testing.assert_allclose(small.points(end), corners, atol=1e-6)


def test_the_penalty_is_that_of_the_definition(solver, best, generations):
    assert generations[-1].target == PARAMS.relaxed.target * best
    expected = list(penalties(solver, generations[-1]))
    np.testing.assert_allclose(generations[-1].penalty, expected, rtol=1e-4)


def test_a_higher_scale_is_a_new_target_for_the_same_points(solver, best, generations):
    before = generations[3]
    after = probed(solver, before, 1.1 * best, PARAMS)
    assert after.target == PARAMS.relaxed.target * 1.1 * best
    np.testing.assert_allclose(after.penalty, list(penalties(solver, after)), rtol=1e-4)
    assert (np.diff(after.penalty) >= 0).all()
    assert after.probed == after.penalty[0]
    assert len(after.start_points) == len(before.start_points)
    # moved on by the penalty, but not elsewhere
    share = solver.problem.sheet.diagonal / math.sqrt(20)
    off = np.hypot(*np.moveaxis(after.points[:, None] - before.points[None], -1, 0)).max(axis=2)
    assert np.quantile(off.min(axis=1), 0.9) < share


def test_a_scale_that_is_no_higher_changes_nothing_but_the_probe(solver, best, generations):
    before = generations[3]
    assert before.probed == math.inf
    assert has_changed(before, PARAMS)
    after = probed(solver, before, 1.01 * best, PARAMS)
    assert after.start_points == before.start_points
    assert (after.target, after.probed) == (before.target, before.penalty[0])
    assert not has_changed(after, PARAMS)
    assert not has_changed(replace(after, probed=1.2 * after.probed), PARAMS)
    assert has_changed(replace(after, probed=1.3 * after.probed), PARAMS)


def test_a_relaxed_population_holds_different_points_the_least_penalty_first(
    solver, generations
):
    radius = PARAMS.relaxed.distance * solver.problem.sheet.diagonal / math.sqrt(20)
    for relaxed in generations:
        assert (
            len(relaxed.start_points)
            == len(relaxed.points)
            == len(relaxed.penalty)
            <= PARAMS.relaxed.size_for(solver.problem.tree)
        )
        assert (np.diff(relaxed.penalty) > 0).all()
        for k, start_point in enumerate(relaxed.start_points):
            np.testing.assert_array_equal(solver.points(start_point), relaxed.points[k])
        for one, other in itertools.combinations(relaxed.points, 2):
            assert np.hypot(*(one - other).T).max() >= radius
    assert len(generations[-1].start_points) == PARAMS.relaxed.size_for(solver.problem.tree)


def test_penalty_never_rises_and_failures_count_offspring_without_a_fall(solver, generations):
    offspring_count, patience = (
        PARAMS.relaxed.offspring_for(solver.problem.tree),
        PARAMS.relaxed.patience_for(solver.problem.tree),
    )
    for before, after in itertools.pairwise(generations):
        assert after.penalty[0] <= before.penalty[0]
        fell = after.penalty[0] < 0.99 * before.penalty[0]
        assert after.failures == (0 if fell else before.failures + offspring_count)
        assert before.failures < patience
    assert patience <= generations[-1].failures < patience + offspring_count
    assert generations[-1].penalty[0] < 0.9 * generations[0].penalty[0]


def test_what_evolved_leads_higher_than_what_is_preselected(solver, best, generations):
    rng = np.random.default_rng(2)
    released = [optimum.scale for optimum in solver.solve(generations[-1].start_points)]
    plain = [
        optimum.scale
        for optimum in solver.solve(preselected_starts(solver, best, 72, PARAMS, rng))
    ]
    assert np.median(released) > np.quantile(plain, 0.9)


def test_places_and_pairs_are_kept():
    flaps = (
        Flap("bill", "neck", 1.0, place=("edge",)),
        Flap("wing", "neck", 0.8, pair=True),
        Flap("leg", "rump", 0.6, pair=True, place=("corner",)),
        Flap("tail", "rump", 0.5),
    )
    figure = Figure("wader", flaps, (River("back", ("neck", "rump"), 0.4),), "book")
    solver, rng = LocalSolver(pose(figure)), np.random.default_rng(4)
    names, mirror = solver.problem.tree.flaps, solver.problem.mirror
    relaxed = first_relaxed(solver, 0.2, PARAMS, rng)
    for _ in range(5):
        relaxed = next_relaxed(solver, relaxed, PARAMS, rng)
    bill = relaxed.points[:, names.index("bill")]
    assert np.isclose(bill % 1, 0).any(axis=1).all()
    legs = relaxed.points[:, [k for k, name in enumerate(names) if name.startswith("leg")]]
    assert np.isclose(legs % 1, 0).all()
    reflected = relaxed.points[:, mirror] * (-1, 1) + (1, 0)
    np.testing.assert_allclose(reflected, relaxed.points, atol=1e-6)


def test_a_relaxed_population_of_few_flaps_stays_small():
    solver, rng = LocalSolver(pose(random_figure(2, 4, joints=2))), np.random.default_rng(3)
    relaxed = first_relaxed(solver, 0.2, PARAMS, rng)
    while not is_ripe(relaxed, solver, PARAMS):
        relaxed = next_relaxed(solver, relaxed, PARAMS, rng)
    assert 1 <= len(relaxed.start_points) < PARAMS.relaxed.size_for(solver.problem.tree)
