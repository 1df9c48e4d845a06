"""A crease pattern as straight creases: edges of one role that run on straight are one fold."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from packer.creases.plane_graph import joined
from packer.landmarks.alignments import line_at
from packer.units import SAME_DIRECTION, STRAIGHT

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from packer.creases.pattern import CreasePattern, Role


@dataclass(frozen=True, eq=False)
class StraightCrease:
    """A straight crease of a pattern, from one of its ends to the other.

    Attributes
    ----------
    role
        That of its edges.
    vertices
        In order along it.
    edges
        In order along it, one fewer.
    line
        ``(a, b, c)`` with ``a x + b y = c`` and ``a a + b b = 1``, in sheet units.
    """

    role: Role
    vertices: tuple[int, ...]
    edges: tuple[int, ...]
    line: NDArray[np.float64]

    @property
    def ends(self) -> tuple[int, int]:
        """Its first and last vertex."""
        return self.vertices[0], self.vertices[-1]


def straight_creases(pattern: CreasePattern) -> tuple[StraightCrease, ...]:
    """Return the straight creases of a pattern; the four edges of the sheet are among them."""
    roles = np.array(pattern.roles)
    ways = pattern.points[pattern.edges[:, 1]] - pattern.points[pattern.edges[:, 0]]
    ways /= np.hypot(*ways.T)[:, None]
    ties = []
    for around in pattern.edges_at:
        for i, e in enumerate(around):
            for f in around[:i]:
                turn = abs(ways[e, 0] * ways[f, 1] - ways[e, 1] * ways[f, 0])
                if roles[e] == roles[f] and turn < STRAIGHT:
                    ties.append((e, f))
    sets = joined(len(pattern.edges), *np.array(ties, dtype=np.intp).reshape(-1, 2).T)
    return tuple(
        _crease(pattern, np.flatnonzero(sets == k), ways) for k in range(int(sets.max()) + 1)
    )


def _crease(
    pattern: CreasePattern, edges: NDArray[np.intp], ways: NDArray[np.float64]
) -> StraightCrease:
    way = ways[edges[0]]
    along = pattern.points @ way
    vertices = np.unique(pattern.edges[edges])
    vertices = vertices[np.argsort(along[vertices])]
    edges = edges[np.argsort(along[pattern.edges[edges]].min(axis=1))]
    # the two ends, as far apart as can be, say the direction best
    first, last = pattern.points[vertices[[0, -1]]]
    normal = np.array([first[1] - last[1], last[0] - first[0]])
    line = line_at(normal, (first + last) / 2)
    return StraightCrease(
        pattern.roles[int(edges[0])], tuple(vertices.tolist()), tuple(edges.tolist()), line
    )


def base_lines(pattern: CreasePattern) -> NDArray[np.float64]:
    """Return (f, 3) the line of height 0 of each face: it stands square to the face's hinges.

    For a face above a side of its polygon that is the side's line, for a face above a gusset the
    gusset's, moved by its height.
    """
    rows = np.zeros((len(pattern.faces), 3))
    for k, loop in enumerate(pattern.faces):
        points, heights = pattern.points[list(loop)], pattern.heights[list(loop)]
        middle = points.mean(axis=0)
        slope = np.linalg.lstsq(points - middle, heights - heights.mean(), rcond=None)[0]
        slope /= np.hypot(*slope)
        rows[k] = *slope, slope @ middle - heights.mean()
    return rows


class LinesBeside:
    """Which straight creases the faces of a pattern stand on, looked for once for each face."""

    def __init__(self, pattern: CreasePattern, creases: Sequence[StraightCrease]) -> None:
        self.pattern, self.creases = pattern, creases
        self.bases = base_lines(pattern)
        self.lines = np.array([crease.line for crease in creases])
        self.straight = np.array([crease.role in {"border", "axial"} for crease in creases])
        self.beside: dict[int, tuple[list[int], list[int]]] = {}

    def of(self, face: int) -> tuple[list[int], list[int]]:
        """Return the creases along a face's line of height 0, and gussets that bound it and lead the same way."""
        if face not in self.beside:
            base = self.bases[face]
            off = SAME_DIRECTION * self.pattern.sheet.diagonal
            x, y, at = self.lines.T
            same = abs(x * base[1] - y * base[0]) <= SAME_DIRECTION
            sign = np.where(x * base[0] + y * base[1] > 0, 1.0, -1.0)
            on = same & self.straight & (abs(at - sign * base[2]) < off)
            gussets = [k for k in np.flatnonzero(same).tolist() if self._bounds(face, k)]
            self.beside[face] = np.flatnonzero(on).tolist(), gussets
        return self.beside[face]

    def _bounds(self, face: int, number: int) -> bool:
        """Return whether a crease is a gusset that a face lies along."""
        crease = self.creases[number]
        edge_faces = self.pattern.edge_faces
        return crease.role == "gusset" and any(face in edge_faces[k] for k in crease.edges)
