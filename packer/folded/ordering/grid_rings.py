"""The rings of box-pleated patterns: between axial creases the paper runs in strips.

All paper lies between the axis and one height above it. A polygon, bounded by axial creases and the
border, is a strip that goes up on one side and down on the other, often branched and often closed
to loops; each of its layers reaches from the axis to the top. Walking along its lower edge one meets
its layers in a ring: at each vertex on the axis those of all faces that meet there. Where a polygon
is closed it has several rings; a pair of layers that meet at the top, one of each, is where two of
them can be joined.

Layers and creases end on lines upright or at 45 degrees through whole numbers of half cells, so two
of them that cross within the height do so at half of it. What a crease crosses is therefore asked
at a quarter and at three quarters of the height alone, in whole numbers, and written as bits: one
bit for each place along the tree and each of the two heights.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.creases.plane_graph import joined
from packer.folded.form import fold
from packer.folded.ordering.crossings import Crossings
from packer.folded.overlaps import layer_numbers

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.creases.pattern import CreasePattern
    from packer.folded.ordering.rings import HalfEdge

SPACE: Final = -1
"""In a ring of layers: no layer, between two places at which others can hang."""

QUARTERS: Final = 4
"""Places along the tree for each half cell."""

ALONG: Final = ("axial", "between")
"""Roles of the creases along the strips, which cross nothing: all paper lies on one side."""


@dataclass(frozen=True, eq=False)
class GridRing:
    """One closed walk along the lower edge of a polygon.

    Attributes
    ----------
    polygon
        Its number.
    layers
        In the order of the walk, each once, with `SPACE` where two gaps follow each other.
    gaps
        For each entry of `layers` the gap before it, -1 where there is none.
    covered
        Bits of the places that its layers cover.
    spans
        For each crease across the strip (first place, second place, its bits, whether it crosses a
        layer between the two, whether it crosses one beyond them).
    """

    polygon: int
    layers: tuple[int, ...]
    gaps: tuple[int, ...]
    covered: int
    spans: tuple[tuple[int, int, int, bool, bool], ...]

    @cached_property
    def place(self) -> dict[int, int]:
        """Where each layer is."""
        return {layer: k for k, layer in enumerate(self.layers) if layer != SPACE}

    @cached_property
    def cuts(self) -> frozenset[int]:
        """The places before which it can be cut so that none of its creases crosses a layer."""
        bad = np.zeros(len(self.layers) + 1, dtype=np.intp)
        for first, second, _, within, beyond in self.spans:
            # cut between the two, what lay beyond them lies between
            if beyond:
                bad[first + 1] += 1
                bad[second + 1] -= 1
            if within:
                bad[0] += 1
                bad[first + 1] -= 1
                bad[second + 1] += 1
        return frozenset(np.flatnonzero(np.cumsum(bad)[:-1] == 0).tolist())

    def enclosing(self, cut: int) -> list[int]:
        """Return for each place after a cut the bits of the creases that enclose it.

        Place k is before the k-th entry counted from the cut; the last one is behind all.
        """
        n = len(self.layers)
        enclosing = [0] * (n + 1)
        for first, second, bits, _, _ in self.spans:
            low, high = sorted(((first - cut) % n, (second - cut) % n))
            for k in range(low + 1, high + 1):
                enclosing[k] |= bits
        return enclosing


class GridRings:
    """The rings of a box-pleated pattern whose flaps all point away from a root.

    A gap is one end of an axial or border edge, written as twice the edge and one more at its
    second end.

    Attributes
    ----------
    pattern, form
        The creases and their folded form.
    layer_of
        (f,) the layer of each face.
    polygon_of
        (layers,) the polygon of each layer.
    all
        The rings.
    """

    def __init__(self, pattern: CreasePattern, root: int) -> None:
        self.pattern, self.form = pattern, fold(pattern, root)
        self.layer_of = layer_numbers(pattern, self.form)
        roles = np.array(pattern.roles)
        left, right = pattern.edge_faces.T
        inside = (left >= 0) & (right >= 0) & (roles != "axial")
        of_face = joined(len(pattern.faces), left[inside], right[inside])
        self.polygon_of = np.zeros(int(self.layer_of.max()) + 1, dtype=np.intp)
        self.polygon_of[self.layer_of] = of_face
        edges = np.flatnonzero(self.form.folded)
        self.creases = np.column_stack([edges, self.layer_of[pattern.edge_faces[edges]]])
        self.flipped = np.zeros(len(self.polygon_of), dtype=bool)
        self.flipped[self.layer_of] = self.form.flipped
        self._walks = _Walks(pattern, self.layer_of)
        self.all = tuple(self._rings(of_face))

    @cached_property
    def crossings(self) -> Crossings:
        """The judge of an order: which creases lie across which layers."""
        return Crossings(self.pattern, self.form, self.layer_of, self.creases, self.flipped)

    @property
    def whole(self) -> bool:
        """Whether the walks meet every layer exactly once."""
        layers = sorted(x for ring in self.all for x in ring.layers if x != SPACE)
        return layers == list(range(len(self.polygon_of)))

    @cached_property
    def ring_of(self) -> NDArray[np.intp]:
        """(layers,) the ring that meets each layer."""
        ring_of = np.full(len(self.polygon_of), -1, dtype=np.intp)
        for k, ring in enumerate(self.all):
            ring_of[list(ring.place)] = k
        return ring_of

    @cached_property
    def at_gap(self) -> dict[int, list[tuple[int, int]]]:
        """For each gap the rings that have it: (ring, place)."""
        places: dict[int, list[tuple[int, int]]] = defaultdict(list)
        for k, ring in enumerate(self.all):
            for place, gap in enumerate(ring.gaps):
                if gap >= 0:
                    places[gap].append((k, place))
        return places

    @cached_property
    def across(self) -> NDArray[np.intp]:
        """(v,) distance of each vertex from the root along the tree, in half cells."""
        cell = float(self.pattern.heights.max())
        half_cells: NDArray[np.intp] = np.rint(self.form.positions[:, 0] / cell).astype(np.intp)
        return half_cells

    @cached_property
    def tops(self) -> list[tuple[int, int, int, int]]:
        """Creases at the top: (least, greatest half cell along the tree, the two layers)."""
        roles = np.array(self.pattern.roles)[self.creases[:, 0]]
        rows = self.creases[roles == "between"]
        ends = np.sort(self.across[self.pattern.edges[rows[:, 0]]], axis=1)
        tops: list[tuple[int, int, int, int]] = np.hstack([ends, rows[:, 1:]]).tolist()
        return tops

    @cached_property
    def top_pairs(self) -> dict[int, tuple[int, ...]]:
        """For each layer those of other rings that it meets at the top."""
        pairs: dict[int, tuple[int, ...]] = {}
        for _, _, a, b in self.tops:
            if self.ring_of[a] != self.ring_of[b]:
                pairs[a], pairs[b] = (*pairs.get(a, ()), b), (*pairs.get(b, ()), a)
        return pairs

    @cached_property
    def tops_of(self) -> dict[int, list[tuple[int, int, int, int]]]:
        """The creases at the top of each polygon."""
        tops: dict[int, list[tuple[int, int, int, int]]] = defaultdict(list)
        for row in self.tops:
            tops[int(self.polygon_of[row[2]])].append(row)
        return tops

    def _rings(self, of_face: NDArray[np.intp]) -> list[GridRing]:
        boundary: dict[int, dict[HalfEdge, int]] = defaultdict(dict)
        pattern = self.pattern
        for role, (a, b), (f, g) in zip(
            pattern.roles, pattern.edges.tolist(), pattern.edge_faces.tolist(), strict=True
        ):
            if role in {"axial", "border"}:
                for face, way in ((f, (a, b)), (g, (b, a))):
                    if face >= 0:
                        boundary[int(of_face[face])][way] = int(self.layer_of[face])
        rows = [(k, walk) for k in sorted(boundary) for walk in self._walks.round(boundary[k])]
        points = self._walks.round_points()
        rows += [(int(self.polygon_of[walk[0][0]]), walk) for walk in points]
        spans = _Spans(self)
        return [GridRing(k, *walk, *spans.of(walk[0])) for k, walk in rows]


class _Spans:
    """The extent of layers and creases at a quarter and at three quarters of the height."""

    def __init__(self, rings: GridRings) -> None:
        pattern, across = rings.pattern, rings.across
        up = (pattern.heights > pattern.heights.max() / 2).astype(np.intp)
        self.rings = rings
        edges = pattern.edges
        rising = up[edges[:, 0]] != up[edges[:, 1]]
        turned = np.where((up[edges[:, 0]] == 1)[:, None], edges[:, ::-1], edges)
        low, high = across[turned].T
        at = np.array([QUARTERS * low + k * (high - low) for k in (1, 3)])
        self.width = int(at.max()) + 1
        n = len(rings.polygon_of)
        self.least = np.full((2, n), self.width, dtype=np.intp)
        self.most = np.full((2, n), -1, dtype=np.intp)
        for faces in pattern.edge_faces.T:
            here = rising & (faces >= 0)
            layers = rings.layer_of[faces[here]]
            for k in range(2):
                np.minimum.at(self.least[k], layers, at[k, here])
                np.maximum.at(self.most[k], layers, at[k, here])
        roles = np.array(pattern.roles)[rings.creases[:, 0]]
        self.at = at
        self.by_layer: dict[int, list[int]] = defaultdict(list)
        for row in np.flatnonzero(~np.isin(roles, ALONG)).tolist():
            self.by_layer[int(rings.creases[row, 1])].append(row)

    def of(
        self, layers: tuple[int, ...]
    ) -> tuple[int, tuple[tuple[int, int, int, bool, bool], ...]]:
        """Return the bits covered by the layers of a ring, and its creases."""
        place = {x: k for k, x in enumerate(layers) if x != SPACE}
        rows = [row for x in place for row in self.by_layer.get(x, ())]
        own = list(place)
        least, most = self.least[:, own], self.most[:, own]
        covered = 0
        for k in range(2):
            for low, high in set(zip(least[k].tolist(), most[k].tolist(), strict=True)):
                if high > low + 1:
                    covered |= ((1 << high) - (1 << (low + 1))) << (k * self.width)
        if not rows:
            return covered, ()
        sides = self.rings.creases[rows]
        c = self.at[:, sides[:, 0]]
        crossed = np.zeros((len(rows), len(own)), dtype=bool)
        for low, high, at in zip(least, most, c[:, :, None], strict=True):
            crossed |= (low < at) & (at < high)
        places = np.array(list(place.values()))
        spans = []
        for k, (_, a, b) in enumerate(sides.tolist()):
            if b not in place:
                continue
            first, second = sorted((place[a], place[b]))
            third = places[crossed[k]]
            third = third[(third != first) & (third != second)]
            within = (first < third) & (third < second)
            bits = (1 << int(c[0, k])) | (1 << int(c[1, k]) + self.width)
            spans.append((first, second, bits, bool(within.any()), bool((~within).any())))
        return covered, tuple(spans)


class _Walks:
    """Walks along the lower edges of strips."""

    def __init__(self, pattern: CreasePattern, layer_of: NDArray[np.intp]) -> None:
        self.pattern = pattern
        self.low = pattern.heights < pattern.heights.max() / 2
        self.left: dict[HalfEdge, int] = {}
        self.edge: dict[HalfEdge, int] = {}
        self.around: list[list[int]] = []
        for k, ((a, b), (f, g)) in enumerate(
            zip(pattern.edges.tolist(), pattern.edge_faces.tolist(), strict=True)
        ):
            self.edge[a, b] = self.edge[b, a] = k
            self.left[a, b] = int(layer_of[f]) if f >= 0 else SPACE
            self.left[b, a] = int(layer_of[g]) if g >= 0 else SPACE
        ends = pattern.edges.tolist()
        for v, edges in enumerate(pattern.edges_at):
            self.around.append([sum(ends[k]) - v for k in reversed(edges)])

    def round(
        self, boundary: dict[HalfEdge, int]
    ) -> list[tuple[tuple[int, ...], tuple[int, ...]]]:
        """Walk round each closed curve of a polygon's boundary: layers and gaps before them."""
        out: dict[int, set[int]] = defaultdict(set)
        for a, b in boundary:
            out[a].add(b)
        left = set(boundary)
        walks = []
        for start in sorted(boundary):
            if start not in left:
                continue
            at = start
            rows: list[tuple[int, int]] = []
            while True:
                left.discard(at)
                a, v = at
                if self.low[a] or self.low[v]:
                    rows.append((boundary[at], -1))
                onward = self._clockwise(at, out[v])
                if self.low[v]:
                    rows += self._at_vertex(at, onward)
                at = onward
                if at == start:
                    break
            walks.append(_ring(rows))
        return [walk for walk in walks if any(x != SPACE for x in walk[0])]

    def round_points(self) -> list[tuple[tuple[int, ...], tuple[int, ...]]]:
        """Walk round each point on the axis at which no axial crease ends."""
        roles = self.pattern.roles
        return [
            _ring([(self.left[v, x], -1) for x in self.around[v]])
            for v in np.flatnonzero(self.low).tolist()
            if not any(roles[k] in {"axial", "border"} for k in self.pattern.edges_at[v])
        ]

    def _clockwise(self, at: HalfEdge, out: set[int]) -> HalfEdge:
        """Return the half edge that leaves the end of another next to it, clockwise."""
        around = self.around[at[1]]
        k = around.index(at[0])
        return at[1], next(w for w in around[k + 1 :] + around[: k + 1] if w in out)

    def _at_vertex(self, at: HalfEdge, onward: HalfEdge) -> list[tuple[int, int]]:
        """Return the layers met at a vertex on the axis, with the gaps at the first and last."""
        (a, v), (_, w) = at, onward
        around = self.around[v]
        k = around.index(a)
        turned = around[k:] + around[:k]
        stop = turned.index(w, 1) if w in turned[1:] else len(turned)
        fan = [self.left[v, x] for x in turned[1:stop]]
        layers = [self.left[a, v]]
        for layer in [*fan, self.left[v, w]]:
            if layer != layers[-1]:
                layers.append(layer)
        if len(layers) < 2:
            return []
        gaps = self._end(a, v), self._end(w, v)
        inner = [(layer, -1) for layer in layers[1:-1]]
        if not inner:
            return [(SPACE, gaps[0]), (SPACE - 1, SPACE), (SPACE, gaps[1])]
        return [(SPACE, gaps[0]), *inner, (SPACE, gaps[1])]

    def _end(self, other: int, vertex: int) -> int:
        edge = self.edge[other, vertex]
        return 2 * edge + int(self.pattern.edges[edge, 1] == vertex)


def _ring(rows: list[tuple[int, int]]) -> tuple[tuple[int, ...], tuple[int, ...]]:
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
    return tuple(layers), tuple(gaps)
