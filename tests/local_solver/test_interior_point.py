"""A result is a local optimum: no step improves it, forces balance, costs are derivatives."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest
from scipy.optimize import minimize

from packer import deadline
from packer.local_solver.interior_point import maximise, polish
from packer.local_solver.nonlinear_program import compile_program
from packer.local_solver.params import POLISHING, WARM, InitialIterate, Termination
from packer.model.figure import Figure, Flap
from packer.model.problem import pose
from packer.search.options import SearchOptions
from packer.search.pack import pack
from packer.search.stopping import MaxStarts
from tests.conftest import Ticks
from tests.strategies import random_figure

CASES = [random_figure(11, 6), random_figure(12, 7, joints=3), random_figure(13, 7, joints=4)]


@lru_cache
def packed(case):
    """The packing of a case, which several tests look at."""
    return pack(CASES[case], options=SearchOptions(stop=MaxStarts(1), workers=1))


def slsqp(problem, points, scale):
    """Return the scale that scipy's SLSQP climbs to from some points, all pairs constrained."""
    n, d = len(points), problem.tree.distances
    i, j = np.triu_indices(n, 1)

    def slack(v):
        p = v[:-1].reshape(n, 2)
        return np.hypot(*(p[i] - p[j]).T) - v[-1] * d[i, j]

    def slope(v):
        p = v[:-1].reshape(n, 2)
        unit = (p[i] - p[j]) / np.hypot(*(p[i] - p[j]).T)[:, None]
        rows = np.zeros((len(i), 2 * n + 1))
        k = np.arange(len(i))
        rows[k, 2 * i], rows[k, 2 * i + 1] = unit.T
        rows[k, 2 * j], rows[k, 2 * j + 1] = -unit.T
        rows[:, -1] = -d[i, j]
        return rows

    end = minimize(
        lambda v: -v[-1],
        np.append(points.ravel(), scale),
        jac=lambda v: -np.eye(len(v))[-1],
        bounds=[(0, problem.sheet.width), (0, problem.sheet.height)] * n + [(0, None)],
        constraints={"type": "ineq", "fun": slack, "jac": slope},
        method="SLSQP",
        options={"ftol": 1e-15, "maxiter": 500},
    )
    p = end.x[:-1].reshape(n, 2)
    return float((np.hypot(*(p[i] - p[j]).T) / d[i, j]).min())


@pytest.mark.parametrize("case", range(len(CASES)))
def test_an_independent_solver_finds_no_improving_step(case):
    packing = packed(case)
    found = slsqp(packing.problem, packing.points, packing.scale)
    assert found <= packing.scale * (1 + 1e-9)


@pytest.mark.parametrize("seed", range(5))
def test_the_local_solver_climbs_where_an_independent_one_does(seed):
    # near an optimum both must end on it; the start is a shaken optimum
    problem = pose(CASES[1])
    rng = np.random.default_rng(seed)
    program = compile_program(problem, (0,) * problem.tree.n_tips)
    top = maximise(program, program.variables(rng.random((problem.tree.n_tips, 2))))
    top = polish(program, top.z, top.change)
    shaken = program.tips(top.z) + 1e-4 * rng.standard_normal((problem.tree.n_tips, 2))
    again = maximise(program, program.variables(shaken), initial=POLISHING)
    assert again.scale == pytest.approx(top.scale, rel=1e-9)
    assert slsqp(problem, np.clip(shaken, 0, 1), top.scale * 0.99) == pytest.approx(
        top.scale, rel=1e-7
    )


def test_a_balanced_saddle_is_left():
    # Three equal flaps in three corners satisfy the first-order conditions with scale 1/2 and are
    # no local optimum; the best is (sqrt 6 - sqrt 2) / 2.
    problem = pose(Figure("trap", tuple(Flap(f"f{k}", "hub", 1.0) for k in range(3))))
    program = compile_program(problem, (0, 0, 0))
    corners = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]])
    end = maximise(program, program.variables(corners))
    assert end.scale == pytest.approx((6**0.5 - 2**0.5) / 2, rel=1e-9)


@pytest.mark.parametrize("case", range(len(CASES)))
def test_forces_balance_at_every_tip(case):
    packing = packed(case)
    p, force, total = packing.points, np.zeros((len(packing.tips), 2)), 0.0
    for i, j, multiplier in packing.stress:
        unit = (p[i] - p[j]) / np.hypot(*(p[i] - p[j]))
        force[i] += multiplier * unit
        force[j] -= multiplier * unit
        total += multiplier * packing.distances[i, j]
    assert total == pytest.approx(1, rel=1e-9)
    low, high = p < 1e-9, p > 1 - 1e-9
    assert (force[low] < 1e-9).all()
    assert (force[high] > -1e-9).all()
    assert np.abs(force[~low & ~high]).max(initial=0) < 1e-9


@pytest.mark.parametrize("case", range(len(CASES)))
def test_costs_are_the_derivatives_of_the_best_scale(case):
    # lengthen each part a little, climb again from the same tips, and compare
    packing = packed(case)
    step = 1e-5
    for name, cost in packing.costs.items():
        scales = [_again(packing, CASES[case], name, sign * step) for sign in (-1, 1)]
        ends = sorted([(packing.scale - scales[0]) / step, (scales[1] - packing.scale) / step])
        slack = 1e-3 * max(map(abs, packing.costs.values()))
        assert ends[0] - slack <= cost <= ends[1] + slack, name


def _again(packing, figure, name, change):
    longer = replace(
        figure,
        flaps=tuple(
            replace(f, length=f.length + change * (f.name == name)) for f in figure.flaps
        ),
        rivers=tuple(
            replace(r, length=r.length + change * (r.name == name)) for r in figure.rivers
        ),
    )
    problem = pose(longer, packing.sheet)
    program = compile_program(problem, (0,) * problem.tree.n_tips)
    return maximise(
        program,
        program.variables(packing.points),
        initial=InitialIterate(0.999, 0.001),
        termination=Termination(1e-13),
    ).scale


def test_a_large_solve_ends_at_its_deadline_with_a_packing(monkeypatch):
    """One reading of the clock a step; every iterate is feasible, so the scale rises from the start."""
    problem = pose(random_figure(5, 40, joints=9))
    program = compile_program(problem, (0,) * problem.tree.n_tips)
    z = np.random.default_rng(1).uniform(0.1, 0.9, program.n_z)
    before = program.scale(z, np.zeros(0))
    scales = []
    for steps in (0, 3, 9):
        monkeypatch.setattr(deadline, "monotonic", Ticks(1.0))
        last = Termination(deadline=deadline.Deadline.after(steps + 1))
        end = maximise(program, z, initial=WARM, termination=last)
        assert end.steps == steps
        scales.append(end.scale)
    assert before * 0.9 < scales[0] < scales[1] < scales[2]
    points = program.tips(end.z)
    i, j = np.triu_indices(len(points), 1)
    ratios = np.hypot(*(points[i] - points[j]).T) / problem.tree.distances[i, j]
    assert ratios.min() == pytest.approx(end.scale, rel=1e-12)
