"""Novelty: what is near a known packing, by the definition itself, and that broods lose nothing."""

from __future__ import annotations

import numpy as np
import pytest

from packer.local_solver.solver import LocalSolver
from packer.model.problem import pose
from packer.search.memetic.duplicates import NEAR, known_packings
from packer.search.memetic.preselection import screened_starts
from packer.search.memetic.run import SearchGoal, begin, broods_of, stepped
from tests.strategies import random_figure


@pytest.fixture(scope="module", params=["none", "book", "diagonal"])
def shop(request):
    symmetry = request.param
    figure = random_figure(6, 12, joints=4, symmetry=symmetry, pairs=symmetry != "none")
    return LocalSolver(pose(figure))


@pytest.fixture(scope="module")
def spots(shop):
    rng = np.random.default_rng(2)
    return shop.climb(screened_starts(shop, 0.0, 5, rng))


def test_loose_tips_are_those_farther_from_all_others_than_they_need(shop, spots):
    known, d = known_packings(shop, spots), shop.problem.tree.distances
    for spot, held in zip(spots, known.held, strict=True):
        points = shop.points(spot)
        for tip in range(len(points)):
            away = np.hypot(*(points - points[tip]).T)
            others = np.arange(len(points)) != tip
            tight = (away[others] / d[tip, others]).min() <= spot.scale * (1 + 1.5e-7)
            assert held[tip] == tight


def test_only_what_moves_a_held_tip_far_leads_away(shop, spots):
    rng = np.random.default_rng(4)
    spot = spots[0]
    known, points = known_packings(shop, [spot]), shop.points(spot)
    reach = NEAR * shop.problem.sheet.diagonal / np.sqrt(len(points))
    assert known.near(points[None]).all()
    for tip in range(len(points)):
        angle = rng.uniform(0, 2 * np.pi)
        step = np.array([np.cos(angle), np.sin(angle)])
        for share, near in ((0.99, True), (1.01, not known.held[0, tip])):
            moved = points.copy()
            moved[tip] += share * reach * step
            assert known.near(moved[None])[0] == near


def test_no_brood_makes_the_best_worse():
    quest = SearchGoal(pose(random_figure(3, 8, joints=3)))
    walk, best, broods = begin(1, 0), 0.0, []
    while not walk.done:
        walk = stepped(quest, walk)
        assert walk.best.scale >= best
        best = walk.best.scale
        broods.append(walk.broods)
    assert broods == sorted(broods)
    assert broods[-1] == broods_of(quest.problem.tree) == 10
    # the end of the walk is its best: nothing is left behind with an elder
    assert walk.spots[0].scale == best
