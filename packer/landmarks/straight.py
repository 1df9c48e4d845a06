"""A crease pattern as straight creases: edges of one role that run on straight are one fold."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from packer.creases.plane_graph import joined
from packer.landmarks.alignments import line_at
from packer.units import STRAIGHT

if TYPE_CHECKING:
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
