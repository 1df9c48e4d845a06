"""Keys: a sample of every kind of mark in a drawing, each with its meaning."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from packer.drawing.marks.labels import text_width
from packer.drawing.marks.strokes import Area, Disc, Drawing, Label, Mark, Path
from packer.drawing.marks.styles import ROLES

if TYPE_CHECKING:
    from packer.drawing.marks.strokes import Point

MEANINGS: Final = {
    "sheet": "edge of the sheet",
    "border": "edge of the sheet",
    "axis": "axis of symmetry",
    "river": "a river's paper",
    "river line": "edge of a river",
    "disc": "a flap's paper",
    "loose disc": "a loose flap's paper",
    "disc line": "edge of a flap",
    "gap paper": "paper that no part needs",
    "flat hinge": "flat hinge: creased, not folded",
    "undecided": "mountain or valley, not decided",
    "tip": "tip of a flap",
    "blunt tip": "tip of a flap, blunt",
    "loose tip": "tip of a loose flap",
    "filler tip": "filler: paper to tuck away or to use",
    "front shows": "shows on the base: the paper's front",
    "back shows": "shows on the base: the paper's back",
    "raw edge": "raw edge of the paper along a flap or river",
    "grid step": "every fourth line of the grid",
    "grid line": "line of the grid",
}
"""What marks mean, where their kind does not say it."""

UNEXPLAINED: Final = frozenset({"paper", "leader", "frame", "page"})
"""Kinds that need no key."""

OPEN_KINDS: Final = frozenset(ROLES)
"""Kinds of creases that tell their role because they are neither mountain nor valley yet."""

OPEN_FOLDS: Final = (
    "Mountains and valleys are not decided; each line tells the role of its crease."
)
"""What a key says where creases are of such kinds."""

SIDES_SHOWN: Final = {"front shows": "front", "back shows": "back"}
"""Kinds of areas in the tone of a side of the paper, and that side."""

SIZE: Final = 2.8
LINE: Final = 4.4
SAMPLE: Final = 10.0
"""Height of the letters, distance of the lines and length of a sample, in mm."""


def meaning(kind: str) -> str:
    """Return what a kind of mark means, in words."""
    return MEANINGS.get(kind, kind)


def kinds_of(drawing: Drawing) -> list[str]:
    """Return the kinds of marks in a drawing that a key explains, in the order drawn."""
    kinds = [mark.kind for mark in drawing.marks if not isinstance(mark, Label)]
    return [kind for kind in dict.fromkeys(kinds) if kind not in UNEXPLAINED]


def key_marks(drawing: Drawing, at: Point, width: float) -> tuple[list[Mark], float]:
    """Return a sample of every kind of mark in a drawing with its meaning, and the key's height.

    Parameters
    ----------
    drawing
        Of lines, areas and tips.
    at
        Lower left corner of the key, in mm.
    width
        Room for its columns.
    """
    kinds = kinds_of(drawing)
    if not kinds:
        return [], 0.0
    shapes = {mark.kind: type(mark) for mark in drawing.marks}
    words = [meaning(kind) for kind in kinds]
    column = SAMPLE + 2 + max(text_width(word, SIZE) for word in words) + 4
    columns = max(1, int((width + 4) / column))
    rows = -(-len(kinds) // columns)
    marks: list[Mark] = []
    for k, (kind, word) in enumerate(zip(kinds, words, strict=True)):
        x, y = at[0] + column * (k // rows), at[1] + LINE * (rows - k % rows - 0.5)
        marks.append(_sample(kind, shapes[kind], x, y))
        marks.append(Label("note", (x + SAMPLE + 2, y), word, SIZE, "start"))
    if not OPEN_KINDS.isdisjoint(kinds):
        size = min(SIZE, SIZE * width / text_width(OPEN_FOLDS, SIZE))
        marks.append(
            Label("note", (at[0], at[1] + LINE * (rows + 0.5)), OPEN_FOLDS, size, "start")
        )
        rows += 1
    return marks, LINE * rows


def _sample(kind: str, shape: type[Mark], x: float, y: float) -> Mark:
    if shape is Disc:
        return Disc(kind, (x + SAMPLE / 2, y), 0.9)
    if shape is Area:
        half = 0.35 * LINE
        ring = ((x, y - half), (x + SAMPLE, y - half), (x + SAMPLE, y + half), (x, y + half))
        return Area(kind, (ring,), SIDES_SHOWN.get(kind, ""))
    return Path(kind, ((x, y), (x + SAMPLE, y)))
