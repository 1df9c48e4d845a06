"""One start: a walk through broods, small populations of packings that moves and grafts improve.

A brood takes the best of some ascents as its population: from fresh starts, from a clutch, points
that were bred by springs alone (`packer.search.memetic.relaxed_population`), or from mirrored packings that were let go
(`packer.search.memetic.symmetric_subspace`). Moves are then tried from any of them (`packer.search.memetic.population`), and
a limb that came out well in one packing can be grafted onto another.

A brood soon comes from one ancestor, and then hardly leaves its neighbourhood. So several broods
are given little patience each, and the best of all of them make a last one, in which limbs are
grafted from line to line.

A walk is advanced in legs of some seconds, so that its progress is seen, a lost worker costs
little and Ctrl-C keeps the best; the legs do not change where it goes.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from packer.local_solver.solver import LocalSolver, better
from packer.search.memetic.population import climbed, moved_on, rank, united
from packer.search.memetic.preselection import screened_starts
from packer.search.memetic.relaxed_population import bred, laid, tasted
from packer.search.memetic.symmetric_subspace import (
    SymmetricSearch,
    let_go,
    mirrorable,
    narrowed,
    searched,
)
from packer.units import SAME_SCALE

if TYPE_CHECKING:
    from collections.abc import Sequence

    from packer.deadline import Deadline
    from packer.local_solver.solver import LocalOptimum, StartPoint
    from packer.model.problem import Problem
    from packer.model.tree import Tree
    from packer.search.memetic.relaxed_population import RelaxedPopulation

Source = Literal["fresh", "clutch", "mirrored", "elders"]

MOST_BROODS: Final = 10
CYCLE: Final = 4
"""Where all flaps hang on one joint the sources of broods return after so many."""
KEPT: Final = 4
"""Packings of each brood that are kept for the last one; 16 in place of 4 made no difference."""
MOST_KEPT: Final = 16
"""The same on large figures."""
LARGE: Final = 45
"""Flaps, of figures with rivers, from which broods are so slow that few fit in a minute."""
STARTS: Final = 2
"""Fresh ascents for each flap in a brood without a clutch."""
FREE_FROM: Final = 12
"""Flaps free to lie where they like, twins counted once, from which clutches are bred."""


@dataclass(frozen=True, eq=False)
class SearchGoal:
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

    def meets(self, spot: LocalOptimum) -> bool:
        """Whether nothing better can be found."""
        return spot.splits == 0 and spot.scale >= self.enough * (1 - SAME_SCALE)


@dataclass(frozen=True, eq=False)
class Run:
    """The state of one start between two legs.

    Attributes
    ----------
    spots
        The population of the brood under way, best first.
    elders
        The best of the broods before.
    broods
        How many broods are over.
    clutch, mirrored
        What the brood under way hatches from: once a scale is known, or among mirrored packings.
    fresh, hatched
        Ascents of the brood under way from fresh starts, and from its clutch.
    failures
        Ascents after moves since its best improved.
    """

    index: int
    rng: np.random.Generator
    spots: tuple[LocalOptimum, ...] = ()
    elders: tuple[LocalOptimum, ...] = ()
    broods: int = 0
    clutch: RelaxedPopulation | None = None
    mirrored: SymmetricSearch = field(default_factory=SymmetricSearch)
    fresh: int = 0
    hatched: int = 0
    failures: int = 0
    solves: int = 0
    done: bool = False

    @property
    def best(self) -> LocalOptimum | None:
        """The best found."""
        leaders = (*self.spots[:1], *self.elders)
        return min(leaders, key=rank) if leaders else None


def large(tree: Tree) -> bool:
    """Whether a walk is two quick broods, from a clutch each, and a long last one.

    Into which valley a clutch leads shows when it hatches. Of a random tree of 80 flaps four seeds were
    1.6, .4, 1.7 and .5 % behind the best of all after 60 s with a brood from a clutch, one from fresh
    starts, both of as much patience as on small figures, and the last; .8, .4, .8 and .5 % with a second
    clutch in place of fresh starts; .7, 0, .7 and .5 % with two quick ones.
    """
    return bool(tree.rivers) and tree.n_tips >= LARGE


def broods_of(tree: Tree) -> int:
    """Return how many broods a walk raises before the last one.

    Ten with half the patience in place of six brought the mean gap of four seeds after 20 s from .73,
    .37 and .34 to .30, .32 and .39 % on figures of 22, 24 and 25 flaps. Five
    figures of 80 flaps were as far behind with three as with one after 40 s (.50 and .46 %), but see
    `large`.
    """
    if not tree.rivers:
        return 2 * CYCLE
    return 2 if large(tree) else min(MOST_BROODS, 4000 // tree.n_tips**2)


def source_of(problem: Problem, brood: int) -> Source:
    """Return where the first packings of a brood come from.

    Springs lead all clutches of a figure into a few valleys, and the best packing is not always
    there. With every brood, two of three, and every other one from a clutch twelve figures of 22
    and 24 flaps, one seed each, were .16, .10 and .03 % behind the best known after 20 s (.26 with
    none). On mirrored figures of 8 free flaps fresh starts alone were as quick or quicker; of one,
    they found the best known in 7 of 10 searches of 5 s, and clutches in 1.

    Of equal flaps some are found by one way and some by another. A brood from a clutch, from mirrored
    packings, or from fresh starts came within 1e-4 of the best known 0 times of 22, 3 of 21 and 4 of 21
    on 76 flaps (5.4, 5.6 and 2.9 s each), 4 of 8, 2 of 7 and 2 of 7 on 88 (5.9, 8.0 and 6.5 s); on 89 6
    of 50 and 5 of 83 from a clutch and fresh starts, 16 of 44 times what mirrored packings became when
    they were let go. So they take turns, fresh starts twice.
    """
    if brood >= broods_of(problem.tree):
        return "elders"
    free = len(problem.leaders) >= FREE_FROM
    if problem.tree.rivers:
        hatch = brood % 2 == 0 or large(problem.tree)
        return "clutch" if free and hatch else "fresh"
    turn = brood % CYCLE
    if turn == 1 and mirrorable(problem):
        return "mirrored"
    return "clutch" if free and turn == 0 else "fresh"


def begin(seed: int, index: int, near: LocalOptimum | None = None) -> Run:
    """Return the walk of a start before its first leg; each start has a stream of its own.

    A walk that begins near a given packing makes no fresh ascents: its last brood grows there.
    """
    rng = np.random.default_rng([seed, index])
    return Run(index, rng) if near is None else Run(index, rng, (near,), broods=MOST_BROODS)


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
    if last:
        return min(100 + 10 * tree.n_tips, 2000)
    return tree.n_tips // 2 if large(tree) else 4 * tree.n_tips


def advance(goal: SearchGoal, run: Run, deadline: Deadline) -> Run:
    """Return the run at the deadline, or at its end if that is sooner; at least a step later."""
    shop = LocalSolver(goal.problem, goal.whole_rivers)
    while not run.done:
        run = _batch(goal, shop, run)
        if deadline.over:
            break
    return run


def stepped(goal: SearchGoal, run: Run) -> Run:
    """Return the run one step later: after one batch of ascents, or a little breeding."""
    return run if run.done else _batch(goal, LocalSolver(goal.problem, goal.whole_rivers), run)


def _batch(quest: SearchGoal, shop: LocalSolver, walk: Run) -> Run:
    """Make a batch of ascents, or breed what the brood hatches from."""
    tree = quest.problem.tree
    walk = _moved(shop, walk) if _hatched(shop, walk) else _hatch(shop, walk)
    if walk.spots and quest.meets(walk.spots[0]):
        return replace(walk, done=True)
    tired = walk.failures >= patience_of(tree, walk.broods)
    return _next_brood(walk, tree) if tired and _hatched(shop, walk) else walk


def _hatched(shop: LocalSolver, walk: Run) -> bool:
    """Whether the brood goes on by moves alone."""
    match source_of(shop.problem, walk.broods):
        case "clutch":
            return walk.clutch is not None and walk.hatched >= len(walk.clutch.start_points)
        case "mirrored":
            return walk.mirrored.spent
        case "fresh":
            return walk.fresh >= STARTS * shop.problem.tree.n_tips
        case _:
            return True


def _hatch(shop: LocalSolver, walk: Run) -> Run:
    """Take a batch of packings into the brood that come from none of its own, or breed for them."""
    source = source_of(shop.problem, walk.broods)
    if source == "fresh" or walk.best is None:
        return _fresh(shop, walk)
    if source == "mirrored":
        return _mirror(shop, walk, walk.best.scale)
    if walk.clutch is None:
        clutch = laid(shop, walk.best.scale, walk.rng)
        return _taste(shop, walk, clutch, shop.at_once)
    if not walk.clutch.ripe(shop.problem.tree):
        return _breed(shop, walk, walk.clutch)
    after = walk.hatched + shop.at_once
    bases = walk.clutch.start_points[walk.hatched : after]
    return _climbed(shop, replace(walk, hatched=after), bases)


def _fresh(shop: LocalSolver, walk: Run) -> Run:
    """Climb from a batch of fresh starts."""
    best = walk.best.scale if walk.best else 0.0
    count = min(shop.at_once, STARTS * shop.problem.tree.n_tips - walk.fresh)
    bases = screened_starts(shop, best, count, walk.rng)
    return _climbed(shop, replace(walk, fresh=walk.fresh + count), bases)


def _breed(shop: LocalSolver, walk: Run, clutch: RelaxedPopulation) -> Run:
    """Breed another generation of the clutch."""
    clutch = bred(shop, clutch, walk.rng)
    return _taste(shop, walk, clutch, 1) if clutch.changed else replace(walk, clutch=clutch)


def _taste(shop: LocalSolver, walk: Run, clutch: RelaxedPopulation, count: int) -> Run:
    """Climb from the best of a clutch before its time, to see at what scale to breed it."""
    walk = _climbed(shop, walk, clutch.start_points[:count])
    return replace(walk, clutch=tasted(shop, clutch, walk.spots[0].scale))


def _mirror(shop: LocalSolver, walk: Run, best: float) -> Run:
    """Go on among mirrored packings, and let them go where that has found what it will."""
    mirrored, count = searched(shop.problem, walk.mirrored, best, walk.rng)
    walk = replace(walk, mirrored=mirrored, solves=walk.solves + count)
    if not mirrored.ripe(shop.problem.tree):
        return walk
    walk = _climbed(shop, walk, let_go(shop, mirrored, walk.rng))
    return replace(walk, mirrored=narrowed(shop.problem, mirrored))


def _climbed(shop: LocalSolver, walk: Run, bases: Sequence[StartPoint]) -> Run:
    """Return the walk after climbs from points that come from no packing of its brood."""
    spots = climbed(shop, walk.spots, bases)
    return replace(walk, spots=spots, solves=walk.solves + len(bases))


def _moved(shop: LocalSolver, walk: Run) -> Run:
    """Make a batch of ascents after moves."""
    spots, count = moved_on(shop, walk.spots, walk.rng)
    failures = 0 if better(spots[0], walk.spots[0]) else walk.failures + count
    return replace(walk, spots=spots, failures=failures, solves=walk.solves + count)


def _next_brood(walk: Run, tree: Tree) -> Run:
    """Return the walk with its brood put away: before an empty one, the last one, or the end."""
    if walk.broods >= broods_of(tree):
        return replace(walk, done=True)
    elders = (*walk.elders, *walk.spots[: MOST_KEPT if large(tree) else KEPT])
    after = Run(walk.index, walk.rng, broods=walk.broods + 1, solves=walk.solves)
    if after.broods < broods_of(tree):
        return replace(after, elders=elders)
    return replace(after, spots=united(tree, (*walk.spots, *walk.elders)))
