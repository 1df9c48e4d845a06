"""Clutches: that breeding keeps what it says, and that what hatches is worth it."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest

from packer.local_solver.solver import LocalSolver
from packer.model.figure import Figure, Flap, River
from packer.model.problem import pose
from packer.search.memetic.preselection import screened_starts
from packer.search.memetic.relaxed_population import (
    AIM,
    APART,
    bred,
    laid,
    litter_of,
    patience_of,
    size_of,
    tasted,
)
from tests.strategies import random_figure


@pytest.fixture(scope="module")
def shop():
    return LocalSolver(pose(random_figure(6, 20, joints=6)))


@pytest.fixture(scope="module")
def best(shop):
    starts = screened_starts(shop, 0.0, 16, np.random.default_rng(0))
    return max(spot.scale for spot in shop.climb(starts))


@pytest.fixture(scope="module")
def clutches(shop, best):
    """Each generation of a clutch, until it is ripe."""
    rng = np.random.default_rng(1)
    found = [laid(shop, best, rng)]
    while not found[-1].ripe(shop.problem.tree):
        found.append(bred(shop, found[-1], rng))
    return found


def energies(shop, clutch):
    """Sum over every two tips of the square of what their path lacks at the aim, over its square."""
    distances = shop.problem.tree.distances
    for points in clutch.points:
        lack = [
            max(0.0, clutch.aim * distances[i, j] - math.dist(points[i], points[j]))
            for i, j in itertools.combinations(range(len(points)), 2)
        ]
        yield sum(x * x for x in lack) / clutch.aim**2


def test_the_energy_is_that_of_the_definition(shop, best, clutches):
    assert clutches[-1].aim == AIM * best
    expected = list(energies(shop, clutches[-1]))
    np.testing.assert_allclose(clutches[-1].energy, expected, rtol=1e-4)


def test_a_higher_scale_is_a_new_aim_for_the_same_points(shop, best, clutches):
    before = clutches[3]
    after = tasted(shop, before, 1.1 * best)
    assert after.aim == AIM * 1.1 * best
    np.testing.assert_allclose(after.energy, list(energies(shop, after)), rtol=1e-4)
    assert (np.diff(after.energy) >= 0).all()
    assert after.taste == after.energy[0]
    assert len(after.start_points) == len(before.start_points)
    # moved on by springs, but not elsewhere
    share = shop.problem.sheet.diagonal / math.sqrt(20)
    off = np.hypot(*np.moveaxis(after.points[:, None] - before.points[None], -1, 0)).max(axis=2)
    assert np.quantile(off.min(axis=1), 0.9) < share


def test_a_scale_that_is_no_higher_changes_nothing_but_the_taste(shop, best, clutches):
    before = clutches[3]
    assert before.taste == math.inf
    assert before.changed
    after = tasted(shop, before, 1.01 * best)
    assert after.start_points == before.start_points
    assert (after.aim, after.taste) == (before.aim, before.energy[0])
    assert not after.changed
    assert not replace(after, taste=1.2 * after.taste).changed
    assert replace(after, taste=1.3 * after.taste).changed


def test_a_clutch_holds_different_points_the_least_energy_first(shop, clutches):
    reach = APART * shop.problem.sheet.diagonal / math.sqrt(20)
    for clutch in clutches:
        assert (
            len(clutch.start_points)
            == len(clutch.points)
            == len(clutch.energy)
            <= size_of(shop.problem.tree)
        )
        assert (np.diff(clutch.energy) > 0).all()
        for k, start_point in enumerate(clutch.start_points):
            np.testing.assert_array_equal(shop.points(start_point), clutch.points[k])
        for one, other in itertools.combinations(clutch.points, 2):
            assert np.hypot(*(one - other).T).max() >= reach
    assert len(clutches[-1].start_points) == size_of(shop.problem.tree)


def test_energy_never_rises_and_failures_count_outcomes_without_a_fall(shop, clutches):
    litter, patience = litter_of(shop.problem.tree), patience_of(shop.problem.tree)
    for before, after in itertools.pairwise(clutches):
        assert after.energy[0] <= before.energy[0]
        fell = after.energy[0] < 0.99 * before.energy[0]
        assert after.failures == (0 if fell else before.failures + litter)
        assert before.failures < patience
    assert patience <= clutches[-1].failures < patience + litter
    assert clutches[-1].energy[0] < 0.9 * clutches[0].energy[0]


def test_what_is_bred_hatches_better_than_what_is_screened(shop, best, clutches):
    rng = np.random.default_rng(2)
    hatched = [spot.scale for spot in shop.climb(clutches[-1].start_points)]
    plain = [spot.scale for spot in shop.climb(screened_starts(shop, best, 72, rng))]
    assert np.median(hatched) > np.quantile(plain, 0.9)


def test_places_and_pairs_are_kept():
    flaps = (
        Flap("bill", "neck", 1.0, place=("edge",)),
        Flap("wing", "neck", 0.8, pair=True),
        Flap("leg", "rump", 0.6, pair=True, place=("corner",)),
        Flap("tail", "rump", 0.5),
    )
    figure = Figure("wader", flaps, (River("back", ("neck", "rump"), 0.4),), "book")
    shop, rng = LocalSolver(pose(figure)), np.random.default_rng(4)
    names, mirror = shop.problem.tree.flaps, shop.problem.mirror
    clutch = laid(shop, 0.2, rng)
    for _ in range(5):
        clutch = bred(shop, clutch, rng)
    bill = clutch.points[:, names.index("bill")]
    assert np.isclose(bill % 1, 0).any(axis=1).all()
    legs = clutch.points[:, [k for k, name in enumerate(names) if name.startswith("leg")]]
    assert np.isclose(legs % 1, 0).all()
    reflected = clutch.points[:, mirror] * (-1, 1) + (1, 0)
    np.testing.assert_allclose(reflected, clutch.points, atol=1e-6)


def test_a_clutch_of_few_flaps_stays_small():
    shop, rng = LocalSolver(pose(random_figure(2, 4, joints=2))), np.random.default_rng(3)
    clutch = laid(shop, 0.2, rng)
    while not clutch.ripe(shop.problem.tree):
        clutch = bred(shop, clutch, rng)
    assert 1 <= len(clutch.start_points) < size_of(shop.problem.tree)
