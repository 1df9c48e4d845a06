"""A drawing as lines alone: no fills, and no line drawn twice.

The outlines of neighbouring areas share sides, and lie along the edge of the sheet. A pen or a
blade must go along each only once, and a dashed line under another is no longer dashed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np
import shapely

from packer.drawing.marks.strokes import Area, Drawing, Label, Mark, Path, arc_of
from packer.drawing.marks.styles import STYLES

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

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
        return self.at(0.0)

    @property
    def end(self) -> Point:
        """Where it ends, counter-clockwise from where it begins."""
        return self.at(1.0)

    def at(self, share: float) -> Point:
        """Return the point at a share of the length."""
        angle = self.first + share * self.turn
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
    order = (*paths, *reversed(areas), *ruled)
    pieces: dict[int, list[Stroke]] = {k: [] for k in order}
    owned = [(k, side) for k in order for side in _sides(marks[k])]
    for (k, _), new in zip(owned, _new_pieces([side for _, side in owned]), strict=True):
        pieces[k] += new
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
            if isinstance(mark, Area):
                rows += _outline(pieces[k], kind, mark.part, title)
            else:
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
    if isinstance(stroke, Line):
        return [stroke.start, stroke.end]
    steps = 1 + math.ceil(stroke.turn / math.radians(5))
    return [stroke.at(k / steps) for k in range(steps + 1)]


def path_of(stroke: Stroke, kind: str, part: str = "", title: str = "") -> Path:
    """Return a stroke as a path of one side, a whole circle as one of two."""
    if isinstance(stroke, Line):
        return Path(kind, (stroke.start, stroke.end), part=part, title=title)
    if stroke.turn > 2 * math.pi - 1e-9:
        half = stroke.part(0.0, 0.5)
        return Path(kind, (half.start, half.end), True, part, title, bulges=(1.0, 1.0))
    bulge = math.tan(stroke.turn / 4)
    return Path(kind, (stroke.start, stroke.end), False, part, title, bulges=(bulge,))


def _outline(pieces: list[Stroke], kind: str, part: str, title: str) -> Iterator[Path]:
    """Yield what is drawn of an area's outline: chords that go on from each other as one path."""
    run: list[Point] = []
    for piece in pieces:
        if run and not (isinstance(piece, Line) and piece.start == run[-1]):
            yield Path(kind, tuple(run), part=part, title=title)
            run = []
        if isinstance(piece, Line):
            run += [piece.end] if run else [piece.start, piece.end]
        else:
            yield path_of(piece, kind, part, title)
    if run:
        yield Path(kind, tuple(run), part=part, title=title)


def _new_pieces(strokes: list[Stroke]) -> list[list[Stroke]]:
    """Return for each stroke the pieces of it on which none before it lies."""
    covered: list[list[Span]] = [[] for _ in strokes]
    lines = [(k, stroke) for k, stroke in enumerate(strokes) if isinstance(stroke, Line)]
    arcs = [(k, stroke) for k, stroke in enumerate(strokes) if isinstance(stroke, Arc)]
    for k, span in _along_lines([line for _, line in lines]) if lines else ():
        covered[lines[k][0]].append(span)
    for k, span in _along_arcs([arc for _, arc in arcs]) if arcs else ():
        covered[arcs[k][0]].append(span)
    left = (
        [stroke.part(*span) for span in _left(spans)] if spans else [stroke]
        for stroke, spans in zip(strokes, covered, strict=True)
    )
    return [[piece for piece in pieces if piece.length >= SHORTEST_MM] for pieces in left]


def _along_lines(lines: list[Line]) -> Iterator[tuple[int, Span]]:
    """Yield an index and the share of that line on which one before it lies."""
    ends = np.array([(line.start, line.end) for line in lines])
    after, before = _near_before(shapely.linestrings(ends))
    start, way = ends[after, 0], ends[after, 1] - ends[after, 0]
    known, along = ends[before, 0], ends[before, 1] - ends[before, 0]
    length2, size = (way**2).sum(axis=1), np.hypot(along[:, 0], along[:, 1])
    shares = ((ends[before] - start[:, None]) * way[:, None]).sum(axis=2) / length2[:, None]
    low = np.clip(shares.min(axis=1), 0.0, 1.0)
    high = np.clip(shares.max(axis=1), 0.0, 1.0)
    near = (high - low) * np.sqrt(length2) > SAME_MM
    for share in (low, high):
        away = start + share[:, None] * way - known
        near &= np.abs(along[:, 0] * away[:, 1] - along[:, 1] * away[:, 0]) <= SAME_MM * size
    for k, *span in zip(
        after[near].tolist(), low[near].tolist(), high[near].tolist(), strict=True
    ):
        yield k, (span[0], span[1])


def _along_arcs(arcs: list[Arc]) -> Iterator[tuple[int, Span]]:
    """Yield an index and the share of that arc on which one before it lies."""
    radii = np.array([arc.radius for arc in arcs])
    after, before = _near_before(shapely.points([arc.centre for arc in arcs]))
    near = np.abs(radii[after] - radii[before]) <= SAME_MM
    for k, j in zip(after[near].tolist(), before[near].tolist(), strict=True):
        arc, known = arcs[k], arcs[j]
        offset = (known.first - arc.first) % (2 * math.pi)
        for start in (offset, offset - 2 * math.pi):
            span = max(0.0, start / arc.turn), min(1.0, (start + known.turn) / arc.turn)
            if span[1] > span[0]:
                yield k, span


def _near_before(shapes: NDArray[np.object_]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return pairs of indices, a later and an earlier one, of shapes nearer than `SAME_MM`."""
    tree = shapely.STRtree(shapes)
    after, before = tree.query(shapes, predicate="dwithin", distance=SAME_MM)
    order = np.lexsort((before, after))
    after, before = after[order], before[order]
    return after[before < after], before[before < after]


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
