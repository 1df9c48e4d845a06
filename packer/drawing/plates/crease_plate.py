"""The plate of a crease pattern: the creases beside the folded form, with what they ask for."""

from __future__ import annotations

import math
import textwrap
from typing import TYPE_CHECKING, Final, Literal

from packer.drawing.crease_drawing import crease_drawing
from packer.drawing.folded_drawing import folded_drawing
from packer.drawing.marks.key import key_marks
from packer.drawing.marks.names import MOST_NAMED, NAME, number_list
from packer.drawing.marks.strokes import Drawing, Label, moved, only, plain
from packer.drawing.plates.packing_plate import EDGE, LONGEST, PANEL, TITLE
from packer.drawing.sides_drawing import PAPER_COLOURS, sides_drawing

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from packer.drawing.crease_drawing import Look
    from packer.drawing.marks.strokes import Mark
    from packer.folded.layers import FlatBase

NUMBERS_COLUMN: Final = 130.0
"""Width in mm of the column of numbers and the folded form, which fills it."""

STEPS: Final = 8
"""Most drawings of the folded form on the way to the size that fills its column."""

NUMBERS: Final = 3.4
"""Letter height of the lines of numbers, in mm; a letter is at most 0.66 of it wide on average."""


def crease_plate(
    base: FlatBase,
    look: Look | Literal["sides"] = "role",
    lines: Sequence[str] = (),
    colours: Mapping[str, str] | None = None,
    paper_colours: tuple[str, str] = PAPER_COLOURS,
) -> Drawing:
    """Draw a crease pattern, its folded form and a few lines of numbers side by side.

    Parameters
    ----------
    base
        The folded pattern.
    look, colours
        As for `packer.drawing.crease_drawing.crease_drawing`; "sides", of a base with a layer
        order, draws what shows of the sheet in place of the creases.
    lines
        To stand above the folded form.
    paper_colours
        Of the paper's front and back, for "sides".
    """
    sheet = base.pattern.sheet
    mm = min(PANEL / math.sqrt(sheet.area), LONGEST / max(sheet.width, sheet.height))
    numbers = _numbers(base)
    if look == "sides":
        left = sides_drawing(base, mm, paper_colours, numbers)
    else:
        left = crease_drawing(base.pattern, mm, look, colours, numbers)
    rows = _wrapped(lines, int(NUMBERS_COLUMN / (0.66 * NUMBERS)))
    words = 5.2 * len(rows) + 12
    right, times = _enlarged(base, mm, colours, left.height - words)
    high = max(left.height, right.height + words)
    width = EDGE + left.width + 14 + max(NUMBERS_COLUMN, right.width) + EDGE
    key, tall = key_marks(only(left, _creases(left)), (EDGE, 6.0), width - 2 * EDGE)
    listed, below = number_list(_lines(numbers), width - 2 * EDGE)
    foot = tall + below + (20 if listed else 14)
    height = TITLE + high + foot
    left_at = (EDGE, foot + high - left.height)
    right_x = EDGE + left.width + 14
    right_at = (right_x, foot + high - words - right.height)
    name = plain(base.pattern.title, 60) or "creases"
    size = min(7.0, 0.5 * width / (0.66 * len(name)))
    head: list[Mark] = [
        Label("heading", (EDGE, height - 11), name, size, "start"),
        Label("note", (EDGE, height - 18.5), left.description, 3.4, "start"),
    ]
    notes = _notes(rows, right_x, foot + high, times)
    return Drawing(
        width,
        height,
        (
            ("head", tuple(head)),
            *(
                (f"{part}: {group}", tuple(moved(mark, *at) for mark in marks))
                for part, drawing, at in (
                    ("creases", left, left_at),
                    ("folded form", right, right_at),
                )
                for group, marks in drawing.groups
            ),
            ("numbers", tuple(notes)),
            ("list", tuple(moved(mark, EDGE, foot - 8) for mark in listed)),
            ("key", tuple(key)),
        ),
        title=name,
        description=f"{left.description}. {right.description}",
        colours={**right.colours, **left.colours},
        margin=0.0,
    )


def _notes(rows: Sequence[str], x: float, top: float, times: float) -> list[Mark]:
    """Return rows of words from a height downwards, and what stands below them."""
    notes: list[Mark] = [
        Label("note", (x, top - 3 - 5.2 * k), row, NUMBERS, "start")
        for k, row in enumerate(rows)
    ]
    scale = f", {times:.2g} times as large as on the sheet" if times > 1.05 else ""
    below = (x, top - 5.2 * len(rows) - 9)
    return [*notes, Label("note", below, f"folded form{scale}", 3.0, "start")]


def _wrapped(lines: Sequence[str], letters: int) -> list[str]:
    """Return lines broken so that each has so many letters at most, what runs on set in."""
    return [
        row
        for line in lines
        for row in textwrap.wrap(plain(line), letters, subsequent_indent="    ") or [""]
    ]


def _creases(drawing: Drawing) -> list[str]:
    """Return the groups of a crease drawing that its key explains."""
    return [name for name, _ in drawing.groups if name not in {"names", "border", "tips"}]


def _enlarged(
    base: FlatBase, mm: float, colours: Mapping[str, str] | None, high: float
) -> tuple[Drawing, float]:
    """Return the folded form as large as its column and a height allow, and how many times.

    It is never smaller than on the sheet.
    """
    times = 1.0
    drawing = folded_drawing(base, mm, colours)
    for _ in range(STEPS):
        share = min(NUMBERS_COLUMN / drawing.width, high / drawing.height)
        if 0.97 <= share <= 1 or (share < 1 and times <= 1):
            break
        times = max(1.0, times * share * (0.99 if share < 1 else 1.0))
        drawing = folded_drawing(base, mm * times, colours)
    return drawing, times


def _numbers(base: FlatBase) -> dict[str, int]:
    """Return a number for each flap of the figure where they are many, twins each their own."""
    pattern = base.pattern
    names = [n for n in pattern.tree.flaps if n not in pattern.fillers]
    parts = dict.fromkeys(pattern.part_of.get(name, name) for name in names)
    return {part: k for k, part in enumerate(parts, 1)} if len(parts) > MOST_NAMED else {}


def _lines(numbers: Mapping[str, int]) -> list[tuple[str, str]]:
    """Return each number with the name of its flap."""
    return [(str(number), plain(part, NAME)) for part, number in numbers.items()]
