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
from packer.folded.ordering.grid_mirror import images_of
from packer.folded.ordering.grid_rings import GridRings
from packer.folded.ordering.grid_tour import grown, starts
from packer.folded.ordering.judge import Judgement, judged
from packer.folded.ordering.mirror import mirror_of, unlike_images, valleys
from packer.folded.ordering.mirrored import SOME_CONFLICTS, MirroredSearch
from packer.folded.ordering.search import put_in

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from numpy.typing import NDArray

    from packer.creases.pattern import CreasePattern
    from packer.folded.ordering.grid_tour import GridTour

MOST_STARTS: Final = 24
"""Places of one root at which tours are begun, in the first round."""

FEW_STARTS: Final = 3
"""The same once an order is known, and others are looked at only to compare."""

MOST_LEFT: Final = 120
"""Layers left out by a tour that are put in by a search."""

MOST_COMPARED: Final = 6
MOST_COMPARED_FACES: Final = 30_000
"""Roots of a mirrored pattern whose orders are compared by how many creases are unlike their image, and
the faces of all these together: a root takes about a second for 10,000."""

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
    in all rings and breaks nothing; in a mirrored pattern rings are hung in pairs where they can be. Where a round through all roots gives none, what its tours
    leave out is put in, the one that leaves least first; the next round begins at other places and
    breaks ties at random.

    Parameters
    ----------
    pattern
        The creases.
    deadline
        When it gives up.
    progress
        Called with a few words whenever another root is tried.
    """
    search = Rounds(pattern, deadline, progress)
    for attempt in range(MOST_ROUNDS):
        made = search.most_even(attempt) or search.completed()
        if made is not None:
            return search.mirrored(made)
    return None


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

    def most_even(self, attempt: int) -> GridConstruction | None:
        """Return the best of the first few orders that tours give; None where there is none.

        Without a mirror line, and after the first round, the first.
        """
        best: GridConstruction | None = None
        compared, faces = 0, len(self.pattern.faces)
        for k in range(len(self.roots)):
            made = self.from_root(k, attempt, MOST_STARTS if best is None else FEW_STARTS)
            compared += best is not None or made is not None
            if made is not None and (best is None or (made.unlike or 0) < (best.unlike or 0)):
                best = made
            if best is None:
                continue
            most = min(MOST_COMPARED, MOST_COMPARED_FACES // faces)
            if not best.unlike or attempt or compared >= most:
                break
        return best

    def from_root(
        self, k: int, attempt: int, most: int = MOST_STARTS
    ) -> GridConstruction | None:
        """Return the first order that so many tours from one root give; None where none does."""
        if self.deadline.over:
            return None
        self.progress(f"layer order, root {k + 1} of {len(self.roots)}, round {attempt + 1}")
        root = self.roots[k]
        if root not in self.known:
            self.known[root] = GridRings(self.pattern, root)
        rings = self.known[root]
        if not rings.whole:
            return None
        for tour in self._tours(rings, attempt, most):
            if not tour.left:
                made = self._judged(rings, np.argsort(np.array(tour.order())), k + 1)
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
                made = replace(self._judged(rings, rank, k + 1), added=added)
                if not made.judgement.faults:
                    return made
        self.partial.clear()
        return None

    def mirrored(self, made: GridConstruction) -> GridConstruction:
        """Return an order like another that folds as many creases as can be like their images."""
        if self.mirror is None or not made.unlike or self.deadline.over:
            return made
        self.progress("layer order, folds like their mirror images")
        search = MirroredSearch(made.rings, self.mirror, self.deadline)
        best = search.all_alike(np.argsort(made.rank).tolist())
        rank, shown = best.rank, 0
        if rank is None:
            most = search.most_alike(made.rank, SOME_CONFLICTS)
            rank, shown = most.rank, most.shown
        even = replace(
            self._judged(made.rings, rank, made.roots), added=made.added, shown=shown
        )
        return made if even.judgement.faults else even

    def _tours(self, rings: GridRings, attempt: int, most: int) -> Iterator[GridTour]:
        """Yield so many tours from one root; in later rounds from places drawn at random."""
        images = None if attempt else images_of(rings, self.mirror)
        places, random = starts(rings, images, self.deadline), None
        if attempt:
            random = Random(attempt)
            random.shuffle(places)
        for place in places[:most]:
            if self.deadline.over:
                return
            yield grown(rings, place, random, images)

    def _judged(self, rings: GridRings, rank: NDArray[np.intp], roots: int) -> GridConstruction:
        """Return a complete order, the ridges as valleys, with what the judge says of it."""
        ridge = np.array(rings.pattern.roles)[rings.creases[:, 0]] == "ridge"
        if valleys(rings.creases, rings.flipped, rank)[ridge].mean() < 0.5:
            rank = len(rank) - 1 - rank
        unlike = None
        if self.mirror is not None:
            unlike = len(unlike_images(rings, rank, self.mirror))
        return GridConstruction(rings, rank, judged(rings.crossings, rank), roots, unlike)
