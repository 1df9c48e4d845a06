"""A clutch: the points that a brood hatches from, bred by springs alone before any climb.

At a wished scale far above what the paper holds every path pushes, and what springs then lack is a
smooth landscape with few valleys; at a scale just above the best it is as rugged as that of the
packings. So points are bred there by the same moves and grafts as packings, the least energy first,
at a small part of a climb's cost, and only the survivors are climbed from.

Constants without an experiment beside them were set once and not varied.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.local_solver.initial_points import fresh_points
from packer.search.memetic.operators import moved
from packer.search.memetic.penalty_relaxation import rested

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from packer.local_solver.solver import LocalSolver, StartPoint
    from packer.model.tree import Tree

AIM: Final = 1.5
"""Scale that the springs push for, as a multiple of the best known.

The best of as many broods as fit in 15 s was .57, .31, .35, .23, .35 and .30 % behind the best known at
1.1, 1.2, 1.35, 1.5, 1.8 and 2.2 over eight figures of 22 to 25 flaps (.55 without clutches; give or take
.07), five figures of 80 flaps 1.8, .5 and .7 % after 40 s at 1.3, 1.5 and 2 (1.2 without). Some figures
like one, some another; a scale drawn anew for each brood was no better.
"""
STARTS: Final = 3
MOST_STARTS: Final = 240
"""Fresh starts for each flap; in the same trial 3 and 8 led to .17 and .23 %."""
STEPS: Final = (8, 17, 25)
"""The springs push so often; after each round but the last a third of the points go on."""
THIRD: Final = 3
APART: Final = 0.4
"""How far the tips of two points of a clutch lie apart, one pair at least, as a share of the diagonal
of one tip's share of the sheet."""
SAME_ENERGY: Final = 1e-4
"""Relative difference of energy below which two are the same but for a turn of the sheet."""
TASTE: Final = 0.2
"""Share of the least energy by which it must fall before its point is climbed from again."""
RISE: Final = 0.02
"""Rise of the scale known from which a clutch is bred for the new one."""
WORTH: Final = 0.01
"""Share of the least energy by which a generation must lower it, or it counts as a failure."""


@dataclass(frozen=True, eq=False)
class RelaxedPopulation:
    """Points at rest, least energy first.

    Attributes
    ----------
    aim
        The scale that the springs push for.
    footholds
        Where the springs have come to rest.
    points
        (footholds, tips, 2) the same as points on the sheet.
    energy
        (footholds,) what is left there, as of `packer.search.memetic.penalty_relaxation.PenaltyRelaxation.relax`.
    failures
        Outcomes of moves since the least energy fell.
    taste
        The least energy when its point was last climbed from.
    """

    aim: float
    start_points: tuple[StartPoint, ...]
    points: NDArray[np.float64]
    energy: NDArray[np.float64]
    failures: int = 0
    taste: float = math.inf

    @property
    def changed(self) -> bool:
        """Whether its best has much less energy than when it was last climbed from."""
        return bool(self.energy[0] < (1 - TASTE) * self.taste)

    def ripe(self, tree: Tree) -> bool:
        """Whether it has been bred for long enough."""
        return self.failures >= patience_of(tree)


def size_of(tree: Tree) -> int:
    """Return how many points a clutch holds.

    Three figures of 80 flaps were 1.2 % behind the best of all runs after 40 s with 24 points and
    litters of 128, .9 with 64 and 128, .6 with 64 and 256; on two of 22 and 24 flaps 12 and 48 points
    were no better than 24. Of 74, 76, 84 and 88 equal flaps 24 points led to the best known in 3, 31, 5
    and 12 s, 64 in 23, 58, 11 and more than 60 s, one seed each, before any were spliced; since then 84
    and 88 in 20 and 13, 64 in 3 and 17 s.
    """
    return max(24, min(64, 4 * tree.n_tips // 5)) if tree.rivers else 24


def litter_of(tree: Tree) -> int:
    """Return how many outcomes of moves make one generation; see `size_of`."""
    return max(128, 4 * size_of(tree))


def patience_of(tree: Tree) -> int:
    """Return how many outcomes of moves in a row may bring nothing.

    With 20 in place of 40 a flap the best of the broods of 15 s was as good on 22 to 25 flaps (see
    `AIM`). The three figures of `size_of` were .6 % behind with 40 a flap, .06 with 80.
    """
    if not tree.rivers:
        return min(40 * tree.n_tips, 3200)
    return min(tree.n_tips * max(40, tree.n_tips), 6400)


def laid(shop: LocalSolver, best: float, rng: np.random.Generator) -> RelaxedPopulation:
    """Return a clutch of fresh starts.

    Parameters
    ----------
    shop
        The problem.
    best
        The scale of a packing that is known.
    rng
        Makes the starts.
    """
    n = shop.problem.tree.n_tips
    starts = [fresh_points(shop.problem, rng) for _ in range(min(STARTS * n, MOST_STARTS))]
    empty = RelaxedPopulation(AIM * best, (), np.empty((0, n, 2)), np.empty(0))
    return _joined(shop, empty, starts, rng)


def tasted(shop: LocalSolver, clutch: RelaxedPopulation, best: float) -> RelaxedPopulation:
    """Return a clutch whose best has been climbed from: at a new aim, where that led higher."""
    if AIM * best > clutch.aim * (1 + RISE):
        ends, energy = _rested(shop, clutch.start_points, AIM * best, sum(STEPS))
        order = np.argsort(energy, kind="stable")
        ends = [ends[k] for k in order]
        points = np.stack([shop.points(end) for end in ends])
        clutch = replace(
            clutch,
            aim=AIM * best,
            start_points=tuple(ends),
            points=points,
            energy=energy[order],
        )
    return replace(clutch, taste=float(clutch.energy[0]))


def bred(
    shop: LocalSolver, clutch: RelaxedPopulation, rng: np.random.Generator
) -> RelaxedPopulation:
    """Return a clutch one generation later."""
    litter = litter_of(shop.problem.tree)
    picked = rng.integers(len(clutch.start_points), size=litter)
    outcomes = moved(shop.problem, clutch.points, picked, rng)
    after = _joined(shop, clutch, outcomes, rng)
    fell = after.energy[0] < clutch.energy[0] * (1 - WORTH)
    return replace(after, failures=0 if fell else clutch.failures + litter)


def _joined(
    shop: LocalSolver,
    clutch: RelaxedPopulation,
    proposed: Sequence[NDArray[np.float64]] | NDArray[np.float64],
    rng: np.random.Generator,
) -> RelaxedPopulation:
    """Return a clutch with those of some proposed (tips, 2) points that are worth it."""
    ends, energies = _narrowed(shop, [shop.start_point(p, rng) for p in proposed], clutch.aim)
    n = shop.problem.tree.n_tips
    size = size_of(shop.problem.tree)
    share = shop.problem.sheet.diagonal / math.sqrt(n)
    start_points, points, energy = [*clutch.start_points], clutch.points, clutch.energy
    for end, left in zip(ends, energies, strict=True):
        if len(start_points) >= size and left >= energy[-1]:
            break  # the rest have more
        at = shop.points(end)
        alike = (((points - at) ** 2).sum(axis=2) < (APART * share) ** 2).all(axis=1)
        alike |= np.abs(energy - left) < SAME_ENERGY * left
        if (energy[alike] <= left).any():
            continue
        kept = np.flatnonzero(~alike)[: size - 1]
        place = int(np.searchsorted(energy[kept], left))
        start_points = [start_points[k] for k in kept]
        start_points.insert(place, end)
        points = np.insert(points[kept], place, at, axis=0)
        energy = np.insert(energy[kept], place, left)
    return replace(clutch, start_points=tuple(start_points), points=points, energy=energy)


def _narrowed(
    shop: LocalSolver, start_points: Sequence[StartPoint], aim: float
) -> tuple[list[StartPoint], NDArray[np.float64]]:
    """Return those of some footholds that end with least energy, where springs draw them."""
    *first, last = STEPS
    for steps in first:
        ends, energy = _rested(shop, start_points, aim, steps)
        least = np.argsort(energy, kind="stable")[: max(1, len(ends) // THIRD)]
        start_points = [ends[k] for k in least]
    ends, energy = _rested(shop, start_points, aim, last)
    order = np.argsort(energy, kind="stable")
    return [ends[k] for k in order], energy[order]


def _rested(
    shop: LocalSolver, start_points: Sequence[StartPoint], aim: float, steps: int
) -> tuple[list[StartPoint], NDArray[np.float64]]:
    """Return where springs draw some footholds, every length as wished, and the energy left."""
    change = np.zeros((len(start_points), shop.program(start_points[0].choice).n_w))
    return rested(shop, start_points, change, np.full(len(start_points), aim), steps)
