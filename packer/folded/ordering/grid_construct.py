"""The order of a box-pleated pattern as a whole: tours from many roots and places to begin at.

Where every tour leaves something out, the few layers that the best ones leave are put in exactly.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from random import Random
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.deadline import Deadline
from packer.folded.ordering.construct import joints_outwards
from packer.folded.ordering.grid_mirrored import MirroredRoots, RootedOrder
from packer.folded.ordering.grid_rings import GridRings
from packer.folded.ordering.grid_tour import grown, starts
from packer.folded.ordering.judge import Judgement, judged
from packer.folded.ordering.mirror import mirror_of, unlike_images, valleys
from packer.folded.ordering.search import put_in

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from numpy.typing import NDArray

    from packer.creases.pattern import CreasePattern
    from packer.folded.ordering.grid_tour import GridTour

MOST_STARTS: Final = 24
"""Places of one root at which tours are begun, in the first round."""

MOST_LEFT: Final = 120
"""Layers left out by a tour that are put in by a search."""

MOST_ROUNDS: Final = 12
"""Rounds through all roots; all but the first draw from all places to begin at."""


@dataclass(frozen=True, eq=False)
class GridConstruction:
    """A valid order of all layers of a box-pleated pattern.

    Attributes
    ----------
    rings
        Of the pattern, seen from the root that was taken.
    rank
        (layers,) the place of each layer in the order.
    judgement
        What the judge found, and where it looked.
    roots
        How many roots were looked at.
    unlike
        Creases whose mirror image is folded the other way; None where nothing is mirrored.
    shown
        Of how many of these it is shown that they cannot be alike while the others stay so.
    added
        How many polygons a search put in, wholly or in part.
    """

    rings: GridRings
    rank: NDArray[np.intp]
    judgement: Judgement
    roots: int
    unlike: int | None = None
    shown: int = 0
    added: int = 0


def on_grid(pattern: CreasePattern) -> bool:
    """Whether a pattern is box-pleated."""
    return "between" in pattern.roles


def constructed_on_grid(
    pattern: CreasePattern,
    deadline: Deadline | None = None,
    progress: Callable[[str], None] | None = None,
) -> GridConstruction | None:
    """Return an order of all layers of a box-pleated pattern, None where none was found.

    Joints of the tree are taken as roots from its centre outwards. The first tour wins that takes
    in all rings and breaks nothing. Where a round through all roots gives none, what its tours
    leave out is put in, the one that leaves least first; the next round begins at other places and
    breaks ties at random. In a mirrored pattern orders are looked for first, and searched then, that
    fold creases like their images.

    Parameters
    ----------
    pattern
        The creases.
    deadline
        When it gives up.
    progress
        Called with a few words whenever another root is tried.
    """
    rounds = Rounds(pattern, deadline, progress)
    if rounds.mirror is None:
        return rounds.any_order()
    roots = MirroredRoots(
        pattern, rounds.roots, rounds.mirror, rounds.deadline, rounds.progress
    )
    toured = (rounds.judged(made.rings, made.rank, len(roots.rings)) for made in roots.toured())
    known = (
        next((made for made in toured if not made.judgement.faults), None) or rounds.any_order()
    )
    if known is None or not known.unlike or rounds.deadline.over:
        return known
    try:
        more = roots.searched(RootedOrder(known.rings, known.rank))
    except KeyboardInterrupt:
        return known
    even = rounds.judged(more.rings, more.rank, known.roots)
    if even.judgement.faults:
        return known
    return replace(even, added=known.added, shown=more.shown)


class Rounds:
    """The roots of one pattern.

    Attributes
    ----------
    roots
        Joints of the tree, from its centre outwards.
    known
        The rings seen from each root, once they are known.
    partial
        For the number of each root the tour of this round that leaves least out.
    """

    def __init__(
        self,
        pattern: CreasePattern,
        deadline: Deadline | None = None,
        progress: Callable[[str], None] | None = None,
    ) -> None:
        self.pattern, self.deadline = pattern, deadline or Deadline.after()
        self.progress = progress or (lambda _: None)
        self.roots = list(joints_outwards(pattern))
        self.mirror = mirror_of(pattern)
        self.known: dict[int, GridRings] = {}
        self.partial: dict[int, GridTour] = {}

    def any_order(self) -> GridConstruction | None:
        """Return the first order found in all rounds; None where there is none."""
        for attempt in range(MOST_ROUNDS):
            made = self.first(attempt) or self.completed()
            if made is not None:
                return made
        return None

    def first(self, attempt: int) -> GridConstruction | None:
        """Return the first order that tours give; None where there is none."""
        made = (self.from_root(k, attempt) for k in range(len(self.roots)))
        return next((one for one in made if one is not None), None)

    def from_root(self, k: int, attempt: int) -> GridConstruction | None:
        """Return the first order that tours from one root give; None where none does."""
        if self.deadline.over:
            return None
        self.progress(f"layer order, root {k + 1} of {len(self.roots)}, round {attempt + 1}")
        rings = self._rings(k)
        if not rings.whole:
            return None
        for tour in self._tours(rings, attempt):
            if not tour.left:
                made = self.judged(rings, np.argsort(np.array(tour.order())), k + 1)
                if not made.judgement.faults:
                    return made
            elif k not in self.partial or len(tour.left) < len(self.partial[k].left):
                self.partial[k] = tour
        return None

    def completed(self) -> GridConstruction | None:
        """Return the first order into which what a tour leaves out could be put.

        Of each root the best tour is tried once.
        """
        for k, tour in sorted(self.partial.items(), key=lambda item: len(item[1].left)):
            left, rings = tour.left, tour.rings
            if self.deadline.over or len(left) > MOST_LEFT:
                break
            self.progress(f"layer order, {len(left)} layers left to put in")
            rank = put_in(rings.crossings, tour.order(), self.deadline)
            if rank is not None:
                added = len(set(rings.polygon_of[left].tolist()))
                made = replace(self.judged(rings, rank, k + 1), added=added)
                if not made.judgement.faults:
                    return made
        self.partial.clear()
        return None

    def _rings(self, k: int) -> GridRings:
        root = self.roots[k]
        if root not in self.known:
            self.known[root] = GridRings(self.pattern, root)
        return self.known[root]

    def _tours(self, rings: GridRings, attempt: int) -> Iterator[GridTour]:
        """Yield some tours from one root; in later rounds from places drawn at random."""
        places, random = starts(rings, deadline=self.deadline), None
        if attempt:
            random = Random(attempt)
            random.shuffle(places)
        for place in places[:MOST_STARTS]:
            if self.deadline.over:
                return
            yield grown(rings, place, random)

    def judged(self, rings: GridRings, rank: NDArray[np.intp], roots: int) -> GridConstruction:
        """Return a complete order, the ridges as valleys, with what the judge says of it."""
        ridge = np.array(rings.pattern.roles)[rings.creases[:, 0]] == "ridge"
        if valleys(rings.creases, rings.flipped, rank)[ridge].mean() < 0.5:
            rank = len(rank) - 1 - rank
        unlike = None
        if self.mirror is not None:
            unlike = len(unlike_images(rings, rank, self.mirror))
        return GridConstruction(rings, rank, judged(rings.crossings, rank), roots, unlike)
