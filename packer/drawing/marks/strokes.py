"""What to draw, said once: plain marks in millimetres, y up, each with a kind.

Where the marks come from and which format they end in does not matter here. `kind` looks up the
one table in `packer.drawing.marks.styles`; `part` is the flap or river that a mark belongs to.

A side of a path may be an arc. It is then given as its bulge, the tangent of a quarter of the
angle it turns through, above zero where it turns left: the notation of the DXF standard. No
bulges at all mean straight sides.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

Point = tuple[float, float]
Anchor = Literal["start", "middle", "end"]


@dataclass(frozen=True)
class Path:
    """A line through points; closed, it returns to the first."""

    kind: str
    points: tuple[Point, ...]
    closed: bool = False
    part: str = ""
    title: str = ""
    bulges: tuple[float, ...] = ()


@dataclass(frozen=True)
class Area:
    """A region inside its outer rings and outside the rings of its holes (even-odd rule)."""

    kind: str
    rings: tuple[tuple[Point, ...], ...]
    part: str = ""
    title: str = ""
    bulges: tuple[tuple[float, ...], ...] = ()


@dataclass(frozen=True)
class Disc:
    """A whole disc."""

    kind: str
    centre: Point
    radius: float
    part: str = ""
    title: str = ""


@dataclass(frozen=True)
class Label:
    """One line of text of a size in mm; `at` is the middle of its height.

    `angle` turns it about `at`, in degrees counter-clockwise.
    """

    kind: str
    at: Point
    text: str
    size: float
    anchor: Anchor = "middle"
    part: str = ""
    angle: float = 0.0


Mark = Path | Area | Disc | Label
Group = tuple[str, tuple[Mark, ...]]


@dataclass(frozen=True)
class Drawing:
    """Marks in named groups on a rectangle, the later over the earlier.

    Parameters
    ----------
    width, height
        In mm; the lower left corner is the origin.
    groups
        Pairs of a name and its marks; a group is a layer in formats that know layers.
    title, description
        For readers who cannot see it.
    colours
        The colour of each part, by name, as ``"#0072B2"``.
    margin
        Room left around the rectangle, in mm, for the width of lines.
    from_back
        Whether the sheet is seen from its back: everything is mirrored.
    """

    width: float
    height: float
    groups: tuple[Group, ...]
    title: str = ""
    description: str = ""
    colours: Mapping[str, str] = field(default_factory=dict)
    margin: float = 2.0
    from_back: bool = False

    @property
    def marks(self) -> Iterator[Mark]:
        """All marks, in the order drawn."""
        return (mark for _, marks in self.groups for mark in marks)


def only(drawing: Drawing, names: Iterable[str]) -> Drawing:
    """Return the drawing with the named groups alone, in the drawing's own order."""
    wanted = set(names)
    return replace(drawing, groups=tuple(g for g in drawing.groups if g[0] in wanted))


def moved(mark: Mark, dx: float, dy: float, factor: float = 1.0) -> Mark:
    """Return a mark enlarged by a factor about the origin, then shifted by (dx, dy) mm."""

    def shift(points: tuple[Point, ...]) -> tuple[Point, ...]:
        return tuple((factor * x + dx, factor * y + dy) for x, y in points)

    if isinstance(mark, Path):
        return replace(mark, points=shift(mark.points))
    if isinstance(mark, Area):
        return replace(mark, rings=tuple(map(shift, mark.rings)))
    if isinstance(mark, Disc):
        return replace(mark, centre=shift((mark.centre,))[0], radius=factor * mark.radius)
    return replace(mark, at=shift((mark.at,))[0], size=factor * mark.size)


def mirrored(drawing: Drawing) -> Drawing:
    """Return the drawing as seen through the back of the sheet; text still reads forwards."""
    width = drawing.width

    def flip(points: tuple[Point, ...]) -> tuple[Point, ...]:
        return tuple((width - x, y) for x, y in points)

    def back(mark: Mark) -> Mark:
        if isinstance(mark, Path):
            return replace(
                mark, points=flip(mark.points), bulges=tuple(-b for b in mark.bulges)
            )
        if isinstance(mark, Area):
            bulges = tuple(tuple(-b for b in ring) for ring in mark.bulges)
            return replace(mark, rings=tuple(map(flip, mark.rings)), bulges=bulges)
        if isinstance(mark, Disc):
            return replace(mark, centre=flip((mark.centre,))[0])
        ends: dict[Anchor, Anchor] = {"start": "end", "middle": "middle", "end": "start"}
        return replace(
            mark, at=flip((mark.at,))[0], anchor=ends[mark.anchor], angle=-mark.angle
        )

    groups = tuple((name, tuple(map(back, marks))) for name, marks in drawing.groups)
    return replace(drawing, groups=groups, title=f"{drawing.title}, mirrored", from_back=True)


def facing(drawing: Drawing) -> str:
    """Return a sentence on which side of the sheet faces the reader of a drawing."""
    if drawing.from_back:
        return "Mirrored: the back of the sheet faces you; draw this on the back."
    return "Not mirrored: the front of the sheet faces you; draw this on the front."


def said(drawing: Drawing) -> Drawing:
    """Return a drawing with a line below it that says which side of the sheet faces the reader."""
    line = Label("note", (0.0, -4.0), facing(drawing), 3.0, "start")
    groups = (*drawing.groups, ("side", (line,)))
    return replace(drawing, groups=groups, margin=max(drawing.margin, 7.0))


def arc_of(start: Point, end: Point, bulge: float) -> tuple[Point, float, float, float]:
    """Return (centre, radius, start angle, turn) of the arc over a side, angles in radians.

    The turn is signed, above zero counter-clockwise. The bulge must not be zero.
    """
    (x0, y0), (x1, y1) = start, end
    half = (1 / bulge - bulge) / 4
    cx = (x0 + x1) / 2 - half * (y1 - y0)
    cy = (y0 + y1) / 2 + half * (x1 - x0)
    return (
        (cx, cy),
        math.hypot(x0 - cx, y0 - cy),
        math.atan2(y0 - cy, x0 - cx),
        4 * math.atan(bulge),
    )


def plain(text: str, longest: int = 0) -> str:
    """Return text that any writer can take: one line, without control characters.

    Control characters and lone surrogates, which XML cannot hold, become U+FFFD. Text above
    `longest` characters, if that is given, is cut and ends in an ellipsis.
    """
    line = text
    if not (text.isascii() and text.isprintable()):  # else all of it is writable
        line = " ".join(text.split()) if any(c in text for c in "\t\n\r") else text
        line = "".join(c if _is_writable(c) else "\ufffd" for c in line)
    return line[: longest - 1] + "\u2026" if 0 < longest < len(line) else line


def _is_writable(character: str) -> bool:
    code = ord(character)
    return not (
        code < 0x20
        or 0x7F <= code <= 0x9F
        or 0xD800 <= code <= 0xDFFF
        or code & 0xFFFE == 0xFFFE
    )
