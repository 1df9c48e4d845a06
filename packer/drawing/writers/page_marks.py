"""What stands on fold sheets besides the drawing: names, rulers, cut and join marks, the map."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from packer.drawing.marks.key import key_marks
from packer.drawing.marks.label_placement import Naming, place_labels
from packer.drawing.marks.strokes import Area, Drawing, Label, Mark, Path, facing, moved, plain
from packer.numbers import counted

if TYPE_CHECKING:
    from collections.abc import Sequence

    from packer.drawing.marks.strokes import Point
    from packer.drawing.writers.tiling import Box, Tiling

SQUARE_MM: Final = 20.0
"""Side of the square in the foot of every page."""

BARS_MM: Final = (100.0, 50.0)
"""Lengths of the bar beside it, the longest that fits; whole tens on pages narrower still."""

LETTER: Final = 0.56
"""Mean width of a letter as a share of its size, a little generous."""

STEPS: Final = (
    "1. Print all pages at 100 % (actual size), never fitted to the page.",
    "2. Measure the large square both ways, since printers may stretch one direction only, and set them right first.",
    "3. Cut each page along the dotted lines with ticks, on its left and upper sides; leave the others as they are.",
    "4. Lay the cut edge over its neighbour until the halves of the diamonds meet, and tape. Join rows, then the rows.",
    "5. Lay the result on the paper, or under it on a light box; prick the tips, trace or score the lines.",
    "Common practice: cut away from the hand along a steel ruler, and close the blade after use. On cutting plotters",
    "and lasers follow the maker's manual and local rules: test on a scrap first, let the blade out only a little more",
    "than the paper is thick, keep fingers off the carriage, extract the fumes and never leave a laser alone.",
)
"""What the first page says."""


BESIDE: Final = (0.5, 0.4, 0.6, 0.15, 0.85)
"""Where along a join its note may stand, the best liked first: clear of the diamonds."""


def box_path(kind: str, box: Box) -> Path:
    """Return the outline of a box."""
    left, bottom, right, top = box
    return Path(kind, ((left, bottom), (right, bottom), (right, top), (left, top)), closed=True)


def foot_marks(
    box: Box, page: str, name: str, count: str, drawing: Drawing | None = None
) -> list[Mark]:
    """Return a page's name, a square and a bar to measure, and what the page belongs to.

    Parameters
    ----------
    box
        Where they go, in mm on the page.
    page, name, count
        Letter and number of the page, file, and which of how many.
    drawing
        What is printed, to say which side of the sheet faces the reader.
    """
    left, bottom, right, top = box
    marks: list[Mark] = [Path("frame", ((left, top - 1.2), (right, top - 1.2)))]
    x = left + 1.0
    if page:
        size = min(11.0, 15.0 / (LETTER * len(page)))
        marks.append(Label("heading", (x, bottom + 10.5), page, size, "start"))
        x += 19
    marks.append(box_path("ruler", (x, bottom + 0.6, x + SQUARE_MM, bottom + 0.6 + SQUARE_MM)))
    marks.append(Label("note", (x + SQUARE_MM / 2, bottom + 10.6), "20 x 20 mm", 2.4))
    x += SQUARE_MM + 4
    room = right - x - 2
    length = next((n for n in BARS_MM if n <= room), max(10.0, 10.0 * (room // 10)))
    marks += _bar(x, bottom + 3.0, length)
    text = f"Print at 100 %, not fitted to the page: the bar is {length:g} mm long."
    side = "" if drawing is None else f"   {facing(drawing).partition(';')[0]}."
    for y, line in ((17.5, f"{plain(name, 60)}   {count}{side}"), (13.0, text)):
        size = min(2.8, (right - x) / (LETTER * len(line)))
        marks.append(Label("note", (x, bottom + y), line, size, "start"))
    return marks


def _bar(x: float, y: float, length: float) -> list[Mark]:
    """Return a bar of a length in mm with a tick every 10 mm, its ends exactly there."""
    marks: list[Mark] = [Path("ruler", ((x, y), (x + length, y)))]
    for step in range(round(length / 10) + 1):
        tall = 4.0 if step * 10 in {0, length} else 2.0
        marks.append(Path("ruler", ((x + 10 * step, y), (x + 10 * step, y + tall))))
    marks.append(Label("note", (x + 5, y + 3.4), "0", 2.2))
    marks.append(Label("note", (x + length - 7, y + 3.4), f"{length:g} mm", 2.2))
    return marks


def join_marks(
    tiling: Tiling, row: int, column: int, names: Sequence[Label] = ()
) -> list[Mark]:
    """Return the cut lines, ticks and diamonds of a page, in the plane of the drawing.

    What is written along them keeps clear of the names on the page.
    """
    left, bottom, right, top = tiling.window(row, column)
    half = max(1.5, min(3.0, tiling.overlap / 2))
    marks: list[Mark] = []
    notes: list[Naming] = []
    for side, place in tiling.joins(row, column).items():
        upright = side in {"left", "right"}
        beyond = {"left": (0, -1), "right": (0, 1), "bottom": (1, 0), "top": (-1, 0)}[side]
        other = tiling.name(row + beyond[0], column + beyond[1])
        cut = side in {"left", "top"}
        low, high = (bottom, top) if upright else (left, right)

        def at(
            along: float, aside: float = 0.0, upright: bool = upright, place: float = place
        ) -> Point:
            return (place + aside, along) if upright else (along, place + aside)

        marks.append(Path("join line", (at(low), at(high))))
        marks += [
            Path("cut mark", (at(end), at(end + tick)))
            for end, tick in ((low, 6.0), (high, -6.0))
            if cut
        ]
        for share in (0.25, 0.75):
            middle = low + share * (high - low)
            corners = (
                at(middle - half),
                at(middle, half),
                at(middle + half),
                at(middle, -half),
            )
            marks.append(Path("join mark", corners, closed=True))
        outward = (1.0 if side in {"right", "top"} else -1.0) * min(2.0, tiling.overlap / 4)
        text = f"cut, then lay over {other}" if cut else f"{other} comes over this"
        size = min(2.2, 0.4 * tiling.overlap)
        if size > 1:
            turn = 90.0 if upright else 0.0
            positions = [at(low + share * (high - low), outward) for share in BESIDE]
            places = [
                (Label("note", position, text, size, angle=turn),) for position in positions
            ]
            notes.append(Naming(places, (positions[0],)))
    return [*marks, *place_labels(notes, [], (left, bottom, right, top), names)]


def map_marks(lines: Drawing, tiling: Tiling, blank: frozenset[str], name: str) -> list[Mark]:
    """Return the first page: which page lies where, a large square to measure, what to do."""
    m = tiling.margin
    left, right = m + 1, tiling.page_width - m - 1
    low, high = m + tiling.foot, tiling.page_height - m
    pages = len(tiling.pages) - len(blank)
    sizes = (
        f"{lines.width:.4g} x {lines.height:.4g} mm on {counted(pages, 'page')} of "
        f"{tiling.page_width:.4g} x {tiling.page_height:.4g} mm"
    )
    marks: list[Mark] = [
        fitted("heading", (left, high - 5), plain(lines.title or name, 60), 6.0, right - left),
        fitted("note", (left, high - 11), f"Assembly map: {sizes}", 3.4, right - left),
        fitted("heading", (left, high - 15.5), facing(lines), 3.0, right - left),
    ]
    step = min(4.4, 0.03 * (high - low))
    longest = max(map(len, STEPS))
    size = min(3.0, 0.7 * step, (right - left) / (LETTER * longest))
    text_top = low + step * len(STEPS)
    marks += [
        Label("note", (left, text_top - step * (n + 0.5)), line, size, "start")
        for n, line in enumerate(STEPS)
    ]
    key, tall = key_marks(lines, (left, text_top + 4), right - left)
    middle = text_top + tall + 5.5, high - 18
    side = 100.0 if min(right - left - 70, middle[1] - middle[0]) >= 100 else 50.0
    side = min(side, 10.0 * ((middle[1] - middle[0]) // 10))
    marks.append(box_path("ruler", (left, middle[1] - side, left + side, middle[1])))
    words = f"{side:g} mm wide and high"
    size = min(3.0, 0.9 * side / (LETTER * len(words)))
    marks.append(Label("note", (left + side / 2, middle[1] - side / 2), words, size))
    marks += _map(lines, tiling, blank, (left + side + 8, middle[0], right, middle[1]))
    marks += key
    foot = (m, m, tiling.page_width - m, low)
    return [*marks, *foot_marks(foot, "", name, f"page 1 of {pages + 1}", lines)]


def fitted(kind: str, at: Point, text: str, size: float, width: float) -> Label:
    """Return a line of text of a size in mm, or smaller so that it fits into a width."""
    return Label(kind, at, text, min(size, width / (0.62 * max(len(text), 1))), "start")


def _map(lines: Drawing, tiling: Tiling, blank: frozenset[str], box: Box) -> list[Mark]:
    """Return the drawing in small with the pages' joins and names over it."""
    outer = [tiling.window(row, column) for row, column in tiling.pages]
    x0, y0 = min(w[0] for w in outer), min(w[1] for w in outer)
    x1, y1 = max(w[2] for w in outer), max(w[3] for w in outer)
    factor = min((box[2] - box[0]) / (x1 - x0), (box[3] - box[1]) / (y1 - y0))
    dx, dy = box[0] - factor * x0, box[3] - factor * y1
    cells: list[Mark] = []
    names: list[Mark] = []
    for row, column in tiling.pages:
        left, bottom, right, top = tiling.window(row, column)
        joins = tiling.joins(row, column)
        cell = (
            joins.get("left", left),
            joins.get("bottom", bottom),
            joins.get("right", right),
            joins.get("top", top),
        )
        page = tiling.name(row, column)
        outline = box_path("page", cell)
        cells.append(Area("blank page" if page in blank else "page", (outline.points,)))
        centre = (cell[0] + cell[2]) / 2, (cell[1] + cell[3]) / 2
        text = f"{page} blank" if page in blank else page
        size = min(0.3 * (cell[3] - cell[1]), 0.7 * (cell[2] - cell[0]) / (LETTER * len(text)))
        names.append(Label("page name", centre, text, size))
    drawn = [mark for mark in lines.marks if isinstance(mark, Path)]
    return [moved(mark, dx, dy, factor) for mark in (*cells, *names, *drawn)]
