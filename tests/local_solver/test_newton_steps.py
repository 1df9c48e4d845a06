"""One step of the local solver against NumPy's dense solver and SciPy's finite differences."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import approx_fprime

from packer.errors import OptionError
from packer.local_solver.interior_point import maximise_batch, polish
from packer.local_solver.newton_steps import NewtonSteps
from packer.local_solver.nonlinear_program import compile_program
from packer.local_solver.normal_equations import NormalEquations
from packer.local_solver.params import POLISHING, WARM, InitialIterate, InteriorPointParams
from packer.local_solver.range_assignment import assigned_ranges
from packer.model.figure import Figure, Flap
from packer.model.problem import pose
from tests.strategies import random_figure


def program_of(figure, seed=1):
    problem = pose(figure)
    rng = np.random.default_rng(seed)
    points = rng.random((problem.tree.n_tips, 2)) * [problem.sheet.width, problem.sheet.height]
    return compile_program(problem, assigned_ranges(problem, points, rng))


def within(program, count, seed=0):
    rng = np.random.default_rng(seed)
    share = 0.1 + 0.8 * rng.random((count, program.n_z))
    return program.lower + share * (program.upper - program.lower)


FIGURES = {
    "plain": random_figure(3, 9, joints=3),
    "book": random_figure(3, 9, joints=3, symmetry="book", pairs=True),
    "diagonal": random_figure(3, 9, joints=3, symmetry="diagonal", pairs=True),
    "flexible": random_figure(5, 8, joints=3).with_flex(0.2),
}


def all_slacks(program):
    """Return the function from (z, w, m) to all slacks of a program: paths, rows, bounds."""

    def slacks(v):
        z, w, m = v[: program.n_z], v[program.n_z : -1], v[-1]
        p = program.tips(z)
        length = np.hypot(*(p[program.first] - p[program.second]).T)
        return np.concatenate(
            [
                length - m * program.distance + program.bend @ w,
                program.rows @ v[:-1] + program.row_offset + m * program.row_scale,
                z - program.lower,
                program.upper - z,
            ]
        )

    return slacks


@pytest.mark.parametrize("name", FIGURES)
def test_a_step_solves_the_normal_equations_of_each_solve(name):
    """Three solves with other paths each: sum stiff a a^T delta = e_m + sum pull a, as in Wright."""
    program = program_of(FIGURES[name])
    rng = np.random.default_rng(2)
    z, m = within(program, 3), np.array([0.02, 0.03, 0.04])
    w = 0.01 * rng.standard_normal((3, program.n_w))
    near = rng.random((3, len(program.first))) < 0.6
    near[:, 0] = True
    working = NormalEquations(program).working_set(near)
    p = np.stack([program.tips(row) for row in z])
    solve, pair = np.nonzero(near)
    gap = p[solve, program.first[pair]] - p[solve, program.second[pair]]
    unit = (gap / np.hypot(*gap.T)[:, None]).T
    pull, stiff = rng.random((2, len(working.owner))) + 0.1
    found = NormalEquations(program).solve(working, unit, pull, stiff)
    pairs = len(program.first)
    for k in range(3):
        at = np.concatenate([z[k], w[k], [m[k]]])
        slope = approx_fprime(at, all_slacks(program), 1e-7)
        entering = np.concatenate([np.flatnonzero(near[k]), np.arange(pairs, len(slope))])
        a, mine = slope[entering], working.owner == k
        matrix = a.T @ (stiff[mine][:, None] * a)
        right = np.eye(len(at))[-1] + a.T @ pull[mine]
        assert found[k] == pytest.approx(np.linalg.solve(matrix, right), rel=1e-4, abs=1e-6)


@pytest.mark.parametrize("name", FIGURES)
def test_slacks_and_their_slopes_are_those_of_the_program(name):
    program = program_of(FIGURES[name])
    z = within(program, 3)
    rng = np.random.default_rng(4)
    change = 0.02 * rng.standard_normal((3, program.n_w))
    steps = NewtonSteps(program, InteriorPointParams())
    at, _ = steps.first(z, change, InitialIterate(0.9, 1.0))
    delta = 1e-6 * rng.standard_normal((3, program.n_z + program.n_w + 1))
    slopes = steps.slopes(at, delta)
    for k in range(3):
        here = np.concatenate([at.z[k], at.w[k], [at.m[k]]])
        slacks = all_slacks(program)
        mine = at.working.owner == k
        assert at.slack[mine] == pytest.approx(slacks(here), rel=1e-9)
        change = slacks(here + delta[k]) - slacks(here)
        assert slopes[mine] == pytest.approx(change, rel=1e-3, abs=1e-10)


@pytest.fixture(scope="module")
def star():
    flaps = tuple(Flap(f"f{k}", "hub", 1.0) for k in range(40))
    return program_of(Figure("star", flaps))


def test_a_tip_that_would_land_on_a_path_outside_the_working_set_is_held_back(star):
    z = star.variables(np.random.default_rng(3).random((40, 2)))
    end = maximise_batch(star, z[None], np.zeros((1, 0)))[0]
    steps = NewtonSteps(star, InteriorPointParams())
    at, _ = steps.first(end.z[None], np.zeros((1, 0)), WARM)
    p = star.tips(at.z[0])
    far = int(np.argmax(np.hypot(*(p - p[0]).T)))
    pair = (star.first == 0) & (star.second == far)
    assert not at.near[0, pair].any()
    delta = np.zeros((1, star.n_z + 1))
    delta[0, star.index[:, 0]] = (p[far] - p[0]) * star.sign[:, 0]
    after, up = steps.moved(at, delta, np.ones(1))
    assert 0 < up[0] < 1
    assert star.scale(after.z[0], np.zeros(0)) >= after.m[0] * (1 - 1e-9)
    assert after.z == pytest.approx(at.z + up[0] * delta[:, :-1])


def test_near_paths_alone_lead_to_the_optimum_that_all_lead_to(star):
    """From next to an optimum; the paths left out are more than 1.7 times too long."""
    rng = np.random.default_rng(5)
    z = star.variables(rng.random((40, 2)))
    end = maximise_batch(star, z[None], np.zeros((1, 0)))[0]
    top = polish(star, end.z, end.change)
    shaken = np.clip(top.z + 1e-4 * rng.standard_normal((3, star.n_z)), star.lower, star.upper)
    few = maximise_batch(star, shaken, np.zeros((3, 0)), initial=POLISHING)
    everything = InteriorPointParams(working_set_from=1000)
    every = maximise_batch(star, shaken, np.zeros((3, 0)), initial=POLISHING, params=everything)
    assert [a.scale for a in few] == pytest.approx([top.scale] * 3, rel=1e-8)
    assert [a.scale for a in every] == pytest.approx([top.scale] * 3, rel=1e-8)


def test_solves_do_not_depend_on_those_beside_them(star):
    z = np.stack([star.variables(np.random.default_rng(k).random((40, 2))) for k in range(5)])
    together = maximise_batch(star, z, np.zeros((5, 0)))
    alone = [maximise_batch(star, row[None], np.zeros((1, 0)))[0] for row in z]
    for one, other in zip(together, alone, strict=True):
        assert one.scale == pytest.approx(other.scale, rel=1e-6)


@pytest.mark.parametrize(
    ("name", "value"), [("centring", 1.0), ("inset", 0), ("known_gap", -1)]
)
def test_parameters_are_checked(name, value):
    with pytest.raises(OptionError, match="does not do") as refused:
        InteriorPointParams(**{name: value})
    assert refused.value.entry == name
