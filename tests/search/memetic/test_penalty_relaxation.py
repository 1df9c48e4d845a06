"""Penalty relaxation: penalty and descent, by the definition and by SciPy's finite differences."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import approx_fprime

from packer.local_solver.flexible_lengths import flexible
from packer.local_solver.nonlinear_program import compile_program
from packer.local_solver.range_assignment import assigned_ranges
from packer.model.problem import pose
from packer.search.memetic import penalty_relaxation as module
from packer.search.memetic.memetic_params import RelaxationParams
from packer.search.memetic.penalty_relaxation import penalty_relaxation_of
from tests.strategies import random_figure

PARAMS = RelaxationParams()
SYMMETRIES = ["none", "book", "diagonal"]


def plain_penalty(problem, points, lengths, scale):
    """The slow reference: every pair of tips by itself, as lengths in the figure's unit."""
    d = problem.tree.distances_with(lengths)
    total = 0.0
    for i in range(len(points)):
        for j in range(i + 1, len(points)):
            total += max(0.0, d[i, j] - np.hypot(*(points[i] - points[j])) / scale) ** 2
    return total


@pytest.fixture(params=SYMMETRIES)
def program(request):
    figure = random_figure(
        3, 9, joints=3, symmetry=request.param, pairs=request.param != "none"
    )
    problem = pose(figure)
    rng = np.random.default_rng(1)
    points = rng.random((problem.tree.n_tips, 2))
    return compile_program(problem, assigned_ranges(problem, points, rng))


def points_in(program, count, seed=0):
    rng = np.random.default_rng(seed)
    return program.lower + rng.random((count, program.n_z)) * (program.upper - program.lower)


@pytest.mark.parametrize("scale", [0.01, 0.05, 0.2])
def test_the_energy_is_that_of_every_pair(program, scale):
    z = points_in(program, 5)
    at, penalty = penalty_relaxation_of(program).relax(
        z, np.zeros((5, 0)), np.full(5, scale), 0, PARAMS
    )
    assert at == pytest.approx(z, abs=1e-7)
    problem = program.problem
    for row, found in zip(z, penalty, strict=True):
        plain = plain_penalty(problem, program.tips(row), problem.tree.lengths, scale)
        assert found == pytest.approx(plain, rel=1e-4, abs=1e-9)


def test_the_first_step_goes_straight_downhill(program):
    """Each coordinate goes down its own slope, and mirrored ones by their mean."""
    z = program.lower + (0.3 + 0.4 * points_in(program, 1)) * (program.upper - program.lower)
    scale, problem = 0.04, program.problem
    at, _ = penalty_relaxation_of(program).relax(
        z, np.zeros((1, 0)), np.array([scale]), 1, PARAMS
    )

    def penalty(row):
        lengths = problem.tree.lengths
        return scale**2 * plain_penalty(problem, program.tips(row), lengths, scale) / 2

    slope = approx_fprime(z[0], penalty, 1e-6)
    stands_for = np.zeros(program.n_z)
    for axis in (0, 1):
        for tip in range(problem.tree.n_tips):
            if program.sign[axis, tip]:
                stands_for[program.index[axis, tip]] += 1
    assert (at - z)[0] == pytest.approx(-PARAMS.step * slope / stands_for, abs=2e-6)


def test_points_come_to_rest_within_the_bounds_and_with_less_energy(program):
    z, scale = points_in(program, 20), np.full(20, 0.06)
    _, before = penalty_relaxation_of(program).relax(z, np.zeros((20, 0)), scale, 0, PARAMS)
    at, after = penalty_relaxation_of(program).relax(z, np.zeros((20, 0)), scale, 25, PARAMS)
    assert (after < before).all()
    assert np.median(after / before) < 0.3
    assert (at >= program.lower - 1e-6).all()
    assert (at <= program.upper + 1e-6).all()


def test_points_whose_paths_are_long_enough_stay(program):
    z = points_in(program, 4)
    least = np.array([program.scale(row, np.zeros(0)) for row in z])
    at, penalty = penalty_relaxation_of(program).relax(
        z, np.zeros((4, 0)), 0.99 * least, 25, PARAMS
    )
    assert (penalty == 0).all()
    assert at == pytest.approx(z, abs=1e-7)


def test_points_do_not_depend_on_what_is_moved_beside_them(program, monkeypatch):
    z, scale = points_in(program, 7), np.linspace(0.03, 0.08, 7)
    whole = penalty_relaxation_of(program).relax(z, np.zeros((7, 0)), scale, 25, PARAMS)
    monkeypatch.setattr(module, "AT_ONCE", 2 * program.problem.tree.n_tips**2)
    parts = penalty_relaxation_of(program).relax(z, np.zeros((7, 0)), scale, 25, PARAMS)
    assert parts[0] == pytest.approx(whole[0], abs=1e-5)
    assert parts[1] == pytest.approx(whole[1], rel=1e-3, abs=1e-6)


def test_changed_lengths_are_those_asked_for():
    problem = pose(random_figure(5, 8, joints=3).with_flex(0.2))
    rng = np.random.default_rng(2)
    program = compile_program(problem, assigned_ranges(problem, rng.random((8, 2)), rng))
    z = points_in(program, 3)
    change = 0.1 * rng.standard_normal((3, program.n_w))
    _, penalty = penalty_relaxation_of(program).relax(z, change, np.full(3, 0.05), 0, PARAMS)
    for row, w, found in zip(z, change, penalty, strict=True):
        lengths = flexible(problem.tree).lengths(problem.tree.lengths, w)
        plain = plain_penalty(problem, program.tips(row), lengths, 0.05)
        assert found == pytest.approx(plain, rel=1e-4)


def test_tips_on_one_point_make_no_trouble(program):
    z = np.repeat((program.lower + program.upper)[None] / 2, 2, axis=0)
    at, penalty = penalty_relaxation_of(program).relax(
        z, np.zeros((2, 0)), np.full(2, 0.05), 25, PARAMS
    )
    assert np.isfinite(at).all()
    assert np.isfinite(penalty).all()
