"""One order of all layers: molecules hung over their gaps, and a walk round the tree of them.

A molecule Q is hung on P over a gap of a side that both share, where no place of Q is nearer to the
root than that gap: all that hangs in a gap lies beyond it, so that the hinge that closes the gap
passes through none of it. The order is P's ring from its cut once round, and at each gap, over
which a molecule hangs, the ring of that molecule from behind the same gap once round, and so on.

Why no layer passes through another, where no molecule is crossed (see `states`):

Round. Close the order to a circle. Cut the sheet along all sides over which nothing hangs: what is
left is a disc of molecules glued in a tree, and the walk goes once round it. The cut sides are trees
attached to the border (the walk goes round each), so the two layers on both sides of a cut side
match like parentheses; over a side on which a molecule hangs they are neighbours. At any height the
molecules shrink to smaller polygons, whose rings are the same rings with layers left out; a gusset
cuts a ring into two arcs. So axial creases, ridges, folded hinges and gussets alike never interleave.

Cut open. What can still go wrong is that a layer between the two of a crease reaches across it. A
crease that opens away from the root at distance x may only enclose layers that begin at x or beyond.
A folded hinge at a gap encloses what hangs there, all of which lies beyond the gap: that is why
nothing else may be hung there. A ridge whose corner moves towards the root encloses sides that have
vanished in that corner and what hangs in their gaps, all further out than the ridge. A ridge whose
corner moves away from the root is the case that is not proven: where the other corners of the
shrunken polygon all lie in one branch beyond that corner, the arc without the cut holds only sides
with gaps beyond the ridge; where the corner opposite lies in another branch, the polygon is crossed.

So a tour is an order where every ring holds by itself, which `states.faulty_layers` asks exactly
for each molecule, and the whole is judged again by `Crossings.faults`, never by this argument.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from heapq import heappop, heappush
from typing import TYPE_CHECKING

import numpy as np

from packer.folded.ordering.rings import Ring
from packer.folded.ordering.states import states

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from packer.folded.ordering.rings import Molecules


@dataclass(frozen=True, eq=False)
class Images:
    """Mirror images of molecules, of their layers and of the vertices at their gaps."""

    molecule: NDArray[np.intp]
    layer: NDArray[np.intp]
    gap: NDArray[np.intp]

    def on_line(self, molecule: int, gap: int) -> bool:
        """Whether a molecule is its own image and a gap lies on the mirror line."""
        return bool(self.molecule[molecule] == molecule and self.gap[gap] == gap)

    def ring(self, ring: Ring) -> Ring:
        """Return the image of a cut ring: walked the other way round."""
        gaps = [-1 if gap < 0 else int(self.gap[gap]) for gap in ring.gaps]
        layers = [int(self.layer[layer]) for layer in ring.layers]
        return Ring(tuple(layers[::-1]), (gaps[0], *gaps[:0:-1]))


@dataclass
class Tour:
    """A tree of molecules, hung over their gaps.

    Attributes
    ----------
    molecules
        All of them.
    start
        The one at the tree's top.
    rings
        The ring of each molecule in the tree, from its cut on.
    hung
        The molecule that hangs over a gap of another: (molecule, gap's vertex) -> molecule.
    over
        For each molecule the creases that enclose it and reach further out than its gap.
    """

    molecules: Molecules
    start: int
    rings: dict[int, Ring] = field(default_factory=dict)
    hung: dict[tuple[int, int], int] = field(default_factory=dict)
    over: dict[int, NDArray[np.intp]] = field(default_factory=dict)

    @property
    def left(self) -> int:
        """How many molecules are not in the tree."""
        return len(self.molecules.all) - len(self.rings)

    def order(self) -> list[int]:
        """Return the layers in the order of the walk."""
        layers: list[int] = []
        todo: list[tuple[int, int]] = [(self.start, 0)]
        while todo:
            molecule, k = todo.pop()
            ring = self.rings[molecule]
            while k < len(ring.layers):
                layers.append(ring.layers[k])
                k += 1
                hung = self.hung.get((molecule, ring.gaps[k])) if k < len(ring.layers) else None
                if hung is not None:
                    todo += [(molecule, k), (hung, 0)]
                    break
        return layers

    def gaps(self, molecule: int) -> Iterator[tuple[int, NDArray[np.intp]]]:
        """Yield the gaps of a molecule with the creases that enclose each and reach beyond it."""
        ring, molecules = self.rings[molecule], self.molecules
        rows = molecules.rows_of[molecule]
        place = {layer: k for k, layer in enumerate(ring.layers)}
        sides = molecules.creases[rows, 1:].tolist()
        ends = np.array([[place[a], place[b]] for a, b in sides]).reshape(-1, 2)
        low, high = ends.min(axis=1), ends.max(axis=1)
        reach = molecules.crossings.reach[rows, 1]
        for k, gap in enumerate(ring.gaps[1:], 1):
            if gap >= 0:
                depth = molecules.depth[gap] + molecules.room
                own = rows[(low < k) & (k <= high) & (reach > depth)]
                yield gap, np.concatenate([self.over[molecule], own])


def toured(molecules: Molecules, images: Images | None = None) -> Tour | None:
    """Return a tree of as many molecules as hang together; None where there is none to start.

    Those without a deep gusset hang in their plain ring, which is seldom at fault.

    Parameters
    ----------
    molecules
        Of a pattern.
    images
        Mirror images: molecules are then hung in pairs as long as there are such pairs.
    """
    first = next(_starts(molecules, images), None)
    if first is None:
        return None
    growth = _Growth(Tour(molecules, first[0]), images)
    growth.hang(*first, None, np.zeros(0, dtype=np.intp))
    growth.run()
    return growth.tour


class _Growth:
    """A tree of molecules that grows: its open gaps, those with few creases over them first."""

    def __init__(self, tour: Tour, images: Images | None) -> None:
        self.tour, self.images = tour, images
        self.queue: list[tuple[bool, int, int, int, int, int]] = []
        self.over: dict[tuple[int, int], NDArray[np.intp]] = {}

    def hang(
        self, molecule: int, ring: Ring, at: tuple[int, int] | None, over: NDArray[np.intp]
    ) -> None:
        """Put a molecule into the tree, over a gap of another, and open its gaps."""
        tour = self.tour
        tour.rings[molecule], tour.over[molecule] = ring, over
        if at is not None:
            tour.hung[at] = molecule
        for gap, above in tour.gaps(molecule):
            self.over[molecule, gap] = above
            for other in tour.molecules.joined_by_gap[gap]:
                if other != molecule and other not in tour.rings:
                    uneven = self.images is not None and not self._even(molecule, gap, other)
                    row = (uneven, len(above), len(self.over), molecule, gap, other)
                    heappush(self.queue, row)

    def run(self) -> None:
        """Hang molecules as long as one can be."""
        while self.queue:
            uneven, *_, parent, gap, other = heappop(self.queue)
            if other not in self.tour.rings and (parent, gap) not in self.tour.hung:
                self._hang_over(parent, gap, other, uneven=uneven)

    def _hang_over(self, parent: int, gap: int, other: int, *, uneven: bool) -> None:
        """Hang a molecule over a gap, and its image over the gap's image, where that can be."""
        tour, over = self.tour, self.over[parent, gap]
        if _out_of_place(tour.molecules, other, gap, over):
            return
        ring = next(states(tour.molecules, other, gap), None)
        if ring is None:
            return
        self.hang(other, ring, (parent, gap), over)
        if self.images is not None and not uneven:
            self._hang_image(parent, gap, other, ring)

    def _even(self, parent: int, gap: int, other: int) -> bool:
        """Whether what hangs over a gap can have its image over the gap's image."""
        assert self.images is not None
        image = self.images.molecule[other]
        if self.images.gap[gap] == gap:
            return bool(image == other or self.images.molecule[parent] != parent)
        return bool(image != other)

    def _hang_image(self, parent: int, gap: int, other: int, ring: Ring) -> None:
        assert self.images is not None
        images, tour = self.images, self.tour
        at = int(images.molecule[parent]), int(images.gap[gap])
        image = int(images.molecule[other])
        if image in tour.rings or at in tour.hung or at not in self.over:
            return
        if image not in tour.molecules.joined_by_gap[at[1]]:
            return
        if _crossed_by(tour.molecules, image, self.over[at]):
            return
        self.hang(image, images.ring(ring), at, self.over[at])


def _starts(molecules: Molecules, images: Images | None) -> Iterator[tuple[int, Ring]]:
    """Yield molecules to start from with their rings: lowest, cut at the border if it can be.

    Where there are images it is best cut on the mirror line.
    """
    rows = []
    for k, molecule in enumerate(molecules.all):
        ring = molecule.ring
        for gap in ring.gaps if ring else ():
            if gap >= 0:
                aside = images is not None and not images.on_line(k, gap)
                inner = len(molecules.joined_by_gap[gap]) > 1
                low = round(float(molecules.depth[gap]) / molecules.room)
                rows.append((low, aside, inner, k, gap))
    lowest = min(rows)[0] if rows else 0
    for low, _, _, k, gap in sorted(rows):
        if low > lowest + 1:
            break
        ring = next(iter(states(molecules, k, gap)), None)
        if ring is not None:
            yield k, ring


def _out_of_place(
    molecules: Molecules, molecule: int, gap: int, over: NDArray[np.intp]
) -> bool:
    """Whether a molecule reaches nearer to the root than a gap, or across creases over it."""
    low = molecules.all[molecule].low
    if molecules.depth[gap] > low + molecules.room:
        return True
    return _crossed_by(molecules, molecule, over)


def _crossed_by(molecules: Molecules, molecule: int, creases: NDArray[np.intp]) -> bool:
    """Whether any of some creases lies across a layer of a molecule."""
    if not len(creases):
        return False
    layers = np.array(sorted(molecules.all[molecule].layers))
    rows = np.repeat(creases, len(layers))
    return bool(molecules.crossings.across(rows, np.tile(layers, len(creases))).any())
