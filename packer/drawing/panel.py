"""A panel of a fold guide: a heading, a few sentences and one or two pictures."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from collections.abc import Callable

    from packer.drawing.marks.strokes import Drawing

Size = Literal["quarter", "half", "full"]


@dataclass(frozen=True, eq=False)
class Panel:
    """One step of a guide.

    Attributes
    ----------
    size
        How much of a page it takes: a quarter, a half or all of it.
    heading
        A few words.
    lines
        Sentences.
    pictures
        Each makes a drawing that fills at most so many mm of width and height.
    turn
        Whether the paper is turned over first.
    """

    size: Size
    heading: str
    lines: tuple[str, ...]
    pictures: tuple[Callable[[float, float], Drawing], ...] = ()
    turn: bool = False
