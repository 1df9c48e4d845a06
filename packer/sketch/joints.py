"""Join the strokes of a sketch into a tree: ends that meet, ends on middles, crossings.

Whatever is no tree is told as a fault with its place: a loop, a loose piece, a doubled stroke.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Final, Literal

import numpy as np
import shapely
from scipy.spatial import cKDTree

from packer.errors import FigureError
from packer.sketch.faults import (
    HOOK,
    Fault,
    Part,
    closed,
    loose_pieces,
    self_crossing,
    without_doubles,
    without_loops,
)
from packer.sketch.polylines import arc_lengths, cut, passes

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from packer.sketch.sketch_values import Sketch, Stroke

    Points = NDArray[np.float64]

MOST_NEAR: Final = 200_000
"""Pairs of strokes whose boxes overlap: a star of 400 limbs; strokes copied onto each other have more."""

JOIN: Final = 0.05
"""Ends closer than this share of the shortest stroke are one joint: a few percent."""


@dataclass(frozen=True, eq=False)
class Net:
    """The strokes, joined.

    Attributes
    ----------
    places
        (nodes, 2) tips and joints, in pixels.
    parts
        The edges; a tree where there is no fault.
    reach
        The joining distance used, in pixels.
    faults
        Why this is no tree, if it is none.
    crossings
        How many crossings were not joined.
    """

    places: Points
    parts: tuple[Part, ...]
    reach: float
    faults: tuple[Fault, ...]
    crossings: int = 0


Crossing = Literal["pass", "join"]
CROSSINGS: Final[tuple[Crossing, ...]] = ("pass", "join")
"""What becomes of strokes that only cross: one passes over the other, or they are joined."""


def join_strokes(sketch: Sketch, join: float = JOIN, cross: Crossing = "pass") -> Net:
    """Join strokes whose ends meet or end on another's middle, and perhaps those that cross.

    Parameters
    ----------
    sketch
        The drawing.
    join
        The joining distance, as a share of the shortest stroke.
    cross
        Whether strokes that only cross pass over each other, as a horn over an antenna, or are
        joined.
    """
    marks = _Marks(sketch.strokes, join)
    marks.meet_ends()
    marks.meet_middles()
    if cross == "join":
        for i, j, point in marks.crossings():
            marks.cross_at(i, j, point)
    marks.merge_close()
    pieces, faults = marks.pieces()
    pieces, more = without_doubles(marks, pieces, marks.reach)
    faults += more
    tree, more = without_loops(marks, pieces)
    faults += more
    faults += loose_pieces(tree)
    places, parts = _numbered(marks, tree)
    passed = 0 if cross == "join" else sum(marks.apart(*met) for met in marks.crossings())
    return Net(places, tuple(_chained(places, parts)), marks.reach, tuple(faults), passed)


class _Marks:
    """Places along strokes, some of which are one and the same node (a union-find)."""

    def __init__(self, strokes: Sequence[Stroke], join: float) -> None:
        self.strokes = strokes
        self.lines = [shapely.LineString(s.points) for s in strokes]
        self.arcs = [arc_lengths(s.points) for s in strokes]
        self.reach = join * min(arc[-1] for arc in self.arcs)
        self.where: list[tuple[int, float]] = []  # stroke, distance along it
        self.at: list[Points] = []
        self.head: list[int] = []
        for k, stroke in enumerate(strokes):
            self.add(k, 0.0, stroke.points[0])
            self.add(k, float(self.arcs[k][-1]), stroke.points[-1])

    def add(self, stroke: int, along: float, at: Points) -> int:
        self.where.append((stroke, along))
        self.at.append(at)
        self.head.append(len(self.head))
        return len(self.head) - 1

    def top(self, mark: int) -> int:
        while self.head[mark] != mark:
            self.head[mark] = self.head[self.head[mark]]
            mark = self.head[mark]
        return mark

    def unite(self, a: int, b: int) -> None:
        a, b = sorted((self.top(a), self.top(b)))
        self.head[b] = a

    def mark(self, stroke: int, along: float) -> int:
        """Return a mark on a stroke: an end that is near enough, else a new one."""
        if along <= self.reach:
            return 2 * stroke
        if along >= self.arcs[stroke][-1] - self.reach:
            return 2 * stroke + 1
        at = shapely.line_interpolate_point(self.lines[stroke], along)
        return self.add(stroke, along, np.array([at.x, at.y]))

    def meet_ends(self) -> None:
        _check_crowd(self.lines)
        for a, b in sorted(cKDTree(np.array(self.at)).query_pairs(self.reach)):
            self.unite(a, b)

    def meet_middles(self) -> None:
        ends = [shapely.Point(at) for at in self.at]
        near = shapely.STRtree(self.lines).query(ends, predicate="dwithin", distance=self.reach)
        for end, k in sorted(map(tuple, near.T.tolist())):
            if end // 2 != k:
                along = float(shapely.line_locate_point(self.lines[k], ends[end]))
                self.unite(end, self.mark(k, along))
            else:
                own = self.where[end][1]
                for along in passes(self.strokes[k].points, self.at[end], self.reach):
                    if abs(along - own) > HOOK * self.reach:
                        self.unite(end, self.mark(k, along))

    def crossings(self) -> list[tuple[int, int, shapely.Point]]:
        """Return pairs of strokes with the points that they have in common."""
        pairs = shapely.STRtree(self.lines).query(self.lines, predicate="intersects")
        return [
            (i, j, part)
            for i, j in sorted(map(tuple, pairs.T.tolist()))
            if i < j
            for part in shapely.get_parts(
                shapely.intersection(self.lines[i], self.lines[j])
            ).tolist()
            if part.geom_type == "Point"
        ]

    def apart(self, i: int, j: int, point: shapely.Point) -> bool:
        """Whether two strokes cross at a point far from the ends of both."""
        return all(
            self.reach < s < self.arcs[k][-1] - self.reach
            for k in (i, j)
            for s in [float(shapely.line_locate_point(self.lines[k], point))]
        )

    def cross_at(self, i: int, j: int, point: shapely.Point) -> None:
        """Join two strokes where they cross; at an end they have met already."""
        if self.apart(i, j, point):
            along = [float(shapely.line_locate_point(self.lines[k], point)) for k in (i, j)]
            self.unite(self.mark(i, along[0]), self.mark(j, along[1]))

    def merge_close(self) -> None:
        for order in self.along().values():
            for a, b in pairwise(order):
                if self.where[b][1] - self.where[a][1] <= self.reach:
                    self.unite(a, b)

    def along(self) -> dict[int, list[int]]:
        """Return the marks on each stroke, in order."""
        marks_along = defaultdict(list)
        for mark, (stroke, _) in enumerate(self.where):
            marks_along[stroke].append(mark)
        return {k: sorted(v, key=lambda m: self.where[m][1]) for k, v in marks_along.items()}

    def pieces(self) -> tuple[list[Part], list[Fault]]:
        """Cut every stroke at its marks; a piece that comes back to its own node is a fault."""
        parts: list[Part] = []
        faults: list[Fault] = []
        for k, order in self.along().items():
            points, arcs, name = self.strokes[k].points, self.arcs[k], self.strokes[k].name
            for a, b in pairwise(order):
                s, t = self.where[a][1], self.where[b][1]
                line = cut(points, arcs, s, t)
                part = Part((self.top(a), self.top(b)), line, t - s, ((name, t - s),))
                if part.ends[0] != part.ends[1]:
                    if bad := self_crossing(part, self.reach):
                        faults.append(bad)
                    parts.append(part)
                elif t - s > HOOK * self.reach:
                    faults.append(closed(part, self.reach))
        return parts, faults


def _numbered(marks: _Marks, tree: list[Part]) -> tuple[Points, list[Part]]:
    """Return nodes numbered from zero; a node lies in the middle of the marks that make it."""
    members = defaultdict(list)
    for mark, at in enumerate(marks.at):
        members[marks.top(mark)].append(at)
    number: dict[int, int] = {}
    parts = []
    for part in tree:
        a, b = (number.setdefault(end, len(number)) for end in part.ends)
        parts.append(Part((a, b), part.line, part.length, part.names))
    places = np.array([np.mean(members[node], axis=0) for node in number]).reshape(-1, 2)
    return places, parts


def _chained(places: Points, parts: list[Part]) -> list[Part]:
    """Make one part of every chain without a branch.

    A drawing without any branch keeps the joint nearest to its middle.
    """
    at: dict[int, list[int]] = defaultdict(list)
    for k, part in enumerate(parts):
        for end in part.ends:
            at[end].append(k)
    inner = [node for node, here in at.items() if len(here) == 2]
    if inner and all(len(here) < 3 for here in at.values()):
        half = (places.max(axis=0) + places.min(axis=0)) / 2
        inner.remove(min(inner, key=lambda n: float(np.hypot(*(places[n] - half)))))
    now: dict[int, Part] = dict(enumerate(parts))
    for node in inner:
        a, b = at[node]
        now[a] = _joined(now[a], now.pop(b), node)
        for end in now[a].ends:
            at[end] = [a if k == b else k for k in at[end]]
    return list(now.values())


def _joined(first: Part, second: Part, node: int) -> Part:
    """Return two parts as one, from the far end of the first to that of the second."""
    a, line = (first.ends[0], first.line)
    if first.ends[0] == node:
        a, line = first.ends[1], first.line[::-1]
    b, rest = (second.ends[1], second.line)
    if second.ends[1] == node:
        b, rest = second.ends[0], second.line[::-1]
    return Part(
        (a, b),
        np.vstack((line, rest)),
        first.length + second.length,
        first.names + second.names,
    )


def _check_crowd(lines: Sequence[shapely.LineString]) -> None:
    """Refuse strokes that lie over each other by the thousand, such as copies pasted in place."""
    near = shapely.STRtree(lines).query(lines).shape[1]
    if near > MOST_NEAR:
        raise FigureError(
            f"{len(lines)} strokes lie over each other; remove the copies or simplify the drawing"
        )
