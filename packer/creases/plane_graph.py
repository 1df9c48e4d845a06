"""Plane graphs: vertices merged, straight joints removed, faces traced."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from packer.errors import PatternError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

Loop = tuple[int, ...]


def loop_areas(points: NDArray[np.float64], loops: Sequence[Loop]) -> NDArray[np.float64]:
    """Return the signed area of each vertex loop (shoelace formula), ccw positive."""
    sizes = np.array([len(loop) for loop in loops])
    starts = np.concatenate([[0], np.cumsum(sizes)[:-1]])
    row = np.array([v for loop in loops for v in loop], dtype=np.intp)
    after = np.arange(1, len(row) + 1)
    after[starts + sizes - 1] = starts
    here = points[row] - np.repeat(points[row[starts]], sizes, axis=0)
    there = here[after]
    cross = here[:, 0] * there[:, 1] - here[:, 1] * there[:, 0]
    areas: NDArray[np.float64] = 0.5 * np.add.reduceat(cross, starts)
    return areas


def sides_of_edges(edges: NDArray[np.intp], loops: Sequence[Loop]) -> NDArray[np.intp]:
    """Return (e, 2) the loop to the left and to the right of each edge, -1 for none.

    Raises
    ------
    PatternError
        Where a loop runs along a pair of vertices that is no edge, or two loops take the same side.
    """
    where: dict[tuple[int, int], tuple[int, int]] = {}
    for k, (a, b) in enumerate(edges.tolist()):
        where[a, b], where[b, a] = (k, 0), (k, 1)
    sides = np.full((len(edges), 2), -1, dtype=np.intp)
    for f, loop in enumerate(loops):
        for a, b in zip(loop, (*loop[1:], loop[0]), strict=True):
            if (a, b) not in where:
                raise PatternError("a face runs along something that is no edge")
            edge, side = where[a, b]
            if sides[edge, side] >= 0:
                raise PatternError("two faces lie on the same side of an edge")
            sides[edge, side] = f
    return sides


def joined(count: int, a: ArrayLike, b: ArrayLike) -> NDArray[np.intp]:
    """Return (count,) the number of the set that each thing is in, when pairs a-b are joined."""
    rows, columns = np.asarray(a, dtype=np.intp), np.asarray(b, dtype=np.intp)
    graph = coo_array((np.ones(len(rows)), (rows, columns)), shape=(count, count))
    labels: NDArray[np.intp] = connected_components(graph, directed=False)[1].astype(np.intp)
    return labels


def merged(points: ArrayLike, within: float) -> NDArray[np.intp]:
    """Return for each of (n, 2) points the lowest index of the points it coincides with.

    Points nearer than `within` coincide, and so does what is joined by a chain of such points.
    """
    rows = np.asarray(points, float)
    labels = joined(len(rows), *cKDTree(rows).query_pairs(within, output_type="ndarray").T)
    _, first, own = np.unique(labels, return_index=True, return_inverse=True)
    return first[own].astype(np.intp)


def trace_faces(points: NDArray[np.float64], edges: NDArray[np.intp]) -> tuple[Loop, ...]:
    """Return the inner faces of a connected plane graph as counter-clockwise loops.

    At the end of each half-edge the walk turns as far left as it can; the one loop of negative
    area is the outside and is left out.
    """
    ways = points[edges[:, 1]] - points[edges[:, 0]]
    angle = np.arctan2(ways[:, 1], ways[:, 0])
    back = np.arctan2(-ways[:, 1], -ways[:, 0])
    out: dict[int, list[tuple[float, int]]] = {}
    for k, (a, b) in enumerate(edges.tolist()):
        out.setdefault(a, []).append((float(angle[k]), b))
        out.setdefault(b, []).append((float(back[k]), a))
    following: dict[tuple[int, int], int] = {}
    for v, rows in out.items():
        ring = [w for _, w in sorted(rows)]
        for k, w in enumerate(ring):
            following[w, v] = ring[k - 1]
    loops: list[Loop] = []
    while following:
        start = next(iter(following))
        a, b = start
        loop = []
        while (a, b) in following:
            loop.append(b)
            a, b = b, following.pop((a, b))
        loops.append(tuple(loop))
    areas = loop_areas(points, loops)
    return tuple(loop for loop, area in zip(loops, areas, strict=True) if area > 0)
