"""Preselection: many start points are proposed, and only the most promising ones are solved.

A local solve costs many times what it takes to propose points, and where paths are much too short it
seldom ends well. So many more points are proposed than solved, penalty relaxation draws them apart
for some steps (`packer.search.memetic.penalty_relaxation`), and those with the least penalty left
are chosen. Duplicates of known packings are left out before and after that.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from packer.local_solver.initial_points import fresh_points
from packer.search.memetic.operators import offspring
from packer.search.memetic.penalty_relaxation import relaxed

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from packer.local_solver.solver import LocalOptimum, LocalSolver, StartPoint
    from packer.search.memetic.duplicates import KnownPackings
    from packer.search.memetic.memetic_params import MemeticParams

    Floats = NDArray[np.float64]


def preselected_starts(
    solver: LocalSolver,
    best: float,
    count: int,
    params: MemeticParams,
    rng: np.random.Generator,
) -> list[StartPoint]:
    """Return those of some fresh starts that have the least penalty.

    Parameters
    ----------
    solver
        The problem.
    best
        The largest scale so far; where it is 0 all starts are alike.
    count
        How many are wanted.
    params
        How many are proposed for each.
    rng
        Makes the starts.
    """
    each = params.preselection.starts_for(solver.problem.tree.n_tips)
    proposed = count * each if best > 0 else count
    starts = [
        solver.start_point(fresh_points(solver.problem, rng, params.initial), rng)
        for _ in solver.deadline.counted(proposed)
    ]
    if proposed == count:
        return starts
    change = np.zeros((len(starts), solver.program(starts[0].choice).n_w))
    target = np.full(len(starts), params.preselection.start_target * best)
    return _promising(solver, starts, change, target, count, params)[1][:count]


def preselected_offspring(
    solver: LocalSolver,
    population: Sequence[LocalOptimum],
    known: KnownPackings,
    count: int,
    params: MemeticParams,
    rng: np.random.Generator,
) -> tuple[list[LocalOptimum], list[StartPoint]]:
    """Return the parents and the start points of promising offspring.

    Parameters
    ----------
    solver
        The problem.
    population
        Where parents are drawn from.
    known
        Its packings, which are not to be reached again.
    count
        How many are wanted; there may be fewer, but at least one.
    params
        Operators and how many offspring are proposed for each that is wanted.
    rng
        Draws parents and operators and makes them.
    """
    proposed = count * params.preselection.offspring_for(solver.problem.tree)
    picked = rng.integers(len(population), size=proposed)
    proposals = offspring(solver.problem, known.points, picked, params, rng)
    starts = [solver.start_point(points, rng) for points in proposals]
    new = np.flatnonzero(~_duplicates(solver, known, starts))
    if not len(new):
        new = np.arange(count)
    parents, starts = [population[picked[k]] for k in new], [starts[k] for k in new]
    change = np.stack([parent.change for parent in parents])
    target = np.array([params.preselection.offspring_target * p.scale for p in parents])
    order, ends = _promising(solver, starts, change, target, count, params)
    new = np.flatnonzero(~_duplicates(solver, known, ends))[:count]
    if not len(new):
        new = np.arange(1)
    return [parents[order[k]] for k in new], [ends[k] for k in new]


def _duplicates(
    solver: LocalSolver, known: KnownPackings, starts: Sequence[StartPoint]
) -> NDArray[np.bool_]:
    """Return (starts,) whether each is a duplicate of a known packing."""
    return known.near(np.stack([solver.points(start) for start in starts]))


def _promising(
    solver: LocalSolver,
    starts: Sequence[StartPoint],
    change: Floats,
    target: Floats,
    count: int,
    params: MemeticParams,
) -> tuple[NDArray[np.intp], list[StartPoint]]:
    """Return which start points end with the least penalty, best first, and where they are drawn.

    Parameters
    ----------
    solver
        The problem.
    starts
        Where the relaxation begins.
    change
        (starts, w) changes of length, in the figure's unit.
    target
        (starts,) scales asked for.
    count
        How many are wanted; up to `kept` times as many are returned.
    params
        Steps of the relaxation and how many go on.
    """
    rounds = params.preselection
    ends, penalty = relaxed(
        solver, starts, change, target, rounds.first_steps, params.relaxation
    )
    order = np.argsort(penalty, kind="stable")[: rounds.kept * count]
    best = [ends[k] for k in order]
    ends, penalty = relaxed(
        solver, best, change[order], target[order], rounds.next_steps, params.relaxation
    )
    again = np.argsort(penalty, kind="stable")
    return order[again], [ends[k] for k in again]
