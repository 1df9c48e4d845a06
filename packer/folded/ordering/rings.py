"""The molecules of a pattern, seen from a root, each with the ring of its layers.

A polygon of active paths holds one molecule. Walking its boundary counter-clockwise one meets its
layers one after another; two that follow each other are joined by a crease, so that such a ring
closes the molecule without any crease passing through a layer. Layers that begin at a gusset come
in by walking slits as if they were boundary: from a tip up the ridges to the gusset's end and along
it to its lowest place.

Between two tips of a side lies the vertex over the joint where the way from the root to both parts:
the only one with a folded hinge. That is a gap of the ring, through which a neighbour can be
joined.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from packer.creases.plane_graph import joined
from packer.folded.form import depths, fold
from packer.folded.ordering.crossings import Crossings
from packer.folded.overlaps import layer_numbers, on_one_line
from packer.units import SAME_PLACE, STRAIGHT

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.creases.pattern import CreasePattern

HalfEdge = tuple[int, int]
"""A directed edge of the pattern, from vertex to vertex."""


@dataclass(frozen=True)
class Ring:
    """The layers of one molecule in the order of its boundary, and the gaps between them.

    Attributes
    ----------
    layers
        Counter-clockwise, each once.
    gaps
        For each layer the gap's vertex between it and the layer before, -1 where the two are
        joined by a ridge or a gusset.
    """

    layers: tuple[int, ...]
    gaps: tuple[int, ...]

    def cut_at(self, gap: int) -> Ring:
        """Return the ring turned so that it begins behind a gap."""
        k = self.gaps.index(gap)
        return Ring(self.layers[k:] + self.layers[:k], self.gaps[k:] + self.gaps[:k])


@dataclass(frozen=True)
class Gusset:
    """The layers on both sides of a gusset, in the order of the ring, at each of its ends.

    Attributes
    ----------
    ends
        For one end (of a gusset that runs straight outwards) or both: the two layers as they
        follow each other round that end.
    depth
        Least distance from the root along it.
    """

    ends: tuple[tuple[int, int], ...]
    depth: float


@dataclass(frozen=True)
class Molecule:
    """One polygon of active paths.

    Attributes
    ----------
    ring
        None where the boundary walk does not meet every layer exactly once.
    layers
        All its layers.
    low
        Least distance from the root on its boundary, in sheet units.
    gussets
        Its gussets.
    """

    ring: Ring | None
    layers: frozenset[int]
    low: float
    gussets: tuple[Gusset, ...]


@dataclass(frozen=True, eq=False)
class InnerConditions:
    """What keeps the layers of one molecule from crossing each other.

    Attributes
    ----------
    number
        The layers numbered from 0.
    ends
        (k, 2) the numbers of the layers that meet at each of its creases.
    crossed
        (m, 2) a crease and a layer across which it lies.
    lined_up
        (p, 2) creases on one line with their layers on one side.
    """

    number: dict[int, int]
    ends: NDArray[np.intp]
    crossed: NDArray[np.intp]
    lined_up: NDArray[np.intp]


class Molecules:
    """The molecules of a pattern whose flaps all point away from a root.

    Attributes
    ----------
    pattern, form
        The creases and their folded form.
    layer_of
        (f,) the layer of each face.
    molecule_of
        (layers,) the molecule of each layer.
    depth
        (v,) distance of each vertex from the root along the tree.
    room
        Distance along the tree below which two places are one.
    """

    def __init__(self, pattern: CreasePattern, root: int) -> None:
        self.pattern, self.form = pattern, fold(pattern, root)
        self.depth = depths(pattern, root)
        self.room = SAME_PLACE * pattern.sheet.diagonal
        self.layer_of = layer_numbers(pattern, self.form)
        roles = np.array(pattern.roles)
        left, right = pattern.edge_faces.T
        inside = (left >= 0) & (right >= 0) & (roles != "axial")
        of_face = joined(len(pattern.faces), left[inside], right[inside])
        self.molecule_of = np.zeros(int(self.layer_of.max()) + 1, dtype=np.intp)
        self.molecule_of[self.layer_of] = of_face
        self.of_face = of_face
        self._ends = pattern.edges.tolist()
        self._inner: dict[int, InnerConditions] = {}
        self.tips = set(pattern.tips.values())
        self.all = tuple(self._molecules())

    @cached_property
    def creases(self) -> NDArray[np.intp]:
        """(c, 3) folded edges as (edge, layer on its left, layer on its right)."""
        edges = np.flatnonzero(self.form.folded)
        return np.column_stack([edges, self.layer_of[self.pattern.edge_faces[edges]]])

    @cached_property
    def flipped(self) -> NDArray[np.bool_]:
        """(layers,) whether a layer shows its back."""
        turned = np.zeros(len(self.molecule_of), dtype=bool)
        turned[self.layer_of] = self.form.flipped
        return turned

    @cached_property
    def crossings(self) -> Crossings:
        """Which creases lie across which layers."""
        return Crossings(self.pattern, self.form, self.layer_of, self.creases, self.flipped)

    @cached_property
    def rows_of(self) -> tuple[NDArray[np.intp], ...]:
        """For each molecule the rows of `creases` with both layers in it."""
        first, second = self.molecule_of[self.creases[:, 1:]].T
        own = np.where(first == second, first, -1)
        return tuple(np.flatnonzero(own == k) for k in range(len(self.all)))

    def inner_conditions(self, molecule: int) -> InnerConditions:
        """Return what an order of a molecule's own layers must keep, worked out once."""
        if molecule not in self._inner:
            rows, layers = self.rows_of[molecule], sorted(self.all[molecule].layers)
            number = {layer: k for k, layer in enumerate(layers)}
            sides = self.creases[rows, 1:]
            ends = np.array([[number[a], number[b]] for a, b in sides.tolist()])
            row, layer = np.indices((len(rows), len(layers))).reshape(2, -1)
            apart = (ends[row] != layer[:, None]).all(axis=1)
            row, layer = row[apart], layer[apart]
            across = self.crossings.across(rows[row], np.array(layers)[layer])
            self._inner[molecule] = InnerConditions(
                number,
                ends,
                np.column_stack([row, layer])[across],
                on_one_line(self.pattern, self.form, self.creases[rows], self.flipped),
            )
        return self._inner[molecule]

    @cached_property
    def joined_by_gap(self) -> dict[int, tuple[int, ...]]:
        """For each gap's vertex the molecules that have it."""
        joined: dict[int, tuple[int, ...]] = {}
        for k, molecule in enumerate(self.all):
            for gap in molecule.ring.gaps if molecule.ring else ():
                if gap >= 0:
                    joined[gap] = (*joined.get(gap, ()), k)
        return joined

    def _molecules(self) -> list[Molecule]:
        pattern = self.pattern
        boundary: dict[int, dict[HalfEdge, int]] = defaultdict(dict)
        gussets: dict[int, list[int]] = defaultdict(list)
        for k, (role, (a, b), (f, g)) in enumerate(
            zip(pattern.roles, pattern.edges.tolist(), pattern.edge_faces.tolist(), strict=True)
        ):
            if role in {"axial", "border"}:
                for face, way in ((f, (a, b)), (g, (b, a))):
                    if face >= 0:
                        boundary[int(self.of_face[face])][way] = int(self.layer_of[face])
            elif role == "gusset":
                gussets[int(self.of_face[f])].append(k)
        layers: dict[int, set[int]] = defaultdict(set)
        for layer, molecule in enumerate(self.molecule_of.tolist()):
            layers[molecule].add(layer)
        return [
            self._molecule(boundary[k], gussets[k], frozenset(layers[k]))
            for k in range(len(layers))
        ]

    def _molecule(
        self, boundary: dict[HalfEdge, int], gussets: list[int], layers: frozenset[int]
    ) -> Molecule:
        low = min(float(self.depth[a]) for a, _ in boundary)
        half = dict(boundary)
        turns: set[HalfEdge] = set()
        slits = [self._slit(line, half, turns) for line in self._lines(gussets)]
        ring = self._walked(boundary, half, turns)
        if ring is not None and sorted(ring.layers) != sorted(layers):
            ring = None
        return Molecule(ring, layers, low, tuple(slits))

    def _slit(self, line: list[int], half: dict[HalfEdge, int], turns: set[HalfEdge]) -> Gusset:
        """Slit a polygon from tips up to a gusset and along it to its lowest place.

        Adds the half edges to `half`, those that end there to `turns`.
        """
        depth = self.depth[line]
        m = int(depth.argmin())
        ends = []
        for part in (line[: m + 1], line[m:][::-1]):
            if len(part) < 2:
                continue
            for a, b in pairwise(part):
                half[a, b], half[b, a] = self.layer_left(a, b), self.layer_left(b, a)
            turns.add((part[-2], part[-1]))
            ends.append((half[part[0], part[1]], half[part[1], part[0]]))
            v = part[0]
            while v not in self.tips and (w := self.below(v)) >= 0:
                half[v, w] = half[w, v] = -1
                v = w
        return Gusset(tuple(ends), float(depth[m]))

    def _walked(
        self,
        boundary: dict[HalfEdge, int],
        half: dict[HalfEdge, int],
        turns: set[HalfEdge],
    ) -> Ring | None:
        """Walk once round with the polygon on the left; None where the walk does not close."""
        out: dict[int, set[int]] = defaultdict(set)
        for a, b in half:
            if (b, a) not in turns:
                out[a].add(b)
        rows: list[tuple[int, int]] = []
        at = start = next(iter(boundary))
        for _ in range(2 * len(half)):
            onward = at[::-1] if at in turns else self._clockwise(at, out[at[1]])
            if half[at] >= 0:
                rows.append((half[at], -1))
            inner = at in boundary and onward in boundary and at[1] not in self.tips
            if inner and half[at] != half[onward]:
                rows.append((-1, at[1]))
            at = onward
            if at == start:
                return _ring_of(rows)
        return None

    def _clockwise(self, at: HalfEdge, out: set[int]) -> HalfEdge:
        """Return the half edge that leaves the end of another next to it, clockwise."""
        around = [self.other_end(k, at[1]) for k in reversed(self.pattern.edges_at[at[1]])]
        k = around.index(at[0])
        return at[1], next(w for w in around[k + 1 :] + around[: k + 1] if w in out)

    def _lines(self, gussets: list[int]) -> list[list[int]]:
        """Return the vertices along each gusset, which hinges may cut into several edges."""
        pattern = self.pattern
        near: dict[int, list[int]] = defaultdict(list)
        for k in gussets:
            a, b = pattern.edges[k].tolist()
            near[a].append(b)
            near[b].append(a)

        def onward(a: int, v: int) -> int | None:
            if self.below(v) >= 0:
                return None
            u = pattern.points[v] - pattern.points[a]
            for b in near[v]:
                w = pattern.points[b] - pattern.points[v]
                cross, dot = u[0] * w[1] - u[1] * w[0], u @ w
                if b != a and dot > 0 and abs(cross) <= 10 * STRAIGHT * dot:
                    return b
            return None

        lines, seen = [], set()
        for k in gussets:
            if k in seen:
                continue
            line = pattern.edges[k].tolist()
            for _ in range(2):
                line.reverse()
                while (b := onward(line[-2], line[-1])) is not None:
                    line.append(b)
            lines.append(line)
            ends = {frozenset(pair) for pair in pairwise(line)}
            seen |= {e for e in gussets if frozenset(pattern.edges[e].tolist()) in ends}
        return lines

    def below(self, vertex: int) -> int:
        """Return a vertex reached from another by a ridge that goes down, -1 if there is none."""
        heights = self.pattern.heights
        for k in self.pattern.edges_at[vertex]:
            if self.pattern.roles[k] == "ridge":
                other = self.other_end(k, vertex)
                if heights[other] < heights[vertex] - self.room * 1e-3:
                    return int(other)
        return -1

    def other_end(self, edge: int, vertex: int) -> int:
        """Return the end of an edge that is not the given one."""
        a, b = self._ends[edge]
        return int(b if a == vertex else a)

    def layer_left(self, a: int, b: int) -> int:
        """Return the layer on the left of a half edge."""
        for k in self.pattern.edges_at[a]:
            first, second = self.pattern.edges[k].tolist()
            if (first, second) == (a, b):
                return int(self.layer_of[self.pattern.edge_faces[k, 0]])
            if (second, first) == (a, b):
                return int(self.layer_of[self.pattern.edge_faces[k, 1]])
        raise KeyError((a, b))


def _ring_of(rows: list[tuple[int, int]]) -> Ring:
    """Join equal neighbours of a closed walk; the gap between two layers goes to the second."""
    layers: list[int] = []
    gaps: list[int] = []
    gap = -1
    for layer, vertex in rows:
        if layer < 0:
            gap = vertex
        elif not layers or layers[-1] != layer:
            layers.append(layer)
            gaps.append(gap)
            gap = -1
    if len(layers) > 1 and layers[0] == layers[-1]:
        layers.pop()
        gaps[0] = gaps.pop()
    elif gap >= 0:
        gaps[0] = gap
    return Ring(tuple(layers), tuple(gaps))
