"""The plate of a crease pattern: the creases beside the folded form, with what they ask for."""

from __future__ import annotations

import math
import textwrap
from typing import TYPE_CHECKING, Final

from packer.drawing.crease_drawing import WORDS, crease_drawing
from packer.drawing.folded_drawing import folded_drawing
from packer.drawing.marks.strokes import Disc, Drawing, Label, Path, moved, plain
from packer.drawing.plates.packing_plate import EDGE, LONGEST, PANEL, TITLE

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from packer.drawing.crease_drawing import Look
    from packer.drawing.marks.strokes import Mark
    from packer.folded.layers import FlatBase

FOOT: Final = 20.0
"""Height of the key under a plate, in mm."""
NUMBERS: Final = 3.4
"""Letter height of the lines of numbers, in mm; a letter is 0.58 of it wide on average."""


def crease_plate(
    base: FlatBase,
    look: Look = "role",
    lines: Sequence[str] = (),
    colours: Mapping[str, str] | None = None,
) -> Drawing:
    """Draw a crease pattern, its folded form and a few lines of numbers side by side.

    Parameters
    ----------
    base
        The folded pattern.
    look, colours
        As for `packer.drawing.crease_drawing.crease_drawing`.
    lines
        To stand above the folded form.
    """
    sheet = base.pattern.sheet
    mm = min(PANEL / math.sqrt(sheet.area), LONGEST / max(sheet.width, sheet.height))
    left = crease_drawing(base.pattern, mm, look, colours)
    right = folded_drawing(base, mm, colours)
    column = max(right.width, 70.0)
    rows = _wrapped(lines, int(column / (0.58 * NUMBERS)))
    words = 5.2 * len(rows) + 8
    high = max(left.height, right.height + words)
    width = EDGE + left.width + 14 + column + EDGE
    height = TITLE + high + FOOT
    left_at = (EDGE, FOOT + high - left.height)
    right_x = EDGE + left.width + 14
    right_at = (right_x, FOOT + high - words - right.height)
    name = plain(base.pattern.title, 60) or "creases"
    size = min(7.0, 0.5 * width / (0.66 * len(name)))
    head: list[Mark] = [
        Label("heading", (EDGE, height - 11), name, size, "start"),
        Label("note", (EDGE, height - 18.5), left.description, 3.4, "start"),
    ]
    notes = [
        Label("note", (right_x, FOOT + high - 3 - 5.2 * k), row, NUMBERS, "start")
        for k, row in enumerate(rows)
    ]
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
            ("key", tuple(_key(base, look, EDGE, 9.0))),
        ),
        title=name,
        description=f"{left.description}. {right.description}",
        colours=left.colours,
        margin=0.0,
    )


def _wrapped(lines: Sequence[str], letters: int) -> list[str]:
    """Return lines broken so that each has so many letters at most, what runs on set in."""
    return [
        row
        for line in lines
        for row in textwrap.wrap(plain(line), letters, subsequent_indent="    ") or [""]
    ]


def _key(base: FlatBase, look: Look, x: float, y: float) -> list[Mark]:
    """Return samples of the lines on a pattern, each with its meaning."""
    pattern = base.pattern
    folds = [f for f in "MVFU" if f in pattern.folds]
    kinds = [(WORDS[f], {"F": "not folded"}.get(f, WORDS[f])) for f in folds]
    if look == "role":
        order = ("axial", "ridge", "gusset", "hinge", "between", "fold-back")
        roles = [role for role in order if role in pattern.roles]
        kinds = [(f"{role} undecided", role) for role in roles]
        kinds += [(f"axial {WORDS[f]}", WORDS[f]) for f in folds if f in "MV"]
    found: list[Mark] = []
    for kind, text in kinds:
        found.append(Path(kind, ((x, y), (x + 13, y))))
        found.append(Label("note", (x + 15, y), text, 3.0, "start"))
        x += 15 + 0.58 * 3.0 * len(text) + 6
    if pattern.fillers:
        found.append(Disc("filler tip", (x + 2, y), 0.9))
        found.append(
            Label("note", (x + 5, y), "filler: paper to tuck away or to use", 3.0, "start")
        )
    return found
