"""One order of all layers: molecules hung over their gaps, and a walk round the tree of them.

A molecule Q is hung on P over a gap of a side that both share, where no place of Q is nearer to the
root than that gap: all that hangs in a gap lies beyond it, so that the hinge that closes the gap
passes through none of it. The order is P's ring from its cut once round, and at each gap, over
which a molecule hangs, the ring of that molecule from behind the same gap once round, and so on.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from heapq import heappop, heappush
from typing import TYPE_CHECKING

import numpy as np

from packer.folded.ordering.states import states

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from numpy.typing import NDArray

    from packer.folded.ordering.rings import Molecules, Ring


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

    def order(self) -> list[int]:
        """Return the layers in the order of the walk."""
        found: list[int] = []
        todo: list[tuple[int, int]] = [(self.start, 0)]
        while todo:
            molecule, k = todo.pop()
            ring = self.rings[molecule]
            while k < len(ring.layers):
                found.append(ring.layers[k])
                k += 1
                if k < len(ring.layers) and (molecule, ring.gaps[k]) in self.hung:
                    todo += [(molecule, k), (self.hung[molecule, ring.gaps[k]], 0)]
                    break
        return found

    def gaps(self, molecule: int) -> Iterator[tuple[int, NDArray[np.intp]]]:
        """Yield the gaps of a molecule with the creases that enclose each and reach beyond it."""
        ring, molecules = self.rings[molecule], self.molecules
        rows = molecules.rows_of[molecule]
        place = {layer: k for k, layer in enumerate(ring.layers)}
        ends = np.array(
            [[place[a], place[b]] for a, b in molecules.creases[rows, 1:].tolist()]
        ).reshape(-1, 2)
        low, high = ends.min(axis=1), ends.max(axis=1)
        reach = molecules.crossings.reach[rows, 1]
        for k, gap in enumerate(ring.gaps[1:], 1):
            if gap >= 0:
                depth = molecules.depth[gap] + molecules.room
                own = rows[(low < k) & (k <= high) & (reach > depth)]
                yield gap, np.concatenate([self.over[molecule], own])


def toured(molecules: Molecules, among: Iterable[int] | None = None) -> Tour | None:
    """Return a tree of as many molecules as hang together; None where there is none to start.

    Parameters
    ----------
    molecules
        Of a pattern.
    among
        Those to take; all by default.
    """
    allowed = set(range(len(molecules.all)) if among is None else among)
    first = _first(molecules, allowed)
    if first is None:
        return None
    start, ring = first
    tour = Tour(molecules, start)
    tour.rings[start], tour.over[start] = ring, np.zeros(0, dtype=np.intp)
    queue: list[tuple[int, int, int, int]] = []
    waiting: dict[tuple[int, int], NDArray[np.intp]] = {}

    def open_gaps(molecule: int) -> None:
        for gap, over in tour.gaps(molecule):
            waiting[molecule, gap] = over
            heappush(queue, (len(over), len(waiting), molecule, gap))

    open_gaps(start)
    while queue:
        *_, parent, gap = heappop(queue)
        for other in molecules.joined_by_gap[gap]:
            if other in tour.rings or other not in allowed:
                continue
            over = waiting[parent, gap]
            ring = _hanging(molecules, other, gap, over)
            if ring is not None:
                tour.rings[other], tour.over[other] = ring, over
                tour.hung[parent, gap] = other
                open_gaps(other)
    return tour


def _first(molecules: Molecules, allowed: set[int]) -> tuple[int, Ring] | None:
    """Return the molecule to start from with its ring: lowest, cut at the border if it can be."""
    rows = []
    for k in sorted(allowed):
        ring = molecules.all[k].ring
        for gap in ring.gaps if ring else ():
            if gap >= 0:
                inner = len(molecules.joined_by_gap[gap]) > 1
                low = round(float(molecules.depth[gap]) / molecules.room)
                rows.append((low, inner, k, gap))
    lowest = min(rows)[0] if rows else 0
    for low, _, k, gap in sorted(rows):
        if low > lowest + 1:
            break
        for ring in states(molecules, k, gap):
            return k, ring
    return None


def _hanging(
    molecules: Molecules, molecule: int, gap: int, over: NDArray[np.intp]
) -> Ring | None:
    """Return the ring with which a molecule can hang over a gap, None where it cannot."""
    found = molecules.all[molecule]
    if molecules.depth[gap] > found.low + molecules.room:
        return None
    if len(over):
        layers = np.array(sorted(found.layers))
        rows = np.repeat(over, len(layers))
        if molecules.crossings.across(rows, np.tile(layers, len(over))).any():
            return None
    return next(iter(states(molecules, molecule, gap)), None)
