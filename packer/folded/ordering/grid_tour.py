"""One order of all layers of a box-pleated pattern: rings hung over gaps and joined at the top.

A ring is begun at one of its places, its cut, and put whole into the order at a place of a ring that
is there already: over a gap that both share, where it belongs to another polygon; or beside a layer
that one of its own layers meets at the top, where it belongs to the same polygon. Of each polygon
one ring is hung over a gap, all others are joined to it at the top.

What is proven of an order that takes in all rings:

- No crease across a strip (ridge, hinge, fold-back) passes through a layer. Both its layers are of
  one ring, for every layer reaches from the axis to the top, so that the curve at half height
  leads from one straight to the other. Between the two lie layers of that ring, which `GridRing.cuts`
  rules out where the crease lies across one, and whole rings that hang between them, at any depth;
  each of these was hung only where none of the creases that enclose its place lies across any of its
  layers. Both tests are exact: within the height lines of three directions through whole half cells
  cross at half of it at most, so that a quarter and three quarters show every crossing.
- Creases along the axis and at the top pass through no layer: all paper lies on one side of them.
- Two creases across strips that lie on one line do not alternate. Within a ring two such creases
  join neighbours, or one of them is cut open and encloses the whole ring; those of two rings
  cannot, for a ring is one run in which other rings lie whole.
- At the top two creases of one polygon do not alternate (`tops_nest`); those of two polygons cannot,
  for the layers of a polygon at a place of another are one run as well.
- Along the axis creases do not alternate. Open each polygon along a line from one of its rings to the
  next, under the crease at which the two are joined: it becomes a disc whose edge, walked once, is its
  order. Discs joined at points as a tree make a disc again, and the walk round it is the tour. What
  is left of the sheet's axial creases is a forest that reaches the border, as the rest of a disc
  outside a disc does; the walk passes both sides of each crease of it, and they match like
  parentheses.

Not proven: that a tour takes in all rings. It is tried from many roots and places instead. The proof
is of this text, not of the code, so every order is judged (`packer.folded.ordering.judge`) by what
its layers do, whoever made it.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from heapq import heappop, heappush
from typing import TYPE_CHECKING, TypeAlias

from packer.deadline import NEVER
from packer.folded.ordering.grid_rings import SPACE
from packer.folded.ordering.judge import nested_pairs

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from random import Random

    from packer.deadline import Deadline
    from packer.folded.ordering.grid_images import GridImages
    from packer.folded.ordering.grid_rings import GridRings

AFTER, OVER, BEFORE = range(3)
"""Where at a place between two layers: behind the first, over the gap, in front of the second."""

Place: TypeAlias = tuple[int, int, int]
"""A place at which rings are hung: the ring, the place from its cut, `AFTER`, `OVER` or `BEFORE`."""


@dataclass
class GridTour:
    """A tree of rings.

    Attributes
    ----------
    rings
        All of them.
    start
        The one at the tree's top.
    cuts
        For each ring in the tree the place at which it begins.
    hung
        What lies at a place of a ring: rings in their order.
    """

    rings: GridRings
    start: int
    cuts: dict[int, int] = field(default_factory=dict)
    hung: dict[Place, list[int]] = field(default_factory=dict)

    @property
    def left(self) -> list[int]:
        """The layers of all rings that are not in the tree, polygon by polygon."""
        rings = [k for k in range(len(self.rings.all)) if k not in self.cuts]
        rings.sort(key=lambda k: self.rings.all[k].polygon)
        return [x for k in rings for x in self.rings.all[k].place]

    def order(self) -> list[int]:
        """Return the layers in the order of the walk round the tree."""
        return [x for run in self._walk(self.start, None) if isinstance(run, list) for x in run]

    def order_within(self, polygon: int) -> list[int]:
        """Return the layers of one polygon alone, those of its rings that are in the tree."""
        first = next(k for k in self.cuts if self.rings.all[k].polygon == polygon)
        return [x for run in self._walk(first, polygon) if isinstance(run, list) for x in run]

    def places(self, asked: Iterable[Place]) -> dict[Place, int]:
        """Return for each place asked how many layers lie below what would be hung there next."""
        places, below = {}, 0
        for run in self._walk(self.start, None, frozenset(asked)):
            if isinstance(run, list):
                below += len(run)
            else:
                places[run] = below
        return places

    def _walk(
        self, first: int, polygon: int | None, asked: frozenset[Place] = frozenset()
    ) -> Iterator[list[int] | Place]:
        """Yield runs of layers, and between them places that are asked for."""
        all_, hung = self.rings.all, self.hung
        places_on: dict[int, set[int]] = defaultdict(set)
        for ring, k, _ in (*hung, *asked):
            places_on[ring].add(k)
        todo: list[int | list[int] | Place] = [first]
        while todo:
            at = todo.pop()
            if not isinstance(at, int):
                yield at
                continue
            layers, cut = all_[at].layers, self.cuts[at]
            turned, begin = (*layers[cut:], *layers[:cut]), 0
            parts: list[int | list[int] | Place] = []
            for k in sorted(places_on[at] | {len(layers)}):
                parts.append([x for x in turned[begin:k] if x != SPACE])
                begin = k
                for where in (AFTER, OVER, BEFORE):
                    place = (at, k, where)
                    here = [
                        other
                        for other in hung.get(place, ())
                        if polygon is None or all_[other].polygon == polygon
                    ]
                    mark = [place] if place in asked else []
                    # before a layer the next one goes last, elsewhere first
                    parts += [*here, *mark] if where == BEFORE else [*mark, *here]
            todo += reversed(parts)


def starts(
    rings: GridRings, images: GridImages | None = None, deadline: Deadline = NEVER
) -> list[tuple[int, int]]:
    """Return places to begin a tour at, (ring, cut), those with least above them first.

    Where there are images, those on the mirror line go before all others. Once time is up the places of
    no other ring are looked at.
    """
    rows = []
    for k, ring in enumerate(rings.all):
        if deadline.over:
            break
        for cut in ring.cuts:
            aside = images is None or not images.on_line(k, cut)
            if ring.gaps[cut] >= 0 or not aside:
                bits = ring.enclosing(cut)
                rows.append((aside, bits[1].bit_count(), k, cut))
    return [(k, cut) for _, _, k, cut in sorted(rows)]


def grown(
    rings: GridRings,
    start: tuple[int, int],
    random: Random | None = None,
) -> GridTour:
    """Return a tree of as many rings as hang together.

    Parameters
    ----------
    rings
        Of a pattern.
    start
        The ring to begin with and its cut.
    random
        Decides between places with as many creases above them; by default the oldest goes first.
    """
    return TourGrowth(GridTour(rings, start[0]), random).from_cut(start[1])


@dataclass(frozen=True)
class Move:
    """A ring hung at a place of another, under creases with some bits."""

    ring: int
    k: int
    where: int
    other: int
    cut: int
    bits: int


class TourGrowth:
    """A tree of rings that grows: what lies under fewest creases goes first."""

    def __init__(self, tour: GridTour, random: Random | None = None) -> None:
        self.tour, self.random, self.rings = tour, random, tour.rings
        self.queue: list[tuple[int, float, int, Move]] = []
        self.polygons: set[int] = set()
        self.above: dict[int, list[int]] = {}
        self.count = 0

    def from_cut(self, cut: int) -> GridTour:
        """Return the tree once it has grown from its first ring, begun at a cut."""
        self.hang(self.tour.start, cut, 0)
        self.run()
        return self.tour

    def hang(self, ring: int, cut: int, above: int) -> None:
        """Put a ring into the tree, below creases with the bits `above`, and open its places."""
        self.tour.cuts[ring] = cut
        here = self.rings.all[ring]
        self.polygons.add(here.polygon)
        n = len(here.layers)
        self.above[ring] = [above | own for own in here.enclosing(cut)]
        for k, bits in enumerate(self.above[ring]):
            at = (cut + k) % n
            gap = here.gaps[at]
            if gap >= 0 and 0 < k < n:
                for other, place in self.rings.at_gap[gap]:
                    if self.rings.all[other].polygon != here.polygon:
                        self.offer(Move(ring, k, OVER, other, place, bits))
            if k < n:
                self._offer_at_top(ring, k, BEFORE, here.layers[at], bits)
            if k:
                self._offer_at_top(ring, k, AFTER, here.layers[at - 1], bits)

    def _offer_at_top(self, ring: int, k: int, where: int, layer: int, bits: int) -> None:
        if layer == SPACE:
            return
        for mate in self.rings.top_pairs.get(layer, ()):
            other = int(self.rings.ring_of[mate])
            place = self.rings.all[other].place[mate]
            cut = place if where == AFTER else (place + 1) % len(self.rings.all[other].layers)
            self.offer(Move(ring, k, where, other, cut, bits))

    def offer(self, move: Move) -> None:
        """Take a move in that can be made now."""
        if self.fits(move):
            self.count += 1
            heappush(self.queue, (move.bits.bit_count(), self.chance(), self.count, move))

    def chance(self) -> float:
        """Return what decides between equal moves."""
        return self.random.random() if self.random else 0.0

    def fits(self, move: Move) -> bool:
        """Whether a ring that is not in the tree crosses nothing at a place, nor is crossed."""
        ring = self.rings.all[move.other]
        if move.other in self.tour.cuts or move.cut not in ring.cuts:
            return False
        return not ring.covered & move.bits

    def run(self) -> None:
        """Hang rings as long as one can be."""
        while self.queue:
            self.hung(heappop(self.queue)[-1])

    def hung(self, move: Move) -> bool:
        """Hang a ring if it can be."""
        key, other = (move.ring, move.k, move.where), move.other
        if other in self.tour.cuts:
            return False
        if move.where == OVER:
            if self.rings.all[other].polygon in self.polygons or key in self.tour.hung:
                return False
            self.tour.hung[key] = [other]
        elif not self._joined_at_top(key, other, move.cut):
            return False
        self.hang(other, move.cut, move.bits)
        return True

    def _joined_at_top(self, key: tuple[int, int, int], other: int, cut: int) -> bool:
        """Put a ring beside a layer it meets at the top; take it back where creases cross there."""
        tour, polygon = self.tour, self.rings.all[other].polygon
        there = tour.hung.setdefault(key, [])
        there.insert(0 if key[2] == AFTER else len(there), other)
        tour.cuts[other] = cut
        if tops_nest(self.rings, polygon, tour.order_within(polygon)):
            return True
        there.remove(other)
        if not there:
            del tour.hung[key]
        del tour.cuts[other]
        return False


def tops_nest(rings: GridRings, polygon: int, order: list[int]) -> bool:
    """Whether no two creases at the top of a polygon cross in an order of some of its layers."""
    place = {layer: k for k, layer in enumerate(order)}
    columns: dict[int, list[list[int]]] = defaultdict(list)
    for low, high, a, b in rings.tops_of[polygon]:
        if a in place and b in place:
            pair = sorted((place[a], place[b]))
            for x in range(low, high):
                columns[x].append(pair)
    return all(nested_pairs(column) for column in columns.values())
