"""One start: a small population of packings that moves and grafts improve.

A start takes the best of some fresh ascents as its population. Moves are then tried from any of
them, in batches, since several ascents at once cost little more than one on small figures. A
child that beats its parent takes its place; one that beats the worst takes the worst's. So the
leaders are refined while worse lines live on for a while, and a limb that came out well in one
packing can be grafted onto another.

A walk is advanced in legs of some seconds, so that its progress is seen, a lost worker costs
little and Ctrl-C keeps the best; the legs do not change where it goes.
"""

from __future__ import annotations

import time
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.search.climbing import Spot, Workshop, better
from packer.search.screening import screened_move, screened_start
from packer.search.stopping import SAME

if TYPE_CHECKING:
    from packer.problem import Problem

SIZE: Final = 16
"""Packings in a population."""
TWINS: Final = 1e-7
"""Relative difference of scale below which two packings count as the same one.

Packings that differ by loose tips alone, or by a turn of the sheet, have one scale to the last
digits of the local solver.
"""
SPLIT_REACH: Final = 0.1
"""Loss of scale up to which a packing with fewer split rivers is looked for."""
NEAR_REACH: Final = 0.1
"""Loss of scale up to which a packing joins a population that is not yet full."""


@dataclass(frozen=True, eq=False)
class Quest:
    """What a walk looks for.

    Attributes
    ----------
    problem
        What is packed.
    whole_rivers
        Whether a packing with fewer split rivers beats any of greater scale.
    enough
        A scale that ends the walk: a proven upper bound.
    """

    problem: Problem
    whole_rivers: bool = False
    enough: float = np.inf

    def meets(self, spot: Spot) -> bool:
        """Whether nothing better can be found."""
        return spot.splits == 0 and spot.scale >= self.enough * (1 - SAME)


@dataclass(frozen=True, eq=False)
class Walk:
    """The state of one start between two legs.

    Attributes
    ----------
    spots
        The population, best first.
    near
        Whether it began near a given packing.
    failures
        Ascents since the best improved.
    """

    index: int
    rng: np.random.Generator
    spots: tuple[Spot, ...] = ()
    near: bool = False
    failures: int = 0
    ascents: int = 0
    done: bool = False

    @property
    def best(self) -> Spot | None:
        """The best of the population."""
        return self.spots[0] if self.spots else None


def fresh_of(tips: int) -> int:
    """Return how many fresh ascents a walk begins with.

    On two figures of 80 flaps, two seeds each, 192 screened ones in place of 48 unscreened raised
    the scale in 15-20 s from .0611 to .0626 and from .0222 to .0224.
    """
    return 48 + 2 * tips


def begin(seed: int, index: int, near: Spot | None = None) -> Walk:
    """Return the walk of a start before its first leg; each start has a stream of its own.

    A walk that begins near a given packing makes no fresh ascents: its population grows there.
    """
    rng = np.random.default_rng([seed, index])
    return Walk(index, rng) if near is None else Walk(index, rng, (near,), near=True)


def patience_of(tips: int) -> int:
    """Return after how many ascents without a better best a walk ends.

    Traces on two figures of 80 flaps were flat in their second half; the longest waits logged were
    992 and 1028 ascents, in one walk of 25 and one of 80 flaps that would have waited 1000 and 1500.
    """
    return min(100 + 75 * tips, 2000)


def batch_of(tips: int) -> int:
    """Return how many moves are tried at once.

    A batch of 16 took 0.27, 0.31, 0.34, 0.37 and 0.45 of the time of single ascents on 5, 10,
    20, 30 and 40 flaps; a batch of 4 won nothing on 80 and more.
    """
    return max(1, min(16, 25_600 // tips**2))


def advance(quest: Quest, walk: Walk, seconds: float) -> Walk:
    """Return the walk after some more seconds, or at its end; at least one batch later."""
    end = time.monotonic() + seconds
    shop = Workshop(quest.problem, quest.whole_rivers)
    while not walk.done:
        walk = _batch(quest, shop, walk)
        if time.monotonic() > end:
            break
    return walk


def _batch(quest: Quest, shop: Workshop, walk: Walk) -> Walk:
    """Try a batch of fresh starts or of moves."""
    rng, tips = walk.rng, quest.problem.tree.n_tips
    count, fresh = batch_of(tips), 0 if walk.near else fresh_of(tips) - walk.ascents
    if fresh > 0:
        least = _least(walk.spots) if len(walk.spots) >= SIZE else -np.inf
        best = walk.best.scale if walk.best else 0.0
        bases = [screened_start(shop, best, rng) for _ in range(min(count, fresh))]
        children = [(None, spot) for spot in shop.climb(bases, beat=least)]
    else:
        least = _least(walk.spots)
        picked = [walk.spots[k] for k in rng.integers(len(walk.spots), size=count)]
        mates = [shop.points(spot) for spot in walk.spots]
        bases = [screened_move(shop, spot, mates, rng) for spot in picked]
        found = shop.climb(bases, picked, beat=least)
        children = list(zip(picked, found, strict=True))
    spots = walk.spots
    for parent, child in children:
        if child.scale <= least:
            continue  # a climb that was given up: no optimum, and its rivers were not looked at
        spots = _join(spots, parent, child)
    better_best = not walk.spots or better(spots[0], walk.spots[0])
    failures = 0 if better_best else walk.failures + len(children)
    return replace(
        walk,
        spots=spots,
        failures=failures,
        ascents=walk.ascents + len(children),
        done=quest.meets(spots[0]) or (fresh <= 0 and failures >= patience_of(tips)),
    )


def _least(spots: tuple[Spot, ...]) -> float:
    """Return the scale below which a child cannot join."""
    if len(spots) < SIZE:
        return spots[0].scale * (1 - NEAR_REACH)
    return spots[-1].scale * (1 - SPLIT_REACH if spots[-1].splits else 1.0)


def _join(spots: tuple[Spot, ...], parent: Spot | None, child: Spot) -> tuple[Spot, ...]:
    """Return the population with a child in its parent's place, in the worst's, or left out."""
    full = len(spots) >= SIZE
    if full and not better(child, spots[-1]):
        return spots
    if any(_same(child, spot) for spot in spots):
        return spots
    kept = list(spots)
    if parent in kept and better(child, parent):
        kept.remove(parent)
    elif full:
        kept.pop()
    return tuple(sorted([*kept, child], key=lambda spot: (spot.splits, -spot.scale)))


def _same(one: Spot, other: Spot) -> bool:
    return one.splits == other.splits and abs(one.scale - other.scale) < TWINS * other.scale
