"""Tours of a mirrored box-pleated pattern that fold creases like their images where they can.

Rings are hung in mirror pairs, or in themselves on the mirror line, as long as there are such places. What is
left goes where fewest creases that are known with their image are folded otherwise than it, so that
little is left to a search (`packer.folded.ordering.mirrored`).
"""

from __future__ import annotations

from heapq import heappop
from typing import TYPE_CHECKING

import numpy as np

from packer.folded.ordering.grid_rings import SPACE
from packer.folded.ordering.grid_tour import AFTER, BEFORE, OVER, GridTour, Move, TourGrowth
from packer.folded.ordering.mirror import crease_pairs

if TYPE_CHECKING:
    from random import Random

    from numpy.typing import NDArray

    from packer.folded.ordering.grid_images import GridImages
    from packer.folded.ordering.grid_rings import GridRings
    from packer.folded.ordering.grid_tour import Place


def grown_mirrored(
    rings: GridRings,
    start: tuple[int, int],
    images: GridImages,
    weight: float = 0.0,
    random: Random | None = None,
) -> GridTour:
    """Return a tree of as many rings as hang together, in mirror pairs where they can be.

    Parameters
    ----------
    rings
        Of a pattern.
    start
        The ring to begin with and its cut.
    images
        Of the rings.
    weight
        How many creases unlike their image one more crease above a place counts for, where a ring has
        no place on the line or in a pair: what lies under many leaves fewer places to others.
    random
        Decides between places that are as good; by default the oldest goes first.
    """
    growth = MirroredTourGrowth(GridTour(rings, start[0]), images, weight, random)
    return growth.from_cut(start[1])


class MirroredTourGrowth(TourGrowth):
    """A tree of rings that grows in mirror pairs.

    Attributes
    ----------
    aside
        Moves whose image cannot be made as well.
    """

    def __init__(
        self, tour: GridTour, images: GridImages, weight: float, random: Random | None
    ) -> None:
        super().__init__(tour, random)
        self.images, self.weight, self.aside = images, weight, list[Move]()
        one, two = crease_pairs(self.rings, images.mirror)
        self._pairs = np.stack([one[:, 1:], two[:, 1:]], axis=1)
        self._turned = self.rings.flipped[one[:, 1]] ^ self.rings.flipped[two[:, 1]]
        ring = self.rings.ring_of[self._pairs].reshape(-1, 4)
        self._rows = [
            np.flatnonzero((ring == k).any(axis=1)) for k in range(len(self.rings.all))
        ]

    def offer(self, move: Move) -> None:
        """Take a move in that can be made now."""
        if not self.fits(move):
            return
        if self._even(move):
            super().offer(move)
        else:
            self.aside.append(move)

    def run(self) -> None:
        """Hang rings as long as one can be."""
        while self.queue or self.aside:
            if self.queue:
                self._hung_with_image(heappop(self.queue)[-1])
                continue
            self.aside = [move for move in self.aside if self.fits(move)]
            if not any(self._hung_with_image(move) for move in self._best_first()):
                return

    def _hung_with_image(self, move: Move) -> bool:
        """Hang a ring if it can be, and its image if that can be."""
        if not self.fits(move) or not self.hung(move):
            return False
        image = self._image(move)
        if image is not None and self.fits(image):
            self.hung(image)
        return True

    def _best_first(self) -> list[Move]:
        """Return the moves aside by how many creases they fold otherwise than their image."""
        order = self.tour.order()
        places = self.tour.places((move.ring, move.k, move.where) for move in self.aside)
        rank = np.full(len(self.rings.polygon_of), np.nan)
        rank[order] = np.arange(len(order))
        rows = []
        for k, move in enumerate(self.aside):
            above = move.bits.bit_count()
            cost = self.adds(move, rank, places) + self.weight * above
            rows.append((cost, above, self.chance(), k))
        return [self.aside[k] for *_, k in sorted(rows)]

    def adds(
        self,
        move: Move,
        rank: NDArray[np.floating],
        places: dict[Place, int],
    ) -> int:
        """Return how many creases a move adds that are folded otherwise than their image.

        Counted are those of the ring whose layers, and their images, are all in the tree then.

        Parameters
        ----------
        move
            A ring and where it would be hung.
        rank
            (layers,) the place of each layer in the tree's order, NaN of others.
        places
            Of the tree (`GridTour.places`).
        """
        layers = self.rings.all[move.other].layers
        walk = [x for x in (*layers[move.cut :], *layers[: move.cut]) if x != SPACE]
        below = places[move.ring, move.k, move.where] - 1
        rank[walk] = below + np.arange(1, len(walk) + 1) / (len(walk) + 1)
        rows = self._rows[move.other]
        first, second = rank[self._pairs[rows]].T
        rank[walk] = np.nan
        known = ~np.isnan(first + second).any(axis=0)
        here, there = first < second
        return int((known & (here ^ there ^ self._turned[rows])).sum())

    def _at(self, move: Move) -> int:
        """Return the place at which a ring is hung, counted from the other's first entry."""
        return (self.tour.cuts[move.ring] + move.k) % len(self.rings.all[move.ring].layers)

    def _even(self, move: Move) -> bool:
        """Whether what is hung can have its image at the place's image."""
        images, at = self.images, self._at(move)
        if images.ring[move.other] == move.other:
            return images.on_line(move.ring, at) and images.on_line(move.other, move.cut)
        own = images.ring[move.ring] == move.ring and images.place(move.ring, at) == at
        return move.where != OVER or not own

    def _image(self, move: Move) -> Move | None:
        """Return the image of a ring that was hung; None where there is no such place."""
        images = self.images
        ring, other = images.ring[move.ring], images.ring[move.other]
        if ring not in self.tour.cuts:
            return None
        here = self.rings.all[ring]
        at = images.place(move.ring, self._at(move))
        k = (at - self.tour.cuts[ring]) % len(here.layers)
        cut = images.place(move.other, move.cut)
        if move.where == OVER:
            if not k or (other, cut) not in self.rings.at_gap[here.gaps[at]]:
                return None
        elif not k and move.where == BEFORE:
            k = len(here.layers)  # behind the last entry, not before the first
        where = {AFTER: BEFORE, OVER: OVER, BEFORE: AFTER}[move.where]
        return Move(ring, k, where, other, cut, self.above[ring][k])
