"""One start: a few short climbs by moves, then a long one from the best of them.

A short run takes the best of some fresh starts and keeps moves that improve on it. The long run
also keeps slightly worse packings, and returns to the best when it gets lost. Moves are tried in
batches, since several ascents at once cost little more than one on small figures.

A walk is advanced in legs of some seconds, so that its progress is seen, a lost worker costs
little and Ctrl-C keeps the best; the legs do not change where it goes.
"""

from __future__ import annotations

import time
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.search.climbing import Spot, Workshop, better
from packer.search.moves import Site, propose
from packer.search.starts import fresh_points
from packer.search.stopping import SAME

if TYPE_CHECKING:
    from packer.problem import Problem

FIRST: Final = 6
"""Fresh starts of which a short run takes the best."""
SHORT_RUNS: Final = 4
STRAY: Final = 0.005
"""How much worse than the best a packing may be for a long run to go on from it.

On a random tree of 20 flaps the median gap to the best known after 4 CPU s was 0.19 % with 0.005,
0.84 % with 0 and 0.72 % with 0.02 (3 seeds each).
"""
SPLIT_REACH: Final = 0.1
"""Loss of scale up to which a packing with fewer split rivers is looked for."""


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
    best, here
        The best spot of all runs, and the one that moves are made from; None before a run.
    top
        The best spot of the run under way.
    run
        How many runs are over: the last one is long.
    failures
        Moves since the run's last improvement.
    passed_over
        The largest scale met with split rivers, where only whole ones are wanted.
    """

    index: int
    rng: np.random.Generator
    best: Spot | None = None
    top: Spot | None = None
    here: Spot | None = None
    run: int = 0
    failures: int = 0
    ascents: int = 0
    passed_over: float = 0.0
    done: bool = False


def begin(seed: int, index: int, near: Spot | None = None) -> Walk:
    """Return the walk of a start before its first leg; each start has a stream of its own.

    A walk that begins near a given packing is one long run from there.
    """
    rng = np.random.default_rng([seed, index])
    if near is None:
        return Walk(index, rng)
    return Walk(index, rng, best=near, top=near, here=near, run=SHORT_RUNS)


def patience_of(tips: int, long: bool) -> int:
    """Return after how many failed moves a run ends."""
    return 100 + 20 * tips if long else 25 + 3 * tips


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
    """Begin a run, or try a batch of moves."""
    if walk.top is None or walk.here is None:
        fresh = [fresh_points(quest.problem, walk.rng) for _ in range(FIRST)]
        found = shop.climb(fresh, walk.rng)
        top = here = shop.best_of(found)
        failures = 0
    else:
        site = Site(quest.problem, shop.points(walk.here), walk.here.scale)
        tried = [propose(site, walk.rng) for _ in range(batch_of(len(site.points)))]
        stray = STRAY if walk.run >= SHORT_RUNS else 0.0
        reach = SPLIT_REACH if walk.top.splits else stray
        found = shop.climb(tried, walk.rng, walk.here.change, beat=walk.top.scale * (1 - reach))
        top, here, failures = _accept(shop, walk, found, stray)
    return _judge(
        quest, replace(walk, ascents=walk.ascents + len(found)), found, top, here, failures
    )


def _accept(
    shop: Workshop, walk: Walk, found: list[Spot], stray: float
) -> tuple[Spot, Spot, int]:
    """Return the run's best spot, where to go on from, and the failures so far."""
    top, here = walk.top, walk.here
    assert top is not None
    assert here is not None
    moved = [spot for spot in found if abs(spot.scale - here.scale) > SAME * here.scale]
    failures = walk.failures + len(found)
    if not moved:
        return top, here, failures
    spot = shop.best_of(moved)
    if better(spot, top):
        return spot, spot, 0
    near = spot.splits <= top.splits and spot.scale > top.scale * (1 - stray)
    return top, (spot if near else top), failures


def _judge(
    quest: Quest, walk: Walk, found: list[Spot], top: Spot, here: Spot, failures: int
) -> Walk:
    """Return the walk after a batch: in the same run, at the next, or done."""
    best = top if walk.best is None or better(top, walk.best) else walk.best
    split = [spot.scale for spot in found if spot.splits]
    walk = replace(
        walk,
        best=best,
        top=top,
        here=here,
        failures=failures,
        passed_over=max([walk.passed_over, *split]),
        done=quest.meets(best),
    )
    if failures < patience_of(quest.problem.tree.n_tips, walk.run >= SHORT_RUNS):
        return walk
    run = walk.run + 1
    if run < SHORT_RUNS:
        return replace(walk, run=run, top=None, here=None, failures=0)
    if run == SHORT_RUNS:
        return replace(walk, run=run, top=best, here=best, failures=0)
    return replace(walk, run=run, done=True)
