"""Operators: mutations of packings, from which the local solver begins anew.

Each operator takes a problem, the (packings, tips, 2) points of a population, the indices of the
parents, a random generator and its constants, and returns the (parents, tips, 2) points of one
offspring each; of mirrored twins only one is read. Many offspring are made at once, since on
small figures the calls cost more than the numbers. `OPERATORS` holds them by name; their weights
are parameters
(`packer.search.memetic.memetic_params.MemeticParams.operators`).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from packer.local_solver.range_assignment import sample
from packer.search.memetic.memetic_params import OperatorParams

if TYPE_CHECKING:
    from packer.model.problem import Problem
    from packer.model.tree import Tree
    from packer.search.memetic.memetic_params import MemeticParams

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]
Flags = NDArray[np.bool_]
DEFAULT: Final = OperatorParams()
"""The constants in use."""

Operator = Callable[["Problem", Floats, Indices, np.random.Generator, OperatorParams], Floats]


def insert_in_hole(
    problem: Problem,
    packings: Floats,
    picked: Indices,
    rng: np.random.Generator,
    params: OperatorParams = DEFAULT,
) -> Floats:
    """Move one to three tips, each to the place of greatest clearance among random ones."""
    points = packings[picked]
    times = rng.integers(1, params.most_inserted + 1, size=len(picked))
    for turn in range(params.most_inserted):
        rows = np.flatnonzero(times > turn)
        tips = rng.choice(problem.leaders, size=len(rows))
        places = sample(problem, tips, params.hole_samples, rng)
        widest = clearance(problem, points[rows], tips, places).argmax(axis=1)
        place_tips(problem, points, rows, tips, places[np.arange(len(rows)), widest])
    return points


def place_tips(
    problem: Problem, points: Floats, rows: Indices, tips: Indices, places: Floats
) -> None:
    """Set one tip in some rows of (several, tips, 2) points, and its twin to the mirror image."""
    points[rows, tips] = places
    paired = problem.mirror[tips] != tips
    points[rows[paired], problem.mirror[tips[paired]]] = problem.reflect(places[paired])


def clearance(
    problem: Problem, points: Floats, tips: Indices, places: Floats, known: Flags | None = None
) -> Floats:
    """Return the scale that the paths of a tip would allow if it lay at a place.

    Parameters
    ----------
    problem
        Gives the lengths of the paths.
    points
        (several, tips, 2) where the tips lie.
    tips
        (several,) which one would lie at the places.
    places
        (several, places, 2)
    known
        (tips,) which other tips count; all by default.

    Returns
    -------
    Floats
        (several, places)
    """
    twins = problem.mirror[tips]
    weight = problem.tree.distances[tips]
    ignored = np.zeros(weight.shape, dtype=bool)
    if known is not None:
        ignored |= ~known
    np.put_along_axis(ignored, np.column_stack([tips, twins]), values=True, axis=1)
    weight[ignored] = 1.0
    weight **= -2
    # (other tips, several, places): a minimum over the first axis is the fastest
    squared = places[:, :, 0] - points[:, :, 0].T[:, :, None]
    squared *= squared
    up = places[:, :, 1] - points[:, :, 1].T[:, :, None]
    up *= up
    squared += up
    squared *= weight.T[:, :, None]
    squared += np.where(ignored, np.inf, 0.0).T[:, :, None]
    least: Floats = np.sqrt(squared.min(axis=0))
    paired = twins != tips
    if paired.any():
        gap = places[paired] - problem.reflect(places[paired])
        across = problem.tree.distances[tips[paired], twins[paired], None]
        least[paired] = np.minimum(least[paired], np.hypot(gap[..., 0], gap[..., 1]) / across)
    return least


def swap_tips(
    problem: Problem,
    packings: Floats,
    picked: Indices,
    rng: np.random.Generator,
    params: OperatorParams = DEFAULT,
) -> Floats:
    """Exchange two tips that are not alike; where all are alike, perturb the tips near one."""
    points, heads, rows = packings[picked], problem.leaders, np.arange(len(picked))
    one = rng.integers(len(heads), size=len(picked))
    unlike = ~problem.alike[np.ix_(heads, heads)][one]
    other = np.where(unlike, rng.random(unlike.shape), -1.0).argmax(axis=1)
    pair = heads[np.stack([one, other])]
    points[rows, pair] = points[rows, pair[::-1]]
    lone = ~unlike.any(axis=1)
    points[lone] = perturb_near(problem, packings, picked[lone], rng, params)
    return points


def _noise(
    problem: Problem, count: int, rng: np.random.Generator, params: OperatorParams
) -> Floats:
    """Return (count, 1, 1) standard deviations, each one of the params, in sheet units."""
    share = problem.sheet.diagonal / math.sqrt(problem.tree.n_tips)
    noise: Floats = share * rng.choice(params.noise, size=(count, 1, 1))
    return noise


def perturb_near(
    problem: Problem,
    packings: Floats,
    picked: Indices,
    rng: np.random.Generator,
    params: OperatorParams = DEFAULT,
) -> Floats:
    """Perturb the tips nearest to a random one: what operators do where they cannot be applied."""
    points = packings[picked]
    count, n = points.shape[:2]
    middle = points[np.arange(count), rng.integers(n, size=count)]
    away = ((points - middle[:, None]) ** 2).sum(axis=2)
    rank = away.argsort(axis=1, kind="stable").argsort(axis=1)
    near = rank < rng.integers(2, max(3, min(n, params.most_near + 1)), size=(count, 1))
    points += (
        _noise(problem, count, rng, params)
        * near[:, :, None]
        * rng.standard_normal(points.shape)
    )
    return points


def move_subtree(
    problem: Problem,
    packings: Floats,
    picked: Indices,
    rng: np.random.Generator,
    params: OperatorParams = DEFAULT,
) -> Floats:
    """Rotate or reflect a subtree where it is or at a random place, or exchange it with another.

    Where all flaps hang on one joint there is no subtree: the tips near a random one are perturbed.
    """
    if not problem.tree.rivers:
        return perturb_near(problem, packings, picked, rng, params)
    points, count = packings[picked], len(picked)
    subtree = _subtrees(problem.tree, count, rng)
    other = _subtrees(problem.tree, count, rng)
    kind = rng.integers(3, size=count)
    kind[(subtree & other).any(axis=1) & (kind == 2)] = 0
    here, there = _centre(points, subtree), _centre(points, other)
    anywhere = rng.random((count, 1, 2)) * (problem.sheet.width, problem.sheet.height)
    kind = kind[:, None, None]
    subtree, other = subtree[:, :, None], other[:, :, None]
    turned = _turned(points - here, rng) + np.where(kind == 1, anywhere, here)
    exchanged = points + (there - here) * subtree + (here - there) * other
    return np.where(kind == 2, exchanged, np.where(subtree, turned, points))


def _subtrees(tree: Tree, count: int, rng: np.random.Generator) -> Flags:
    """Return (count, tips) which tips lie on the smaller side of a random river."""
    sides: Flags = tree.beyond[rng.integers(tree.n_tips, len(tree.names), size=count)]
    sides ^= 2 * sides.sum(axis=1, keepdims=True) > tree.n_tips
    return sides


def _centre(points: Floats, subtree: Flags) -> Floats:
    """Return (several, 1, 2) the mean of the points of each subtree."""
    held = subtree[:, :, None]
    centre: Floats = points.mean(axis=1, keepdims=True, where=held)
    return centre


def _turned(points: Floats, rng: np.random.Generator) -> Floats:
    """Rotate each of (several, tips, 2) points about the origin, and reflect half of them."""
    angle = rng.uniform(0, 2 * np.pi, size=len(points))
    flip = rng.choice([-1.0, 1.0], size=len(points))
    c, s = np.cos(angle), np.sin(angle)
    turned: Floats = points @ np.stack([c, s, -s * flip, c * flip], axis=1).reshape(-1, 2, 2)
    return turned


OPERATORS: Final[dict[str, Operator]] = {
    "insert_in_hole": insert_in_hole,
    "swap_tips": swap_tips,
    "move_subtree": move_subtree,
}


def offspring(
    problem: Problem,
    packings: Floats,
    picked: Indices,
    params: MemeticParams,
    rng: np.random.Generator,
) -> Floats:
    """Return (parents, tips, 2) points, each made from one parent by a random operator.

    Parameters
    ----------
    problem
        What is packed.
    packings
        (packings, tips, 2) points of the population.
    picked
        (parents,) the parents, by index.
    params
        The weights of the operators, by name, and their constants.
    rng
        Chooses the operators and makes them.
    """
    points = np.empty((len(picked), *packings.shape[1:]))
    weights = params.operators
    total = sum(weight for _, weight in weights)
    share = [weight / total for _, weight in weights]
    kinds = rng.choice(len(weights), size=len(picked), p=share)
    for kind, (name, _) in enumerate(weights):
        rows = np.flatnonzero(kinds == kind)
        if len(rows):
            points[rows] = OPERATORS[name](
                problem, packings, picked[rows], rng, params.operator_params
            )
    return points
