"""A population: packings of one problem, best first, from which moves start.

Moves are tried from any of them, in batches, since several ascents at once cost little more than
one on small figures. A child that beats its parent takes its place; one that beats the worst takes
the worst's. So the leaders are refined while worse lines live on for a while.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from packer.local_solver.solver import better
from packer.search.memetic.duplicates import known_packings
from packer.search.memetic.preselection import screened_moves

if TYPE_CHECKING:
    from collections.abc import Sequence

    from packer.local_solver.solver import LocalOptimum, LocalSolver, StartPoint
    from packer.model.tree import Tree

TWINS: Final = 2e-5
"""Relative difference of scale below which two packings count as the same one.

Packings that differ by loose tips alone, or by a turn of the sheet, have one scale, and a climb
towards a known one ends as near to it as that (`packer.local_solver.newton_steps.KNOWN_GAP`).
"""
SPLIT_REACH: Final = 0.1
"""Loss of scale up to which a packing with fewer split rivers is looked for."""
NEAR_REACH: Final = 0.1
"""Loss of scale up to which a packing joins a population that is not yet full."""


def size_of(tree: Tree) -> int:
    """Return how many packings a population holds.

    The best of as many broods as fit in 15 s was .41, .48 and .53 % behind the best known with 8, 16 and
    32, over eight figures of 22 to 25 flaps (give or take .07). Five figures of 80 flaps were 1.1 % behind
    after 40 s with 8, .6 with 16. Two figures, two seeds each, stayed .3 and 1.7 % behind after 60 s with
    16; with 32 it was .1 and .5 in one trial, .3 and 1.6 in another. Of 89 equal flaps 11 of 133 broods
    came to the best known packing with 16, 5 of 74 with 40.
    """
    return max(16, min(32, 2 * tree.n_tips // 5)) if tree.rivers else 16


def climbed(
    shop: LocalSolver, spots: tuple[LocalOptimum, ...], bases: Sequence[StartPoint]
) -> tuple[LocalOptimum, ...]:
    """Return a population, perhaps an empty one, after climbs from points that come from no packing."""
    size = size_of(shop.problem.tree)
    least = _least(spots, size) if len(spots) >= size else -np.inf
    found = shop.climb(bases, beat=least)
    return _joined(spots, size, [None] * len(found), found, least)


def moved_on(
    shop: LocalSolver, spots: tuple[LocalOptimum, ...], rng: np.random.Generator
) -> tuple[tuple[LocalOptimum, ...], int]:
    """Return a population after a batch of climbs after moves, and how many these were."""
    size = size_of(shop.problem.tree)
    least = _least(spots, size)
    known = known_packings(shop, spots)
    parents, bases = screened_moves(shop, spots, known, shop.at_once, rng)
    # the last digits of the best are wanted, those of the others not again
    scales = [spot.scale for spot in spots[1:]]
    found = shop.climb(bases, parents, beat=least, known=scales)
    return _joined(spots, size, parents, found, least), len(found)


def united(tree: Tree, spots: Sequence[LocalOptimum]) -> tuple[LocalOptimum, ...]:
    """Return a population of the best of some packings."""
    found: tuple[LocalOptimum, ...] = ()
    for spot in sorted(spots, key=rank):
        found = _join(found, size_of(tree), None, spot)
    return found


def rank(spot: LocalOptimum) -> tuple[int, float]:
    """Sort the best first."""
    return spot.splits, -spot.scale


def _joined(
    spots: tuple[LocalOptimum, ...],
    size: int,
    parents: Sequence[LocalOptimum | None],
    children: Sequence[LocalOptimum],
    least: float,
) -> tuple[LocalOptimum, ...]:
    """Return the population with the children that may join it."""
    for parent, child in zip(parents, children, strict=True):
        if child.scale <= least:
            continue  # a climb that was given up: no optimum, and its rivers were not looked at
        spots = _join(spots, size, parent, child)
    return spots


def _least(spots: tuple[LocalOptimum, ...], size: int) -> float:
    """Return the scale below which a child cannot join."""
    if len(spots) < size:
        return spots[0].scale * (1 - NEAR_REACH)
    return spots[-1].scale * (1 - SPLIT_REACH if spots[-1].splits else 1.0)


def _join(
    spots: tuple[LocalOptimum, ...], size: int, parent: LocalOptimum | None, child: LocalOptimum
) -> tuple[LocalOptimum, ...]:
    """Return the population with a child in its parent's place, in the worst's, or left out."""
    full = len(spots) >= size
    if full and not better(child, spots[-1]):
        return spots
    twins = [spot for spot in spots if _same(child, spot)]
    if not all(better(child, twin) for twin in twins):
        return spots
    kept = [spot for spot in spots if spot not in twins]
    if parent in kept and better(child, parent):
        kept.remove(parent)
    elif full and not twins:
        kept.pop()
    return tuple(sorted([*kept, child], key=rank))


def _same(one: LocalOptimum, other: LocalOptimum) -> bool:
    return one.splits == other.splits and abs(one.scale - other.scale) < TWINS * other.scale
