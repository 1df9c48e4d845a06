"""The rings of box-pleated patterns: between axial creases the paper runs in strips.

All paper lies between the axis and one height above it. A polygon, bounded by axial creases and the
border, is a strip that goes up on one side and down on the other, often branched and often closed
to loops; each of its faces reaches from the axis to the top. Walking along its lower edge one meets
its layers in a ring: at each vertex on the axis those of all faces that meet there. Where it is
closed there are several rings; they are joined beside two layers that meet at the top.
"""

from __future__ import annotations

from collections import defaultdict
from functools import cached_property
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.folded.ordering.rings import Molecule, Molecules, Ring

if TYPE_CHECKING:
    from collections.abc import Iterator

    from packer.creases.pattern import CreasePattern
    from packer.folded.ordering.rings import HalfEdge

BEAM: Final = 6
"""Ways of joining the rings of a polygon that are kept."""

SPACE: Final = -1
"""In a ring of layers: no layer, between two places at which others can hang."""


class GridMolecules(Molecules):
    """The polygons of a box-pleated pattern, as `Molecules`.

    A gap is one end of an axial or border edge, written as twice the edge and one more at its
    second end.
    """

    by_depth = False

    def __init__(self, pattern: CreasePattern, root: int) -> None:
        self._edge = {}
        for k, (a, b) in enumerate(pattern.edges.tolist()):
            self._edge[a, b], self._edge[b, a] = k, k
        self._curves: list[list[Ring]] = []
        self._choices: dict[int, list[Ring]] = {}
        self._low = pattern.heights < pattern.heights.max() / 2
        super().__init__(pattern, root)
        ends = self.pattern.edges.ravel()
        self.depth = self.depth[ends]

    def _molecule(
        self, boundary: dict[HalfEdge, int], gussets: list[int], layers: frozenset[int]
    ) -> Molecule:
        del gussets
        low = min(float(self.depth[a]) for a, _ in boundary)
        rings = self._rings(boundary) + self._round_points(layers)
        self._curves.append(rings)
        # all gaps for now; in which order the rings are joined depends on where it is cut
        whole: Ring | None = Ring(
            tuple(x for ring in rings for x in ring.layers),
            tuple(x for ring in rings for x in ring.gaps),
        )
        if whole is None or sorted(x for x in whole.layers if x != SPACE) != sorted(layers):
            whole = None
        return Molecule(whole, layers, low, ())

    def choices(self, molecule: int) -> list[Ring]:
        """Return the ways of joining the rings of a polygon that cross least, a few of them."""
        if molecule not in self._choices:
            self._choices[molecule] = self._joined(molecule)
        return self._choices[molecule]

    def _joined(self, molecule: int) -> list[Ring]:
        beam = [(self._curves[molecule][0], frozenset({0}))]
        count = len(self._curves[molecule])
        for _ in range(count - 1):
            grown: dict[tuple[int, ...], tuple[int, Ring, frozenset[int]]] = {}
            for whole, used in beam:
                for k in sorted(set(range(count)) - used):
                    here = list(self._beside(whole, self._curves[molecule][k]))
                    for made in here:
                        if made.layers not in grown:
                            cost = self._crossed_both_ways(molecule, made)
                            grown[made.layers] = cost, made, used | {k}
                    if here:
                        break
            best = sorted(grown.values(), key=lambda row: (row[0], row[1].layers))
            beam = [(ring, used) for _, ring, used in best[:BEAM]]
        return [ring for ring, used in beam if len(used) == count]

    def _beside(self, whole: Ring, ring: Ring) -> Iterator[Ring]:
        """Yield a ring with another put in after or before a layer that one of its layers meets."""
        where = {layer: k for k, layer in enumerate(ring.layers)}
        for p_at, p in enumerate(whole.layers):
            for q in self.top_pairs.get(p, ()):
                if q in where:
                    yield _put(whole, p_at + 1, ring, where[q])
                    yield _put(whole, p_at, ring, where[q] + 1)

    def _crossed_both_ways(self, molecule: int, ring: Ring) -> int:
        """Count creases that cross a layer on both of the arcs into which they part a ring."""
        inner = self.inner_conditions(molecule)
        place = np.zeros(len(inner.number), dtype=np.intp)
        for k, layer in enumerate(ring.layers):
            if layer != SPACE:
                place[inner.number[layer]] = k
        low, high = np.sort(place[inner.ends], axis=1)[inner.crossed[:, 0]].T
        third = place[inner.crossed[:, 1]]
        within = (low < third) & (third < high)
        n = len(inner.ends)
        inside = np.bincount(inner.crossed[within, 0], minlength=n) > 0
        outside = np.bincount(inner.crossed[~within, 0], minlength=n) > 0
        return int((inside & outside).sum())

    def _rings(self, boundary: dict[HalfEdge, int]) -> list[Ring]:
        """Walk round each closed curve of a polygon's boundary."""
        out: dict[int, set[int]] = defaultdict(set)
        for a, b in boundary:
            out[a].add(b)
        left = set(boundary)
        rings = []
        while left:
            start = at = min(left)
            rows: list[tuple[int, int]] = []
            while True:
                left.discard(at)
                a, v = at
                if self._low[a] or self._low[v]:
                    rows.append((boundary[at], -1))
                onward = self._clockwise(at, out[v])
                if self._low[v]:
                    rows += self._at_vertex(at, onward)
                at = onward
                if at == start:
                    break
            rings.append(_ring(rows))
        return [ring for ring in rings if ring.layers]

    def _round_points(self, layers: frozenset[int]) -> list[Ring]:
        """Return the rings round points on the axis at which no axial crease ends."""
        rings = []
        for v in self._lone_points:
            around = [self.other_end(k, v) for k in reversed(self.pattern.edges_at[v])]
            rows = [(self.layer_left(v, x), -1) for x in around]
            if rows[0][0] in layers:
                rings.append(_ring(rows))
        return rings

    @cached_property
    def _lone_points(self) -> list[int]:
        roles = self.pattern.roles
        return [
            v
            for v in np.flatnonzero(self._low).tolist()
            if not any(roles[k] in {"axial", "border"} for k in self.pattern.edges_at[v])
        ]

    def _at_vertex(self, at: HalfEdge, onward: HalfEdge) -> list[tuple[int, int]]:
        """Return the layers met at a vertex on the axis, with the gaps at the first and last."""
        (a, v), (_, w) = at, onward
        around = [self.other_end(k, v) for k in reversed(self.pattern.edges_at[v])]
        k = around.index(a)
        turned = around[k:] + around[:k]
        stop = turned.index(w, 1) if w in turned[1:] else len(turned)
        fan = [self.layer_left(v, x) for x in turned[1:stop]]
        first = self.layer_left(a, v)
        layers = [first]
        for layer in [*fan, self.layer_left(v, w)]:
            if layer != layers[-1]:
                layers.append(layer)
        if len(layers) < 2:
            return []
        gaps = self._end(a, v), self._end(w, v)
        inner = [(layer, -1) for layer in layers[1:-1]]
        if not inner:
            return [(SPACE, gaps[0]), (SPACE - 1, SPACE), (SPACE, gaps[1])]
        return [(SPACE, gaps[0]), *inner, (SPACE, gaps[1])]

    @cached_property
    def top_pairs(self) -> dict[int, tuple[int, ...]]:
        """For each layer those that it meets at a fold at the top of a strip."""
        pairs: dict[int, tuple[int, ...]] = {}
        between = np.array(self.pattern.roles)[self.creases[:, 0]] == "between"
        for _, a, b in self.creases[between].tolist():
            pairs[a], pairs[b] = (*pairs.get(a, ()), b), (*pairs.get(b, ()), a)
        return pairs

    def _end(self, other: int, vertex: int) -> int:
        edge = self._edge[other, vertex]
        return 2 * edge + int(self.pattern.edges[edge, 1] == vertex)


def _ring(rows: list[tuple[int, int]]) -> Ring:
    """Join equal neighbours of a closed walk; a gap goes to the layer after it."""
    layers: list[int] = []
    gaps: list[int] = []
    gap = -1
    for layer, at in rows:
        if layer == SPACE:
            gap = at
            continue
        here = SPACE if layer == SPACE - 1 else layer
        if here == SPACE or not layers or layers[-1] != here:
            layers.append(here)
            gaps.append(gap)
            gap = -1
    if len(layers) > 1 and layers[0] == layers[-1]:
        layers.pop()
        gaps[0] = gaps.pop()
    elif gap >= 0 and layers:
        gaps[0] = gap
    return Ring(tuple(layers), tuple(gaps))


def _put(whole: Ring, at: int, ring: Ring, first: int) -> Ring:
    """Return a ring with another, begun at one of its places, put in at a place."""
    first %= len(ring.layers)
    layers = ring.layers[first:] + ring.layers[:first]
    gaps = (-1, *(ring.gaps[first:] + ring.gaps[:first])[1:])
    return Ring(
        whole.layers[:at] + layers + whole.layers[at:],
        whole.gaps[:at] + gaps + whole.gaps[at:],
    )
