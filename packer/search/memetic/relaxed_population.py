"""The relaxed population: start points evolved under the penalty alone, before any local solve.

At a target scale far above what the paper holds, every path is too short, and the penalty is a smooth
landscape with few valleys; at a scale just above the best it is as rugged as that of the packings.
So points are evolved there by the same operators as packings, least penalty first, at a small part
of the cost of a local solve, and only the survivors are solved.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from packer.local_solver.initial_points import fresh_points
from packer.search.memetic.operators import offspring
from packer.search.memetic.penalty_relaxation import relaxed

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from packer.local_solver.solver import LocalSolver, StartPoint
    from packer.search.memetic.memetic_params import MemeticParams

    Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class RelaxedPopulation:
    """Points at rest under the penalty, least first.

    Attributes
    ----------
    target
        The scale that the penalty asks for.
    start_points
        Where the relaxation came to rest.
    points
        (start points, tips, 2) the same as points on the sheet.
    penalty
        (start points,) what is left there, as of
        `packer.search.memetic.penalty_relaxation.PenaltyRelaxation.relax`.
    failures
        Offspring since the least penalty fell.
    probed
        The least penalty when its point was last solved.
    """

    target: float
    start_points: tuple[StartPoint, ...]
    points: Floats
    penalty: Floats
    failures: int = 0
    probed: float = math.inf


def first_relaxed(
    solver: LocalSolver, best: float, params: MemeticParams, rng: np.random.Generator
) -> RelaxedPopulation:
    """Return a relaxed population of fresh starts.

    Parameters
    ----------
    solver
        The problem.
    best
        The scale of a packing that is known.
    params
        How many starts, and the target.
    rng
        Makes the starts.
    """
    n = solver.problem.tree.n_tips
    count = min(params.relaxed.starts * n, params.relaxed.most_starts)
    numbers = solver.deadline.counted(count)
    starts = [fresh_points(solver.problem, rng, params.initial) for _ in numbers]
    target = params.relaxed.target * best
    empty = RelaxedPopulation(target, (), np.empty((0, n, 2)), np.empty(0))
    return _joined(solver, empty, starts, params, rng)


def is_ripe(population: RelaxedPopulation, solver: LocalSolver, params: MemeticParams) -> bool:
    """Whether a relaxed population has evolved for long enough."""
    return population.failures >= params.relaxed.patience_for(solver.problem.tree)


def has_changed(population: RelaxedPopulation, params: MemeticParams) -> bool:
    """Whether the best has much less penalty than when it was last solved."""
    return bool(population.penalty[0] < (1 - params.relaxed.probe) * population.probed)


def probed(
    solver: LocalSolver, population: RelaxedPopulation, best: float, params: MemeticParams
) -> RelaxedPopulation:
    """Return a relaxed population whose best was solved: with a new target, where that led higher."""
    target = params.relaxed.target * best
    if target > population.target * (1 + params.relaxed.rise):
        steps = sum(params.relaxed.steps)
        ends, penalty = _relaxed(solver, population.start_points, target, steps, params)
        order = np.argsort(penalty, kind="stable")
        ends = [ends[k] for k in order]
        points = np.stack([solver.points(end) for end in ends])
        population = replace(
            population,
            target=target,
            start_points=tuple(ends),
            points=points,
            penalty=penalty[order],
        )
    return replace(population, probed=float(population.penalty[0]))


def next_relaxed(
    solver: LocalSolver,
    population: RelaxedPopulation,
    params: MemeticParams,
    rng: np.random.Generator,
) -> RelaxedPopulation:
    """Return a relaxed population one generation later."""
    count = params.relaxed.offspring_for(solver.problem.tree)
    picked = rng.integers(len(population.start_points), size=count)
    proposals = offspring(solver.problem, population.points, picked, params, rng)
    after = _joined(solver, population, proposals, params, rng)
    gained = after.penalty[0] < population.penalty[0] * (1 - params.relaxed.gain)
    return replace(after, failures=0 if gained else population.failures + count)


def _joined(
    solver: LocalSolver,
    population: RelaxedPopulation,
    proposals: Sequence[Floats] | Floats,
    params: MemeticParams,
    rng: np.random.Generator,
) -> RelaxedPopulation:
    """Return a relaxed population with those of some proposed (tips, 2) points that are worth it."""
    starts = [solver.start_point(points, rng) for points in proposals]
    ends, penalties = _survivors(solver, starts, population.target, params)
    tree = solver.problem.tree
    size = params.relaxed.size_for(tree)
    radius = params.relaxed.distance * solver.problem.sheet.diagonal / math.sqrt(tree.n_tips)
    kept, points, penalty = [*population.start_points], population.points, population.penalty
    for end, left in zip(ends, penalties, strict=True):
        if len(kept) >= size and left >= penalty[-1]:
            break  # the rest have more
        at = solver.points(end)
        alike = (((points - at) ** 2).sum(axis=2) < radius**2).all(axis=1)
        alike |= np.abs(penalty - left) < params.relaxed.same_penalty * left
        if (penalty[alike] <= left).any():
            continue
        others = np.flatnonzero(~alike)[: size - 1]
        place = int(np.searchsorted(penalty[others], left))
        kept = [kept[k] for k in others]
        kept.insert(place, end)
        points = np.insert(points[others], place, at, axis=0)
        penalty = np.insert(penalty[others], place, left)
    return replace(population, start_points=tuple(kept), points=points, penalty=penalty)


def _survivors(
    solver: LocalSolver, starts: Sequence[StartPoint], target: float, params: MemeticParams
) -> tuple[list[StartPoint], Floats]:
    """Return those of some start points that end with the least penalty, and their penalties."""
    *first, last = params.relaxed.steps
    for steps in first:
        ends, penalty = _relaxed(solver, starts, target, steps, params)
        count = max(1, len(ends) // params.relaxed.survivors)
        starts = [ends[k] for k in np.argsort(penalty, kind="stable")[:count]]
    ends, penalty = _relaxed(solver, starts, target, last, params)
    order = np.argsort(penalty, kind="stable")
    return [ends[k] for k in order], penalty[order]


def _relaxed(
    solver: LocalSolver,
    starts: Sequence[StartPoint],
    target: float,
    steps: int,
    params: MemeticParams,
) -> tuple[list[StartPoint], Floats]:
    """Return where relaxation draws some start points, every length as asked for."""
    change = np.zeros((len(starts), solver.program(starts[0].choice).n_w))
    targets = np.full(len(starts), target)
    return relaxed(solver, starts, change, targets, steps, params.relaxation)
