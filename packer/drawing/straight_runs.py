"""Edges of a pattern that follow each other straight on, as one line each.

A crease that crosses others is many edges, one from vertex to vertex. Drawn edge by edge its
dashes would begin anew at every vertex, and none might be left whole.
"""

from __future__ import annotations

import math
from collections.abc import Hashable
from itertools import combinations
from typing import TYPE_CHECKING, TypeVar

from packer.units import STRAIGHT

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from packer.creases.pattern import CreasePattern
    from packer.drawing.marks.strokes import Point

Key = TypeVar("Key", bound=Hashable)

Run = tuple[int, int]
"""The vertices at the ends of a line."""


def straight_runs(pattern: CreasePattern, keys: Sequence[Key | None]) -> dict[Key, list[Run]]:
    """Return the longest straight lines along edges of one key, by their key.

    Parameters
    ----------
    pattern
        The vertices and edges.
    keys
        What the edges of a line have in common, such as role and fold, one for each edge; None
        for an edge that is left out.

    Returns
    -------
    dict
        For each key its lines, in the order in which their first edges stand in the pattern. A
        line passes vertices at which other creases meet it.
    """
    edges = pattern.edges.tolist()
    onward = dict(_onward(pattern, keys))
    runs: dict[Key, list[Run]] = {}
    used: set[int] = set()

    def end_of(edge: int, vertex: int) -> int:
        """Walk from an edge over a vertex to where the line ends."""
        while (edge, vertex) in onward:
            edge = onward[edge, vertex]
            used.add(edge)
            a, b = edges[edge]
            vertex = a + b - vertex
        return vertex

    for edge, key in enumerate(keys):
        if key is not None and edge not in used:
            start, end = edges[edge]
            runs.setdefault(key, []).append((end_of(edge, start), end_of(edge, end)))
    return runs


def line_of(pattern: CreasePattern, run: Run, mm: float) -> tuple[Point, Point]:
    """Return the ends of a line in a drawing of so many mm for one unit of the sheet."""
    (a, b), (c, d) = (pattern.points[list(run)] * mm).tolist()
    return (a, b), (c, d)


def _onward(
    pattern: CreasePattern, keys: Sequence[Key | None]
) -> Iterator[tuple[tuple[int, int], int]]:
    """Yield an edge with a vertex, and the edge of the same key that goes straight on there."""
    at: dict[tuple[int, Key], list[tuple[int, float, float]]] = {}
    points = pattern.points.tolist()
    for edge, ((a, b), key) in enumerate(zip(pattern.edges.tolist(), keys, strict=True)):
        if key is not None:
            x, y = points[b][0] - points[a][0], points[b][1] - points[a][1]
            at.setdefault((a, key), []).append((edge, x, y))
            at.setdefault((b, key), []).append((edge, -x, -y))
    for (vertex, _), ways in at.items():
        for (one, x0, y0), (other, x1, y1) in combinations(ways, 2):
            turn, size = abs(x0 * y1 - y0 * x1), math.hypot(x0, y0) * math.hypot(x1, y1)
            if turn < STRAIGHT * size and x0 * x1 + y0 * y1 < 0:
                yield (one, vertex), other
                yield (other, vertex), one
