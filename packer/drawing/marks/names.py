"""How parts are named on drawings: by name, or where there are many by numbers with a list."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from packer.drawing.marks.labels import text_width
from packer.drawing.marks.strokes import Label, plain

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from packer.drawing.marks.strokes import Mark
    from packer.model.tree import Tree

MOST_NAMED: Final = 30
"""Parts, twins as one, above which a plate numbers them and lists their names."""

MOST_NAMED_SMALL: Final = 8
"""The same for the small pictures of several packings side by side."""

MOST_NUMBERED: Final = 400
"""Parts above which names stand for themselves again: their list would be larger than the pictures."""

NAME: Final = 24
"""Letters of a name that are shown."""

LIST_SIZE: Final = 2.8
LIST_LINE: Final = 4.2
"""Height of letters and distance of the lines of a list of names, in mm."""


def numbers_of(tree: Tree, most: int = MOST_NAMED) -> dict[str, int]:
    """Return a number for each part as written, flaps first; empty where names will do."""
    written = list(dict.fromkeys(tree.written))
    if not most < len(written) <= MOST_NUMBERED:
        return {}
    return {name: k for k, name in enumerate(written, 1)}


def called(tree: Tree, edge: int, numbers: Mapping[str, int]) -> str:
    """Return what stands beside a part: its name as written, or its number."""
    name = tree.written[edge]
    return str(numbers[name]) if name in numbers else plain(name, NAME)


def name_list(
    tree: Tree, numbers: Mapping[str, int], width: float
) -> tuple[Sequence[Mark], float]:
    """Return a list of numbers, names and lengths in columns, and its height in mm.

    Its upper left corner is the origin; it is empty where nothing is numbered.
    """
    lengths = dict(zip(tree.written, tree.lengths.tolist(), strict=True))
    texts = [
        (str(number), f"{plain(name, NAME)}  {lengths[name]:.4g}")
        for name, number in numbers.items()
    ]
    return number_list(texts, width)


def number_list(texts: Sequence[tuple[str, str]], width: float) -> tuple[Sequence[Mark], float]:
    """Return numbers with what they stand for in columns, and the height in mm.

    The upper left corner is the origin; it is empty where nothing is numbered.
    """
    if not texts:
        return (), 0.0
    room = 7.0
    column = room + max(text_width(text, LIST_SIZE) for _, text in texts) + 5.0
    columns = max(1, min(len(texts), int(width / column)))
    rows = math.ceil(len(texts) / columns)
    marks: list[Mark] = []
    for k, (number, text) in enumerate(texts):
        x, y = (k // rows) * (width / columns), -LIST_LINE * (k % rows + 0.5)
        marks.append(Label("heading", (x + room - 1.5, y), number, LIST_SIZE, "end"))
        marks.append(Label("note", (x + room, y), text, LIST_SIZE, "start"))
    return marks, LIST_LINE * rows
