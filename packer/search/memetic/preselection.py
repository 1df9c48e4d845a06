"""Screening: of several points to climb from, only the most promising ones are climbed from.

An ascent costs many times what it takes to propose points, and where the points overlap much it
seldom ends well. So many more are proposed than are climbed from, springs draw them apart for some
steps (`packer.search.memetic.penalty_relaxation`), and those that have least energy left are chosen. Outcomes of
moves that lie near a packing already known are left out before and after that.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from packer.local_solver.initial_points import fresh_points
from packer.search.memetic.operators import moved
from packer.search.memetic.penalty_relaxation import rested

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from packer.local_solver.solver import LocalOptimum, LocalSolver, StartPoint
    from packer.model.tree import Tree
    from packer.search.memetic.duplicates import KnownPackings

START_AIM: Final = 1.0
"""Scale at which starts are compared, as a share of the best so far."""
MOVE_AIM: Final = 1.05
"""Scale at which the outcomes of a move are compared, as a multiple of the packing's own.

The quarter with the least energy held 180, 190 and 197 of 292 improvements on 22 flaps at 1, 1.02
and 1.05, and 31, 34 and 37 of 42 on 80. At 1.02, 1.05 and 1.1 three figures of 80 flaps were .92, .55 and
.78 % behind the best of all runs after 40 s, five .61 % at 1.05 and .57 at 1.1; twelve of 22 and 24
flaps, one seed each, .28 and .17 % after 20 s at 1.02 and 1.05.
"""

FIRST_STEPS: Final = 8
NEXT_STEPS: Final = 17
GO_ON: Final = 3
"""The springs push for the first steps; the best go on for the next, so many for each one wanted.

After 12, 25 and 50 steps the quarter with the least energy held 173, 197 and 216 of 292 improvements on
22 flaps, and 31, 37 and 37 of 42 on 80.
"""


def starts_of(tips: int) -> int:
    """Return how many starts are proposed for each that is climbed from."""
    return max(1, min(8, tips // 4))


def tries_of(tree: Tree) -> int:
    """Return how many outcomes of moves are proposed for each that is climbed from.

    About half of them lie near known packings. With 4, 10 and 24 that do not, five seeds on 22 and 25
    flaps were .46, .50 and .22 and .19, .22 and .21 % behind the best known after 20 s (.68 and .47
    before springs), two on 80 flaps 1.1, .7 and .5 % after 40 s (2.0 before). With 40 in place of 22
    twenty runs on 22 and 24 flaps were .38 in place of .26 % behind. Where all flaps hang
    on one joint 8 in place of 3 found less of 71, 88 and 89 equal flaps.
    """
    return max(1, min(24, tree.n_tips)) if tree.rivers else 3


def screened_starts(
    shop: LocalSolver, best: float, count: int, rng: np.random.Generator
) -> list[StartPoint]:
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
    bases = [shop.start_point(fresh_points(shop.problem, rng), rng) for _ in range(proposed)]
    if proposed == count:
        return bases
    change = np.zeros((proposed, shop.program(bases[0].choice).n_w))
    return _promising(shop, bases, change, np.full(proposed, START_AIM * best), count)[1][
        :count
    ]


def screened_moves(
    shop: LocalSolver,
    spots: Sequence[LocalOptimum],
    known: KnownPackings,
    count: int,
    rng: np.random.Generator,
) -> tuple[list[LocalOptimum], list[StartPoint]]:
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
    picked = rng.integers(len(spots), size=proposed)
    outcomes = moved(shop.problem, known.points, picked, rng)
    bases = [shop.start_point(points, rng) for points in outcomes]
    far = np.flatnonzero(~_near(shop, known, bases))
    if not len(far):
        far = np.arange(count)
    parents, bases = [spots[picked[k]] for k in far], [bases[k] for k in far]
    change = np.stack([spot.change for spot in parents])
    aims = np.array([MOVE_AIM * spot.scale for spot in parents])
    order, ends = _promising(shop, bases, change, aims, count)
    new = np.flatnonzero(~_near(shop, known, ends))[:count]
    if not len(new):
        new = np.arange(1)
    return [parents[order[k]] for k in new], [ends[k] for k in new]


def _near(
    shop: LocalSolver, known: KnownPackings, bases: Sequence[StartPoint]
) -> NDArray[np.bool_]:
    """Return (bases,) whether each lies near to what is known."""
    return known.near(np.stack([shop.points(base) for base in bases]))


def _promising(
    shop: LocalSolver,
    bases: Sequence[StartPoint],
    change: NDArray[np.float64],
    scale: NDArray[np.float64],
    count: int,
) -> tuple[NDArray[np.intp], list[StartPoint]]:
    """Return which bases end with the least energy, best first, and where springs draw them.

    Parameters
    ----------
    shop
        The problem.
    bases
        Where the springs are let go.
    change
        (bases, w) changes of length, in the figure's unit.
    scale
        (bases,) wished.
    count
        How many are wanted; `GO_ON` times as many are returned, where there are.
    """
    ends, energy = rested(shop, bases, change, scale, FIRST_STEPS)
    order = np.argsort(energy, kind="stable")[: GO_ON * count]
    best = [ends[k] for k in order]
    ends, energy = rested(shop, best, change[order], scale[order], NEXT_STEPS)
    again = np.argsort(energy, kind="stable")
    return order[again], [ends[k] for k in again]
