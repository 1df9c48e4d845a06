"""One start: small populations of packings, the broods, that moves and grafts improve.

A brood takes the best of some fresh ascents as its population: from fresh starts, or from a
clutch, points that were bred by springs alone (`packer.search.clutch`). Moves are then tried from
any of them, in batches, since several ascents at once cost little more than one on small figures. A
child that beats its parent takes its place; one that beats the worst takes the worst's. So the
leaders are refined while worse lines live on for a while, and a limb that came out well in one
packing can be grafted onto another.

A brood soon comes from one ancestor, and then hardly leaves its neighbourhood. So on figures of
few flaps several broods are given little patience each, and the best of all of them make a last
one, in which limbs are grafted from line to line.

A walk is advanced in legs of some seconds, so that its progress is seen, a lost worker costs
little and Ctrl-C keeps the best; the legs do not change where it goes.
"""

from __future__ import annotations

import time
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.search.climbing import Spot, Workshop, better
from packer.search.clutch import bred, laid, tasted
from packer.search.novelty import known_of
from packer.search.screening import screened_moves, screened_starts
from packer.search.stopping import SAME

if TYPE_CHECKING:
    from collections.abc import Sequence

    from packer.problem import Problem
    from packer.search.climbing import Foothold
    from packer.search.clutch import Clutch
    from packer.tree import Tree

TWINS: Final = 2e-5
"""Relative difference of scale below which two packings count as the same one.

Packings that differ by loose tips alone, or by a turn of the sheet, have one scale, and a climb
towards a known one ends as near to it as that (`packer.search.steps.KNOWN_GAP`).
"""
MOST_BROODS: Final = 10
KEPT: Final = 4
"""Packings of each brood that are kept for the last one; 16 in place of 4 made no difference."""
STARTS: Final = 2
"""Fresh ascents for each flap in a brood without a clutch."""
FREE_FROM: Final = 12
"""Flaps free to lie where they like, twins counted once, from which clutches are bred."""
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
        The population of the brood under way, best first.
    elders
        The best of the broods before.
    broods
        How many broods are over.
    clutch
        What the brood under way hatches from, once a scale is known.
    fresh, hatched
        Ascents of the brood under way from fresh starts, and from its clutch.
    failures
        Ascents after moves since its best improved.
    """

    index: int
    rng: np.random.Generator
    spots: tuple[Spot, ...] = ()
    elders: tuple[Spot, ...] = ()
    broods: int = 0
    clutch: Clutch | None = None
    fresh: int = 0
    hatched: int = 0
    failures: int = 0
    ascents: int = 0
    done: bool = False

    @property
    def best(self) -> Spot | None:
        """The best found."""
        leaders = (*self.spots[:1], *self.elders)
        return min(leaders, key=_rank) if leaders else None


def size_of(tree: Tree) -> int:
    """Return how many packings a population holds.

    The best of as many broods as fit in 15 s was .41, .48 and .53 % behind the best known with 8, 16 and
    32, over eight figures of 22 to 25 flaps (give or take .07). Five figures of 80 flaps were 1.1 % behind
    after 40 s with 8, .6 with 16. Two figures, two seeds each, stayed .3 and 1.7 % behind after 60 s with
    16; with 32 it was .1 and .5 in one trial, .3 and 1.6 in another. Of 89 equal flaps 11 of 133 broods
    came to the best known packing with 16, 5 of 74 with 40.
    """
    return max(16, min(32, 2 * tree.n_tips // 5)) if tree.rivers else 16


def broods_of(tree: Tree) -> int:
    """Return how many broods a walk raises before the last one.

    Ten with half the patience in place of six brought the mean gap of four seeds after 20 s from .73,
    .37 and .34 to .30, .32 and .39 % on figures of 22, 24 and 25 flaps. Five
    figures of 80 flaps were as far behind with three as with one after 40 s (.50 and .46 %).
    """
    if not tree.rivers:
        return 6
    return max(1, min(MOST_BROODS, 4000 // tree.n_tips**2))


def clutched(problem: Problem, brood: int) -> bool:
    """Whether a brood hatches from a clutch: every other one, or third, the first among them.

    Springs lead all clutches of a figure into a few valleys, and the best packing is not always
    there. With every brood, two of three, and every other one from a clutch twelve figures of 22
    and 24 flaps, one seed each, were .16, .10 and .03 % behind the best known after 20 s (.26 with
    none). On mirrored figures of 8 free flaps fresh starts alone were as quick or quicker; of one,
    they found the best known in 7 of 10 searches of 5 s, and clutches in 1.

    Of equal flaps broods from clutches came within 1e-4 of the best known packing of 71, 76, 88 and
    89 flaps 7.9, 0, 3.0 and .9 times a minute, others 3.0, 2.1, 5.5 and .45 times (29, 45, 17 and 133
    broods, 8, 3, 6 and 9 times): every third brood from a clutch.
    """
    every = 2 if problem.tree.rivers else 3
    return len(problem.leaders) >= FREE_FROM and brood % every == 0


def begin(seed: int, index: int, near: Spot | None = None) -> Walk:
    """Return the walk of a start before its first leg; each start has a stream of its own.

    A walk that begins near a given packing makes no fresh ascents: its last brood grows there.
    """
    rng = np.random.default_rng([seed, index])
    return Walk(index, rng) if near is None else Walk(index, rng, (near,), broods=MOST_BROODS)


def patience_of(tree: Tree, broods: int) -> int:
    """Return after how many ascents without a better best a brood ends, the last one later.

    What a walk finds, it finds early (see `broods_of`). Where all flaps hang on one joint no limb
    is grafted, and fresh starts find more: with 8 and last 20 ascents a flap 71 and 76 equal flaps
    missed the best known by 6e-4 and 2e-4 after 60 s; with these they came within 1e-4 of it in 13
    to 58 s with both seeds. Of 133 broods of 89 flaps as many came there a minute with 2.5, 3, 4 and 5 a
    flap (.6), with 2 and 1 fewer (.5 and .1).
    """
    last = broods >= broods_of(tree)
    if not tree.rivers:
        return (5 if last else 3) * tree.n_tips
    return min(100 + 10 * tree.n_tips, 2000) if last else 4 * tree.n_tips


def batch_of(tips: int) -> int:
    """Return how many moves are tried at once.

    A batch of 16 took .21, .45 and .41 of the time of single ascents on 12, 24 and 40 flaps, one of 8
    .53 on 60, one of 4 .75 and .80 on 80 and 89; twice as many .18, .43, .40, .53, .72 and .79.
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
    """Breed a generation of a clutch, or make a batch of ascents: fresh ones, or after moves."""
    problem, tree = quest.problem, quest.problem.tree
    if _fresh_left(walk, problem) <= 0:
        walk = _after_moves(quest, shop, walk)
    elif walk.best is None or not clutched(problem, walk.broods):
        walk = _fresh(quest, shop, walk)
    elif (clutch := walk.clutch) is None:
        walk = _lay(quest, shop, walk, walk.best.scale)
    elif not clutch.ripe(tree):
        walk = _breed(quest, shop, walk, clutch)
    else:
        walk = _hatch(quest, shop, walk, clutch)
    tired = walk.failures >= patience_of(tree, walk.broods) and _fresh_left(walk, problem) <= 0
    return _next_brood(walk, tree) if tired and not walk.done else walk


def _fresh(quest: Quest, shop: Workshop, walk: Walk) -> Walk:
    """Climb from a batch of fresh starts."""
    best = walk.best.scale if walk.best else 0.0
    count = min(batch_of(quest.problem.tree.n_tips), _fresh_left(walk, quest.problem))
    bases = screened_starts(shop, best, count, walk.rng)
    return _climbed(quest, shop, replace(walk, fresh=walk.fresh + count), bases)


def _lay(quest: Quest, shop: Workshop, walk: Walk, best: float) -> Walk:
    """Lay a clutch."""
    clutch = laid(shop, best, walk.rng)
    return _taste(quest, shop, walk, clutch, batch_of(quest.problem.tree.n_tips))


def _breed(quest: Quest, shop: Workshop, walk: Walk, clutch: Clutch) -> Walk:
    """Breed another generation of the clutch."""
    clutch = bred(shop, clutch, walk.rng)
    if clutch.changed:
        return _taste(quest, shop, walk, clutch, 1)
    return replace(walk, clutch=clutch)


def _taste(quest: Quest, shop: Workshop, walk: Walk, clutch: Clutch, count: int) -> Walk:
    """Climb from the best of a clutch before its time, to see at what scale to breed it."""
    walk = _climbed(quest, shop, walk, clutch.footholds[:count])
    return replace(walk, clutch=tasted(shop, clutch, walk.spots[0].scale))


def _hatch(quest: Quest, shop: Workshop, walk: Walk, clutch: Clutch) -> Walk:
    """Climb from a batch of the clutch."""
    after = walk.hatched + batch_of(quest.problem.tree.n_tips)
    bases = clutch.footholds[walk.hatched : after]
    return _climbed(quest, shop, replace(walk, hatched=after), bases)


def _climbed(quest: Quest, shop: Workshop, walk: Walk, bases: Sequence[Foothold]) -> Walk:
    """Return the walk after climbs from points that come from no packing."""
    size = size_of(quest.problem.tree)
    least = _least(walk.spots, size) if len(walk.spots) >= size else -np.inf
    found = shop.climb(bases, beat=least)
    spots = _joined(walk.spots, size, [None] * len(found), found, least)
    ascents = walk.ascents + len(found)
    return replace(walk, spots=spots, ascents=ascents, done=quest.meets(spots[0]))


def _after_moves(quest: Quest, shop: Workshop, walk: Walk) -> Walk:
    """Make a batch of ascents after moves."""
    tree, size = quest.problem.tree, size_of(quest.problem.tree)
    least = _least(walk.spots, size)
    known = known_of(shop, walk.spots)
    parents, bases = screened_moves(shop, walk.spots, known, batch_of(tree.n_tips), walk.rng)
    # the last digits of the best are wanted, those of the others not again
    scales = [spot.scale for spot in walk.spots[1:]]
    found = shop.climb(bases, parents, beat=least, known=scales)
    spots = _joined(walk.spots, size, parents, found, least)
    return replace(
        walk,
        spots=spots,
        failures=0 if better(spots[0], walk.spots[0]) else walk.failures + len(found),
        ascents=walk.ascents + len(found),
        done=quest.meets(spots[0]),
    )


def _joined(
    spots: tuple[Spot, ...],
    size: int,
    parents: Sequence[Spot | None],
    children: Sequence[Spot],
    least: float,
) -> tuple[Spot, ...]:
    """Return the population with the children that may join it."""
    for parent, child in zip(parents, children, strict=True):
        if child.scale <= least:
            continue  # a climb that was given up: no optimum, and its rivers were not looked at
        spots = _join(spots, size, parent, child)
    return spots


def _fresh_left(walk: Walk, problem: Problem) -> int:
    """Return how many fresh ascents the brood is still to make; the last one makes none."""
    if walk.broods >= broods_of(problem.tree):
        return 0
    if not clutched(problem, walk.broods):
        return STARTS * problem.tree.n_tips - walk.fresh
    return (
        len(walk.clutch.footholds) - walk.hatched
        if walk.clutch
        else batch_of(problem.tree.n_tips)
    )


def _next_brood(walk: Walk, tree: Tree) -> Walk:
    """Return the walk with its brood put away: before an empty one, the last one, or the end."""
    if walk.broods >= broods_of(tree):
        return replace(walk, done=True)
    walk = replace(walk, broods=walk.broods + 1, clutch=None, fresh=0, hatched=0, failures=0)
    if walk.broods < broods_of(tree):
        return replace(walk, spots=(), elders=(*walk.elders, *walk.spots[:KEPT]))
    spots: tuple[Spot, ...] = ()
    for spot in sorted((*walk.spots, *walk.elders), key=_rank):
        spots = _join(spots, size_of(tree), None, spot)
    return replace(walk, spots=spots, elders=())


def _least(spots: tuple[Spot, ...], size: int) -> float:
    """Return the scale below which a child cannot join."""
    if len(spots) < size:
        return spots[0].scale * (1 - NEAR_REACH)
    return spots[-1].scale * (1 - SPLIT_REACH if spots[-1].splits else 1.0)


def _join(
    spots: tuple[Spot, ...], size: int, parent: Spot | None, child: Spot
) -> tuple[Spot, ...]:
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
    return tuple(sorted([*kept, child], key=_rank))


def _rank(spot: Spot) -> tuple[int, float]:
    """Sort the best first."""
    return spot.splits, -spot.scale


def _same(one: Spot, other: Spot) -> bool:
    return one.splits == other.splits and abs(one.scale - other.scale) < TWINS * other.scale
