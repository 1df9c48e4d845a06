"""Preselection: that it picks among starts and offspring as it says."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from packer.local_solver.initial_points import lattice_points
from packer.local_solver.solver import LocalSolver
from packer.model.figure import Figure, Flap
from packer.model.problem import pose
from packer.model.sheet import Sheet
from packer.search.memetic.duplicates import KnownPackings, known_packings
from packer.search.memetic.memetic_params import MemeticParams, PreselectionParams
from packer.search.memetic.preselection import preselected_offspring, preselected_starts
from packer.search.memetic.run import SearchGoal, begin, stepped
from tests.strategies import random_figure

PARAMS = MemeticParams()


@pytest.fixture(scope="module")
def solver():
    return LocalSolver(pose(random_figure(6, 20, joints=6)))


@pytest.fixture(scope="module")
def optima(solver):
    run, goal = begin(3, 0), SearchGoal(solver.problem)
    for _ in range(8):
        run = stepped(goal, run)
    return run.population


def test_more_starts_are_proposed_than_wanted_once_there_is_a_scale(solver, optima):
    rng = np.random.default_rng(0)
    best = optima[0].scale
    plain = [
        optimum.scale
        for optimum in solver.solve(preselected_starts(solver, 0.0, 30, PARAMS, rng))
    ]
    chosen = [
        optimum.scale
        for optimum in solver.solve(preselected_starts(solver, best, 30, PARAMS, rng))
    ]
    assert len(plain) == len(chosen) == 30
    assert np.median(chosen) > np.quantile(plain, 0.7)


def test_what_is_chosen_lies_near_nothing_known_and_its_parents_are_told(solver, optima):
    rng = np.random.default_rng(1)
    known = known_packings(solver, optima, 0.4)
    parents, starts = preselected_offspring(solver, optima, known, 10, PARAMS, rng)
    assert len(parents) == len(starts) == 10
    assert all(parent in optima for parent in parents)
    points = np.stack([solver.points(start) for start in starts])
    assert not known.near(points).any()


def test_chosen_offspring_improve_more_often_than_any(solver, optima):
    known, rng = known_packings(solver, optima, 0.4), np.random.default_rng(2)

    def share(params):
        parents, starts = preselected_offspring(solver, optima, known, 60, params, rng)
        found = solver.solve(starts, parents)
        return np.mean([a.scale > b.scale for a, b in zip(found, parents, strict=True)])

    without = replace(PARAMS, preselection=PreselectionParams(offspring=1))
    assert share(PARAMS) > 1.5 * share(without)


def test_one_offspring_is_solved_even_where_everything_is_known(solver, optima):
    known = known_packings(solver, optima, 0.4)
    everything = KnownPackings(known.points, np.zeros_like(known.held), known.radius)
    parents, starts = preselected_offspring(
        solver, optima, everything, 4, PARAMS, np.random.default_rng(5)
    )
    assert len(parents) == len(starts) == 1


def test_offspring_of_other_ranges_are_compared_with_each_other():
    """Tips on corners and edges: programs differ, and each start keeps its own."""
    flaps = [Flap(f"f{k}", "hub", 1.0, place=("edge", "middle")) for k in range(7)]
    solver, rng = LocalSolver(pose(Figure("star", tuple(flaps)))), np.random.default_rng(0)
    starts = preselected_starts(solver, 0.3, 6, PARAMS, rng)
    assert len({start.choice for start in starts}) > 1
    for start in starts:
        program = solver.program(start.choice)
        assert len(start.z) == program.n_z
        assert (start.z >= program.lower - 1e-6).all()


@pytest.mark.parametrize("sheet", [Sheet(1, 1), Sheet(3, 1), Sheet(1, 40)])
@pytest.mark.parametrize("n", [2, 3, 17, 100])
def test_lattice_points_fill_the_sheet_evenly(sheet, n):
    figure = Figure("star", tuple(Flap(f"f{k}", "hub", 1.0) for k in range(n)))
    problem = pose(figure, sheet)
    rng = np.random.default_rng(n)
    for _ in range(5):
        points = lattice_points(problem, rng)
        assert points.shape == (n, 2)
        assert np.isfinite(points).all()
        stray = 0.05 * sheet.diagonal / np.sqrt(n) * 6
        assert (points > -stray).all()
        assert (points < np.array([sheet.width, sheet.height]) + stray).all()
        if n == 100 and sheet.is_square:
            # four quarters of the sheet hold about as many each
            counts = np.histogram2d(*points.T, bins=[[-1, 0.5, 2], [-1, 0.5, 2]])[0]
            assert counts.min() >= 14
