"""A population: packings of one problem, best first, that operators are applied to.

Parents are drawn evenly, and their offspring solved in batches, since several solves at once cost
little more than one on small figures. An offspring that beats its parent takes its place; one that
beats the worst takes the worst's. So the best are refined while worse packings and their
offspring survive for a while.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from packer.local_solver.solver import better
from packer.search.memetic.duplicates import known_packings
from packer.search.memetic.preselection import preselected_offspring

if TYPE_CHECKING:
    from collections.abc import Sequence

    from packer.local_solver.solver import LocalOptimum, LocalSolver, StartPoint
    from packer.model.tree import Tree
    from packer.search.memetic.memetic_params import MemeticParams

    Population = tuple[LocalOptimum, ...]


def with_starts(
    solver: LocalSolver,
    population: Population,
    starts: Sequence[StartPoint],
    params: MemeticParams,
) -> Population:
    """Return a population joined by the local optima of start points that have no parents."""
    size = params.population_for(solver.problem.tree)
    least = _least(population, size, params) if len(population) >= size else -np.inf
    optima = solver.solve(starts, beat=least)
    return _joined(population, size, [None] * len(optima), optima, least, params)


def next_generation(
    solver: LocalSolver, population: Population, params: MemeticParams, rng: np.random.Generator
) -> tuple[Population, int]:
    """Return a population after a batch of offspring, and how many these were."""
    size = params.population_for(solver.problem.tree)
    least = _least(population, size, params)
    known = known_packings(solver, population, params.duplicate_distance)
    parents, starts = preselected_offspring(
        solver, population, known, solver.batch, params, rng
    )
    # the last digits of the best are wanted, those of the others not again
    scales = [optimum.scale for optimum in population[1:]]
    optima = solver.solve(starts, parents, beat=least, known=scales)
    return _joined(population, size, parents, optima, least, params), len(optima)


def merged(tree: Tree, optima: Sequence[LocalOptimum], params: MemeticParams) -> Population:
    """Return a population of the best of some packings."""
    population: Population = ()
    for optimum in sorted(optima, key=rank):
        population = _join(population, params.population_for(tree), None, optimum, params)
    return population


def rank(optimum: LocalOptimum) -> tuple[int, float]:
    """Sort the best first."""
    return optimum.splits, -optimum.scale


def _joined(
    population: Population,
    size: int,
    parents: Sequence[LocalOptimum | None],
    children: Sequence[LocalOptimum],
    least: float,
    params: MemeticParams,
) -> Population:
    """Return the population with the children that may join it."""
    for parent, child in zip(parents, children, strict=True):
        if child.scale <= least:
            continue  # a solve that was given up: no optimum, and its rivers were not counted
        population = _join(population, size, parent, child, params)
    return population


def _least(population: Population, size: int, params: MemeticParams) -> float:
    """Return the scale below which a child cannot join."""
    if len(population) < size:
        return population[0].scale * (1 - params.join_loss)
    worst = population[-1]
    return worst.scale * (1 - params.split_loss if worst.splits else 1.0)


def _join(
    population: Population,
    size: int,
    parent: LocalOptimum | None,
    child: LocalOptimum,
    params: MemeticParams,
) -> Population:
    """Return the population with a child in its parent's place, in the worst's, or left out."""
    full = len(population) >= size
    if full and not better(child, population[-1]):
        return population
    duplicates = [other for other in population if _same(child, other, params.duplicate_scale)]
    if not all(better(child, other) for other in duplicates):
        return population
    kept = [other for other in population if other not in duplicates]
    if parent in kept and better(child, parent):
        kept.remove(parent)
    elif full and not duplicates:
        kept.pop()
    return tuple(sorted([*kept, child], key=rank))


def _same(one: LocalOptimum, other: LocalOptimum, share: float) -> bool:
    """Whether two optima are one packing: those that differ by rattlers or a turn of the sheet are."""
    return one.splits == other.splits and abs(one.scale - other.scale) < share * other.scale
