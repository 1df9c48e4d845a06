"""A fold guide as pages for A4 or letter: one picture a step, large enough to fold from."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from packer.drawing.arrows import turn_over
from packer.drawing.guide_panels import panels
from packer.drawing.marks.strokes import Drawing, Label, Path, moved, plain

if TYPE_CHECKING:
    from packer.drawing.marks.strokes import Group, Mark
    from packer.drawing.panel import Panel
    from packer.landmarks.fold_guide import FoldGuide

MARGIN: Final = 13.0
"""White edge of a page in mm."""

PANEL_GAP: Final = 7.0
"""Room between panels."""

TEXT: Final = 3.1
"""Size of sentences in mm: nine points."""

HEADING: Final = 4.6

LEADING: Final = 1.42
"""Height of a line as a share of its size."""

LETTER: Final = 0.53
"""Mean width of a letter as a share of its size."""

SHARES: Final = {"quarter": 0.25, "half": 0.5, "full": 1.0}


def guide_pages(guide: FoldGuide, paper: tuple[float, float]) -> list[Drawing]:
    """Return the pages of a guide.

    Parameters
    ----------
    guide
        The guide.
    paper
        Width and height of a page in mm.
    """
    pages: list[list[tuple[str, Panel]]] = []
    left = 0.0
    for title, rows in panels(guide):
        left = 0.0  # a section begins on a page of its own
        half = 0.0
        for panel in rows:
            share = SHARES[panel.size]
            if panel.size != "quarter" and half:
                left, half = left - 0.25, 0.0  # the place beside a single quarter stays empty
            if left < share - 1e-9:
                pages.append([])
                left, half = 1.0, 0.0
            pages[-1].append((title, panel))
            left -= share
            if panel.size == "quarter":
                half = 0.25 - half
    return [_page(rows, paper, k, len(pages), guide) for k, rows in enumerate(pages, 1)]


def _page(
    rows: list[tuple[str, Panel]],
    paper: tuple[float, float],
    number: int,
    count: int,
    guide: FoldGuide,
) -> Drawing:
    width, height = paper
    inner = width - 2 * MARGIN
    top = height - MARGIN
    title = plain(guide.pattern.title or "Fold guide")
    head: list[Mark] = [
        Label("heading", (MARGIN, top - 3.0), rows[0][0], 6.0, "start"),
        Label("note", (width - MARGIN, top - 3.0), title, TEXT, "end"),
        Label("note", (width / 2, MARGIN - 4.0), f"page {number} of {count}", TEXT),
    ]
    groups: list[Group] = [("head", tuple(head))]
    top -= 10.0
    room = top - MARGIN
    slots = {
        "quarter": ((inner - PANEL_GAP) / 2, (room - PANEL_GAP) / 2),
        "half": (inner, (room - PANEL_GAP) / 2),
    }
    slots["full"] = (inner, room)
    column, row = 0, 0
    for _, panel in rows:
        w, h = slots[panel.size]
        if panel.size != "quarter" and column:
            column, row = 0, row + 1
        x = MARGIN + column * (w + PANEL_GAP)
        y = top - row * (h + PANEL_GAP)
        groups += _panel(panel, (x, y), (w, h), len(groups))
        column += 1
        if panel.size != "quarter" or column == 2:
            column, row = 0, row + 1
    return Drawing(width, height, tuple(groups), f"{title}, page {number}", "", margin=0.0)


def _panel(
    panel: Panel, corner: tuple[float, float], size: tuple[float, float], number: int
) -> list[Group]:
    """Return the marks of a panel whose upper left corner and size are given."""
    x, y = corner
    w, h = size
    marks: list[Mark] = [Path("frame", ((x, y), (x + w, y)))]
    marks.append(Label("heading", (x, y - 4.5), plain(panel.heading), HEADING, "start"))
    if panel.turn:
        marks += turn_over((x + w - 12.0, y - 6.0), 7.0)
    top = y - 9.0
    wide = panel.size == "half" and len(panel.pictures) == 1 and h < 0.8 * w
    column = w * 0.36 if wide else w
    lines = [row for line in panel.lines for row in [*wrapped(line, column), ""]][:-1]
    words = len(lines) * TEXT * LEADING
    if not panel.pictures:
        return [(f"panel {number}", tuple(marks + _text(lines, x, top)))]
    if wide:
        area = (x + column + PANEL_GAP, y - h, w - column - PANEL_GAP, h - 9.0)
        marks += _text(lines, x, top)
    else:
        area = (x, y - h + words, w, h - 9.0 - words)
        marks += _text(lines, x, y - h + words - 1.0)
    return [(f"panel {number}", tuple(marks)), *_pictures(panel, area, number)]


def _pictures(
    panel: Panel, area: tuple[float, float, float, float], number: int
) -> list[Group]:
    x, y, w, h = area
    count = len(panel.pictures)
    own = (w - PANEL_GAP * (count - 1)) / count
    groups: list[Group] = []
    for k, picture in enumerate(panel.pictures):
        inset = 5.0
        drawing = picture(own - 2 * inset, h - 2 * inset)
        dx = x + k * (own + PANEL_GAP) + (own - drawing.width) / 2
        dy = y + (h - drawing.height) / 2
        for name, marks in drawing.groups:
            shifted = tuple(moved(mark, dx, dy) for mark in marks)
            groups.append((f"panel {number} {k} {name}", shifted))
    return groups


def _text(lines: list[str], x: float, top: float) -> list[Mark]:
    rows = enumerate(lines)
    return [
        Label("note", (x, top - (k + 0.5) * TEXT * LEADING), line, TEXT, "start")
        for k, line in rows
        if line
    ]


def wrapped(text: str, width: float) -> list[str]:
    """Return a sentence as lines of about so many mm."""
    most = int(width / (LETTER * TEXT))
    rows = [""]
    for word in plain(text).split():
        if rows[-1] and len(rows[-1]) + 1 + len(word) > most:
            rows.append(word)
        else:
            rows[-1] = f"{rows[-1]} {word}".strip()
    return rows
