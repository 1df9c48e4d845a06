"""Duplicates: what is near a known packing, by the definition, and that epochs lose nothing."""

from __future__ import annotations

import numpy as np
import pytest

from packer.local_solver.solver import LocalSolver
from packer.model.problem import pose
from packer.search.memetic.duplicates import known_packings
from packer.search.memetic.memetic_params import MemeticParams
from packer.search.memetic.preselection import preselected_starts
from packer.search.memetic.run import SearchGoal, begin, stepped
from tests.strategies import random_figure

PARAMS = MemeticParams()


@pytest.fixture(scope="module", params=["none", "book", "diagonal"])
def solver(request):
    symmetry = request.param
    figure = random_figure(6, 12, joints=4, symmetry=symmetry, pairs=symmetry != "none")
    return LocalSolver(pose(figure))


@pytest.fixture(scope="module")
def optima(solver):
    rng = np.random.default_rng(2)
    return solver.solve(preselected_starts(solver, 0.0, 5, PARAMS, rng))


def test_rattlers_are_those_farther_from_all_others_than_they_need(solver, optima):
    known, d = known_packings(solver, optima, 0.4), solver.problem.tree.distances
    for optimum, held in zip(optima, known.held, strict=True):
        points = solver.points(optimum)
        for tip in range(len(points)):
            away = np.hypot(*(points - points[tip]).T)
            others = np.arange(len(points)) != tip
            tight = (away[others] / d[tip, others]).min() <= optimum.scale * (1 + 1.5e-7)
            assert held[tip] == tight


def test_only_what_moves_a_held_tip_far_leads_away(solver, optima):
    rng = np.random.default_rng(4)
    optimum = optima[0]
    known, points = known_packings(solver, [optimum], 0.4), solver.points(optimum)
    radius = 0.4 * solver.problem.sheet.diagonal / np.sqrt(len(points))
    assert known.near(points[None]).all()
    for tip in range(len(points)):
        angle = rng.uniform(0, 2 * np.pi)
        step = np.array([np.cos(angle), np.sin(angle)])
        for share, near in ((0.99, True), (1.01, not known.held[0, tip])):
            moved = points.copy()
            moved[tip] += share * radius * step
            assert known.near(moved[None])[0] == near


def test_no_batch_of_offspring_makes_the_best_worse():
    goal = SearchGoal(pose(random_figure(3, 8, joints=3)))
    run, best, epochs = begin(1, 0), 0.0, []
    while not run.done:
        run = stepped(goal, run)
        assert run.best.scale >= best
        best = run.best.scale
        epochs.append(run.epoch)
    assert epochs == sorted(epochs)
    assert epochs[-1] == PARAMS.epochs_for(goal.problem.tree) == 10
    # the last epoch holds the best of all: nothing is left behind with the elite
    assert run.population[0].scale == best
