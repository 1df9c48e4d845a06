"""Screening: of several points to climb from, only the most promising ones are climbed from.

An ascent costs many times what it takes to propose points, and where the points overlap much it
seldom ends well. The overlap is measured by `strain`, the energy of springs along the paths that
are too short at a wished scale. Over 300 starts each of a figure of 25 flaps, a symmetric one of 80
and another of 80 the rank correlation of strain and the scale reached was -0.60, -0.40 and -0.75; over
1200 moves each that led away from the packings known, -0.76, -0.84 and -0.76. Of the 525 of these
that improved a packing 329 were among the three eighths with the least strain of their kind.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from packer.search.moves import Site, pick_move
from packer.search.starts import fresh_points

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.search.climbing import Foothold, Spot, Workshop
    from packer.search.novelty import Known
    from packer.search.program import Program

START_AIM: Final = 0.75
"""Scale at which starts are compared, as a share of the best so far.

At 0.5, 0.75 and 1 the rank correlations were within 0.05 of each other on 80 flaps; on 25 flaps
0.44, 0.55 and 0.60.
"""
MOVE_AIM: Final = 1.02
"""Scale at which the outcomes of a move are compared, as a multiple of the packing's own."""
MOST_TRIES: Final = 3
"""Tries of a move, as a multiple of those wanted, in search of outcomes that lead anywhere new."""
UNCHANGED: Final = 1e-6
"""Relative change of strain below which a move has done nothing but exchange equal flaps."""


def starts_of(tips: int) -> int:
    """Return how many starts are proposed for each that is climbed from."""
    return max(1, min(8, tips // 4))


def tries_of(tips: int, rivers: int) -> int:
    """Return how often a move is tried for each outcome that is climbed from.

    Two figures of 80 flaps, two seeds each, were 1.4, 0.8 and 1.0 % behind the best known after 40 s
    with 2, 4 and 8 tries. Where all flaps hang on one
    joint, several tries spoil the shakes: 90 equal flaps then stayed 0.16 % short for 14 s, and
    reached the best known in 12 s with one.
    """
    return max(1, min(4, tips // 5)) if rivers else 1


def screened_start(shop: Workshop, best: float, rng: np.random.Generator) -> Foothold:
    """Return the least strained of some fresh starts.

    Parameters
    ----------
    shop
        The problem.
    best
        The largest scale so far; where it is 0 all starts are alike.
    rng
        Makes the starts.
    """
    count = starts_of(shop.problem.tree.n_tips) if best > 0 else 1
    bases = [shop.foothold(fresh_points(shop.problem, rng), rng) for _ in range(count)]
    return min(
        bases,
        key=lambda base: strain(
            base.program, base.z, np.zeros(base.program.n_w), START_AIM * best
        ),
    )


def screened_move(
    shop: Workshop, spot: Spot, known: Known, rng: np.random.Generator
) -> Foothold:
    """Return the least strained of some outcomes of one random move that lead anywhere new.

    Parameters
    ----------
    shop
        The problem.
    spot
        Where the move starts from.
    known
        The population, from which limbs are taken and which is not to be found again.
    rng
        Chooses the move and makes it.
    """
    site = Site(shop.problem, shop.points(spot), spot.scale, tuple(known.points))
    goal = MOVE_AIM * spot.scale
    before = strain(shop.program(spot.choice), spot.z, spot.change, goal)
    move = pick_move(rng)
    tries = tries_of(shop.problem.tree.n_tips, len(shop.problem.tree.rivers))
    best, least = None, np.inf
    for _ in range(MOST_TRIES * tries):
        base = shop.foothold(move(site, rng), rng)
        if known.has_near(base.program.tips(base.z)):
            continue
        found = strain(base.program, base.z, spot.change, goal)
        if found < least and abs(found - before) > UNCHANGED * before:
            best, least = base, found
        tries -= 1
        if not tries:
            break
    return best or base


def strain(
    program: Program, z: NDArray[np.float64], change: NDArray[np.float64], scale: float
) -> float:
    """Return the sum of squares of what the paths lack at a scale, in squared sheet units.

    Parameters
    ----------
    program, z, change
        A problem, coordinates, and changes of length in the figure's unit.
    scale
        Wished.
    """
    slack = program.slack(z, change, scale)
    lack = slack[slack < 0]
    return float(lack @ lack)
