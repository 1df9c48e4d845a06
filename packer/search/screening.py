"""Screening: of several points to climb from, only the most promising ones are climbed from.

An ascent costs many times what it takes to propose points, and where the points overlap much it
seldom ends well. So many more are proposed than are climbed from, springs draw them apart for some
steps (`packer.search.springs`), and those that have least energy left are chosen. Outcomes of
moves that lie near a packing already known are left out before and after that.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from packer.search.climbing import Foothold, by_program
from packer.search.moves import Site, pick_moves
from packer.search.springs import Springs
from packer.search.starts import fresh_points

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from packer.search.climbing import Spot, Workshop
    from packer.search.novelty import Known
    from packer.tree import Tree

START_AIM: Final = 1.0
"""Scale at which starts are compared, as a share of the best so far."""
MOVE_AIM: Final = 1.05
"""Scale at which the outcomes of a move are compared, as a multiple of the packing's own.

The quarter with the least energy held 190, 190 and 197 of 292 improvements on 22 flaps at 1, 1.02
and 1.05, and 31, 34 and 37 of 42 on 80.
"""


def starts_of(tips: int) -> int:
    """Return how many starts are proposed for each that is climbed from."""
    return max(1, min(8, tips // 4))


def tries_of(tree: Tree) -> int:
    """Return how many outcomes of moves are proposed for each that is climbed from."""
    return max(1, min(20, tree.n_tips)) if tree.rivers else 1


def screened_starts(
    shop: Workshop, best: float, count: int, rng: np.random.Generator
) -> list[Foothold]:
    """Return the least strained of some fresh starts.

    Parameters
    ----------
    shop
        The problem.
    best
        The largest scale so far; where it is 0 all starts are alike.
    count
        How many are wanted.
    rng
        Makes the starts.
    """
    proposed = count * starts_of(shop.problem.tree.n_tips) if best > 0 else count
    bases = [shop.foothold(fresh_points(shop.problem, rng), rng) for _ in range(proposed)]
    if proposed == count:
        return bases
    change = np.zeros((proposed, bases[0].program.n_w))
    rested, energy = _rested(bases, change, np.full(proposed, START_AIM * best))
    return [rested[k] for k in np.argsort(energy, kind="stable")[:count]]


def screened_moves(
    shop: Workshop, spots: Sequence[Spot], known: Known, count: int, rng: np.random.Generator
) -> tuple[list[Spot], list[Foothold]]:
    """Return outcomes of moves, with the spots they were made from.

    Parameters
    ----------
    shop
        The problem.
    spots
        The population, where the moves start from and from which limbs are taken.
    known
        Its packings, which are not to be found again.
    count
        How many are wanted; there may be fewer, but one at least.
    rng
        Chooses the spots and the moves and makes them.
    """
    proposed = count * tries_of(shop.problem.tree)
    sites = [
        Site(shop.problem, points, spot.scale, tuple(known.points))
        for points, spot in zip(known.points, spots, strict=True)
    ]
    picked = rng.integers(len(spots), size=proposed)
    moves = pick_moves(proposed, rng)
    bases = [
        shop.foothold(move(sites[k], rng), rng) for k, move in zip(picked, moves, strict=True)
    ]
    far = np.flatnonzero(~_near(known, bases))
    if not len(far):
        far = np.arange(count)
    parents, bases = [spots[picked[k]] for k in far], [bases[k] for k in far]
    aims = np.array([MOVE_AIM * spot.scale for spot in parents])
    rested, energy = _rested(bases, np.stack([spot.change for spot in parents]), aims)
    near = _near(known, rested)
    if not near.all():
        energy[near] = np.inf
    chosen = [k for k in np.argsort(energy, kind="stable")[:count] if energy[k] < np.inf]
    return [parents[k] for k in chosen], [rested[k] for k in chosen]


def _near(known: Known, bases: Sequence[Foothold]) -> NDArray[np.bool_]:
    """Return (bases,) whether each lies near to what is known."""
    return known.near(np.stack([base.program.tips(base.z) for base in bases]))


def _rested(
    bases: Sequence[Foothold], change: NDArray[np.float64], scale: NDArray[np.float64]
) -> tuple[list[Foothold], NDArray[np.float64]]:
    """Return where springs draw each of some bases, and the energy that is left there.

    Parameters
    ----------
    bases
        Where they are let go.
    change
        (bases, w) changes of length, in the figure's unit.
    scale
        (bases,) wished.
    """
    rested, energy = list(bases), np.empty(len(bases))
    for program, group in by_program(bases):
        z = np.stack([bases[k].z for k in group])
        z, energy[group] = Springs.of(program).relax(z, change[group], scale[group])
        for k, row in zip(group, z, strict=True):
            rested[k] = Foothold(program, row)
    return rested, energy
