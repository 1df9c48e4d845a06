"""Operators: mutation and crossover of packings, from which the local solver begins anew.

Each operator takes some `Parents` and returns the (parents, tips, 2) points of one offspring each; of
mirrored twins only one is read. Many offspring are made at once, since on small figures the calls
cost more than the numbers. `OPERATORS` holds them by name; their weights are parameters
(`packer.search.memetic.memetic_params.MemeticParams.operators`).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
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


@dataclass(frozen=True, eq=False)
class Parents:
    """Packings from which an operator makes one offspring each.

    Attributes
    ----------
    problem
        What is packed.
    packings
        (packings, tips, 2) points of the whole population.
    picked
        (parents,) the parents, by index.
    rng
        For all that is random.
    params
        The constants of the operators.
    """

    problem: Problem
    packings: Floats
    picked: Indices
    rng: np.random.Generator
    params: OperatorParams = DEFAULT

    @property
    def points(self) -> Floats:
        """(parents, tips, 2) points of the parents, to be changed at will."""
        points: Floats = self.packings[self.picked]
        return points

    @property
    def count(self) -> int:
        """How many parents there are."""
        return len(self.picked)

    def only(self, rows: Indices | Flags) -> Parents:
        """Return some of the parents."""
        return replace(self, picked=self.picked[rows])


Operator = Callable[[Parents], Floats]


def insert_in_hole(parents: Parents) -> Floats:
    """Move one to three tips, each to the place of greatest clearance among random ones."""
    points = parents.points
    times = parents.rng.integers(1, parents.params.most_inserted + 1, size=parents.count)
    for turn in range(parents.params.most_inserted):
        rows = np.flatnonzero(times > turn)
        tips = parents.rng.choice(parents.problem.leaders, size=len(rows))
        places = sample(parents.problem, tips, parents.params.hole_samples, parents.rng)
        widest = clearance(parents.problem, points[rows], tips, places).argmax(axis=1)
        place_tips(parents.problem, points, rows, tips, places[np.arange(len(rows)), widest])
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


def swap_tips(parents: Parents) -> Floats:
    """Exchange two tips that are not alike."""
    points, heads, rows = parents.points, parents.problem.leaders, np.arange(parents.count)
    one = parents.rng.integers(len(heads), size=parents.count)
    unlike = ~parents.problem.alike[np.ix_(heads, heads)][one]
    other = np.where(unlike, parents.rng.random(unlike.shape), -1.0).argmax(axis=1)
    pair = heads[np.stack([one, other])]
    points[rows, pair] = points[rows, pair[::-1]]
    lone = np.flatnonzero(~unlike.any(axis=1))
    points[lone] = perturb_near(parents.only(lone))
    return points


def perturb_all(parents: Parents) -> Floats:
    """Perturb all tips."""
    points = parents.points
    return points + _noise(parents) * parents.rng.standard_normal(points.shape)


def _noise(parents: Parents) -> Floats:
    """Return (parents, 1, 1) standard deviations, each one of the params, in sheet units."""
    problem = parents.problem
    share = problem.sheet.diagonal / math.sqrt(problem.tree.n_tips)
    noise: Floats = share * parents.rng.choice(parents.params.noise, size=(parents.count, 1, 1))
    return noise


def perturb_near(parents: Parents) -> Floats:
    """Perturb the tips nearest to a random one."""
    points = parents.points
    count, n = points.shape[:2]
    middle = points[np.arange(count), parents.rng.integers(n, size=count)]
    away = ((points - middle[:, None]) ** 2).sum(axis=2)
    rank = away.argsort(axis=1, kind="stable").argsort(axis=1)
    near = rank < parents.rng.integers(
        2, max(3, min(n, parents.params.most_near + 1)), size=(count, 1)
    )
    points += _noise(parents) * near[:, :, None] * parents.rng.standard_normal(points.shape)
    return points


def move_subtree(parents: Parents) -> Floats:
    """Rotate or reflect a subtree where it is or at a random place, or exchange it with another."""
    if not parents.problem.tree.rivers:
        return perturb_near(parents)
    points, count = parents.points, parents.count
    subtree = _subtrees(parents.problem.tree, count, parents.rng)
    other = _subtrees(parents.problem.tree, count, parents.rng)
    kind = parents.rng.integers(3, size=count)
    kind[(subtree & other).any(axis=1) & (kind == 2)] = 0
    here, there = _centre(points, subtree), _centre(points, other)
    anywhere = parents.rng.random((count, 1, 2)) * (
        parents.problem.sheet.width,
        parents.problem.sheet.height,
    )
    kind = kind[:, None, None]
    subtree, other = subtree[:, :, None], other[:, :, None]
    turned = _turned(points - here, parents.rng) + np.where(kind == 1, anywhere, here)
    exchanged = points + (there - here) * subtree + (here - there) * other
    return np.where(kind == 2, exchanged, np.where(subtree, turned, points))


def crossover(parents: Parents) -> Floats:
    """Take one side of a river from another parent, which is first turned to fit the rest.

    This is the subtree crossover of genetic programming (J. R. Koza, MIT Press 1992) on a tree that
    both parents share. Where all flaps hang on one joint one side of the sheet is taken; see
    `cut_and_splice`.
    """
    if len(parents.packings) < 2:
        return perturb_near(parents)
    if not parents.problem.tree.rivers:
        return cut_and_splice(parents)
    points, count = parents.points, parents.count
    taken = _subtrees(parents.problem.tree, count, parents.rng) ^ (
        parents.rng.random((count, 1)) < 0.5
    )
    mates = _mates(parents)
    turned = sheet_images(parents.problem, parents.packings)[:, mates]
    off = ((turned - points) ** 2).sum(axis=3)
    nearest = np.where(taken, 0.0, off).sum(axis=2).argmin(axis=0)
    return np.where(taken[:, :, None], turned[nearest, np.arange(count)], points)


def cut_and_splice(parents: Parents) -> Floats:
    """Cut the sheet by a line and take what lies beyond it from another parent, turned at random.

    This is the cut-and-splice crossover of D. M. Deaven and K. M. Ho (Physical Review Letters 75,
    1995) for clusters of atoms. Tips that are alike stand for each other: of each kind as many are
    taken as the first parent has beyond the line, those that lie farthest. Under a symmetry some
    tips are perturbed instead.
    """
    if parents.problem.symmetry != "none":
        return perturb_near(parents)
    count, n = parents.count, parents.packings.shape[1]
    images = sheet_images(parents.problem, parents.packings)
    turned = images[parents.rng.integers(len(images), size=count), _mates(parents)]
    angle = parents.rng.uniform(0, 2 * np.pi, size=count)
    along = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    kind = parents.problem.alike.argmax(axis=1)
    here, height = _by_kind(parents.points, kind, along)
    there, _ = _by_kind(turned, kind, along)
    last = np.sort(height, axis=1)[np.arange(count), parents.rng.integers(n - 1, size=count)]
    points = np.empty_like(here)
    points[:, kind.argsort(kind="stable")] = np.where(
        (height <= last[:, None])[:, :, None], here, there
    )
    return points


def _by_kind(points: Floats, kind: Indices, along: Floats) -> tuple[Floats, Floats]:
    """Return (several, tips, 2) points by kind of tip, then by height along a line, and heights."""
    height = np.einsum("ktc,kc->kt", points, along)
    order = np.lexsort((height, np.broadcast_to(kind, height.shape)))
    return (
        np.take_along_axis(points, order[:, :, None], axis=1),
        np.take_along_axis(height, order, axis=1),
    )


def _mates(parents: Parents) -> Indices:
    """Return (parents,) a second parent for each, another packing than the first."""
    size = len(parents.packings)
    mates: Indices = (parents.picked + parents.rng.integers(1, size, size=parents.count)) % size
    return mates


def sheet_images(problem: Problem, points: Floats) -> Floats:
    """Return (images, ..., 2): points turned and reflected in every way that leaves the sheet."""
    size = np.array([problem.sheet.width, problem.sheet.height])
    flips = [(False, False), (False, True), (True, False), (True, True)]
    images = np.stack([np.where(flip, size - points, points) for flip in flips])
    return np.concatenate([images, images[..., ::-1]]) if problem.sheet.is_square else images


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
    "perturb_all": perturb_all,
    "perturb_near": perturb_near,
    "move_subtree": move_subtree,
    "crossover": crossover,
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
    parents = Parents(problem, packings, picked, rng, params.operator_params)
    points = np.empty((len(picked), *packings.shape[1:]))
    weights = params.operators
    total = sum(weight for _, weight in weights)
    share = [weight / total for _, weight in weights]
    kinds = rng.choice(len(weights), size=len(picked), p=share)
    for kind, (name, _) in enumerate(weights):
        rows = np.flatnonzero(kinds == kind)
        if len(rows):
            points[rows] = OPERATORS[name](parents.only(rows))
    return points
