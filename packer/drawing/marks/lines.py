"""A drawing as lines alone: no fills, and no line drawn twice.

The outlines of neighbouring areas share sides, and lie along the edge of the sheet. A pen or a
blade must go along each only once, and a dashed line under another is no longer dashed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.drawing.marks.strokes import Area, Drawing, Label, Mark, Path, arc_of
from packer.drawing.marks.styles import STYLES

if TYPE_CHECKING:
    from collections.abc import Iterator

    from packer.drawing.marks.strokes import Group, Point

SAME_MM: Final = 0.01
"""Two lines nearer than this along some way are one there; a tenth of the finest pen."""

SHORTEST_MM: Final = 0.05
"""What is left of a line between two others is dropped below this length."""

OUTLINES: Final = {"disc": "disc line", "loose disc": "disc line", "river": "river line"}
"""The kind that an area's outline becomes, where it is not the area's own."""

RULED: Final = frozenset({"grid line", "grid step"})
"""Kinds of lines that only guide the eye: anything else goes before them."""

Span = tuple[float, float]


@dataclass(frozen=True)
class Line:
    """A straight stroke."""

    start: Point
    end: Point

    @property
    def length(self) -> float:
        """In mm."""
        return math.dist(self.start, self.end)

    def part(self, first: float, last: float) -> Line:
        """Return the piece between two shares of the length."""
        (x0, y0), (x1, y1) = self.start, self.end

        def at(share: float) -> Point:
            if share in {0.0, 1.0}:  # exactly the ends, not nearly
                return self.end if share else self.start
            return x0 + share * (x1 - x0), y0 + share * (y1 - y0)

        return Line(at(first), at(last))


@dataclass(frozen=True)
class Arc:
    """A stroke along a circle: angles in radians, the turn above zero and at most a whole one."""

    centre: Point
    radius: float
    first: float
    turn: float

    @property
    def length(self) -> float:
        """In mm."""
        return self.radius * self.turn

    @property
    def start(self) -> Point:
        """Where it begins."""
        return self._at(self.first)

    @property
    def end(self) -> Point:
        """Where it ends, counter-clockwise from where it begins."""
        return self._at(self.first + self.turn)

    def _at(self, angle: float) -> Point:
        return (
            self.centre[0] + self.radius * math.cos(angle),
            self.centre[1] + self.radius * math.sin(angle),
        )

    def part(self, first: float, last: float) -> Arc:
        """Return the piece between two shares of the length."""
        return replace(
            self, first=self.first + first * self.turn, turn=(last - first) * self.turn
        )


Stroke = Line | Arc


def line_drawing(drawing: Drawing) -> Drawing:
    """Return a drawing whose areas are outlines and whose every line is drawn once.

    Where two lines coincide, a path is kept before the outline of an area, the earlier path
    before the later one, and the outline of the upper area before that of the lower. The lines of a
    grid come last, so that outlines on it are seen.
    """
    marks = list(drawing.marks)
    paths = [k for k, mark in enumerate(marks) if isinstance(mark, Path)]
    ruled = [k for k in paths if marks[k].kind in RULED]
    paths = [k for k in paths if marks[k].kind not in RULED]
    areas = [k for k, mark in enumerate(marks) if isinstance(mark, Area)]
    known = _Known()
    pieces = {
        k: [piece for side in _sides(marks[k]) for piece in known.add(side)]
        for k in (*paths, *reversed(areas), *ruled)
    }
    groups: list[Group] = []
    first = 0
    for name, group in drawing.groups:
        rows: list[Mark] = []
        for k, mark in enumerate(group, first):
            if k not in pieces:
                rows.append(mark)
                continue
            kind = OUTLINES.get(mark.kind, mark.kind)
            title = "" if isinstance(mark, Label) else mark.title
            rows += [path_of(piece, kind, mark.part, title) for piece in pieces[k]]
        groups.append((name, tuple(rows)))
        first += len(group)
    return replace(drawing, groups=tuple(groups))


def _sides(mark: Mark) -> Iterator[Stroke]:
    """Yield each side of a path or of an area that has an outline."""
    if isinstance(mark, Path):
        yield from strokes_of(mark.points, mark.bulges, mark.closed)
    elif isinstance(mark, Area) and STYLES[mark.kind].line:
        bulges = mark.bulges or ((),) * len(mark.rings)
        for ring, bulge in zip(mark.rings, bulges, strict=True):
            yield from strokes_of(ring, bulge, True)


def strokes_of(
    points: tuple[Point, ...], bulges: tuple[float, ...], closed: bool
) -> Iterator[Stroke]:
    """Yield the sides of a line as strokes, those of no length left out."""
    for k in range(len(points) if closed else len(points) - 1):
        start, end = points[k], points[(k + 1) % len(points)]
        if start == end:
            continue
        if not bulges or not bulges[k]:
            yield Line(start, end)
            continue
        centre, radius, first, turn = arc_of(start, end, bulges[k])
        yield Arc(centre, radius, first if turn > 0 else first + turn, abs(turn))


def waypoints(stroke: Stroke) -> list[Point]:
    """Return points along a stroke, on an arc one for every five degrees or so."""
    steps = 1 if isinstance(stroke, Line) else 1 + math.ceil(stroke.turn / math.radians(5))
    return [stroke.part(0.0, k / steps).end for k in range(steps)] + [stroke.end]


def path_of(stroke: Stroke, kind: str, part: str = "", title: str = "") -> Path:
    """Return a stroke as a path of one side, a whole circle as one of two."""
    if isinstance(stroke, Line):
        return Path(kind, (stroke.start, stroke.end), part=part, title=title)
    if stroke.turn > 2 * math.pi - 1e-9:
        half = stroke.part(0.0, 0.5)
        return Path(kind, (half.start, half.end), True, part, title, bulges=(1.0, 1.0))
    bulge = math.tan(stroke.turn / 4)
    return Path(kind, (stroke.start, stroke.end), False, part, title, bulges=(bulge,))


class _Known:
    """The strokes drawn so far, against which each new one is cut."""

    def __init__(self) -> None:
        self._lines: list[tuple[float, float, float, float]] = []
        self._arcs: list[tuple[float, float, float, float, float]] = []

    def add(self, stroke: Stroke) -> list[Stroke]:
        """Return the pieces of a stroke that are new, and know them from now on."""
        if isinstance(stroke, Line):
            covered = self._along_line(stroke)
        else:
            covered = self._along_arc(stroke)
        pieces = [stroke.part(*span) for span in _left(covered)]
        pieces = [piece for piece in pieces if piece.length >= SHORTEST_MM]
        for piece in pieces:
            if isinstance(piece, Line):
                self._lines.append((*piece.start, *piece.end))
            else:
                self._arcs.append((*piece.centre, piece.radius, piece.first, piece.turn))
        return pieces

    def _along_line(self, line: Line) -> list[Span]:
        """Return the shares of a line on which some known line lies."""
        if not self._lines:
            return []
        known = np.array(self._lines).reshape(-1, 2, 2)
        start, way = np.array(line.start), np.subtract(line.end, line.start)
        shares = (known - start) @ way / (way @ way)
        low = np.clip(shares.min(axis=1), 0.0, 1.0)
        high = np.clip(shares.max(axis=1), 0.0, 1.0)
        along = known[:, 1] - known[:, 0]
        size = np.hypot(along[:, 0], along[:, 1])

        near = np.ones(len(known), dtype=bool)
        for share in (low, high):
            away = start + share[:, None] * way - known[:, 0]
            near &= (
                np.abs(along[:, 0] * away[:, 1] - along[:, 1] * away[:, 0]) <= SAME_MM * size
            )
        near &= (high - low) * line.length > SAME_MM
        return list(zip(low[near].tolist(), high[near].tolist(), strict=True))

    def _along_arc(self, arc: Arc) -> list[Span]:
        """Return the shares of an arc on which some known arc lies."""
        if not self._arcs:
            return []
        known = np.array(self._arcs)
        near = np.hypot(known[:, 0] - arc.centre[0], known[:, 1] - arc.centre[1]) <= SAME_MM
        near &= np.abs(known[:, 2] - arc.radius) <= SAME_MM
        shares = []
        for first, turn in known[near][:, 3:].tolist():
            offset = (first - arc.first) % (2 * math.pi)
            for start in (offset, offset - 2 * math.pi):
                span = max(0.0, start / arc.turn), min(1.0, (start + turn) / arc.turn)
                if span[1] > span[0]:
                    shares.append(span)
        return shares


def _left(covered: list[Span]) -> list[Span]:
    """Return what some spans leave free of the span from 0 to 1."""
    free: list[Span] = []
    here = 0.0
    for low, high in sorted(covered):
        if low > here:
            free.append((here, low))
        here = max(here, high)
    if here < 1.0:
        free.append((here, 1.0))
    return free
