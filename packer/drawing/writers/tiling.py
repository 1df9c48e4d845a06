"""Page arithmetic: how a large rectangle is cut into printed pages. Numbers in, numbers out."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from packer.errors import OptionError

MARGIN_MM: Final = 6.4
"""Edge of a page that printers leave white: a quarter of an inch, common practice."""

OVERLAP_MM: Final = 10.0
"""What neighbouring pages have in common, for tape and for lining up: common practice."""

MOST_PAGES: Final = 400
"""Pages that one print may take; more is surely a slip of the keyboard."""

ROOM_MM: Final = 0.5
"""Shown at least beyond every side of the rectangle, for the width of its outline."""

Box = tuple[float, float, float, float]
"""Left, bottom, right, top."""


@dataclass(frozen=True)
class Tiling:
    """A grid of pages over a rectangle that has its lower left corner at the origin; all in mm.

    Each page shows a window of the rectangle's plane; windows of neighbours overlap. The grid
    is centred on the rectangle.

    Parameters
    ----------
    width, height
        Of the rectangle.
    page_width, page_height
        Of a page.
    margin
        White edge of a page.
    foot
        Height above the lower margin that is kept for the page's name and ruler.
    overlap
        Common to neighbouring windows.
    columns, rows
        Of pages.
    """

    width: float
    height: float
    page_width: float
    page_height: float
    margin: float
    foot: float
    overlap: float
    columns: int
    rows: int

    @property
    def window_width(self) -> float:
        """Of what a page shows."""
        return self.page_width - 2 * self.margin

    @property
    def window_height(self) -> float:
        """Of what a page shows."""
        return self.page_height - 2 * self.margin - self.foot

    @property
    def pages(self) -> tuple[tuple[int, int], ...]:
        """(row, column) of every page, rows from the top, columns from the left."""
        return tuple((r, c) for r in range(self.rows) for c in range(self.columns))

    def window(self, row: int, column: int) -> Box:
        """Return what a page shows of the rectangle's plane."""
        step_x, step_y = self.window_width - self.overlap, self.window_height - self.overlap
        left = (self.width - self.columns * step_x - self.overlap) / 2 + column * step_x
        top = (self.height + self.rows * step_y + self.overlap) / 2 - row * step_y
        return left, top - self.window_height, left + self.window_width, top

    def name(self, row: int, column: int) -> str:
        """Return a page's letter and number: A1 is at the upper left, A2 to its right."""
        return f"{_letters(row)}{column + 1}"

    def joins(self, row: int, column: int) -> dict[str, float]:
        """Return where a page meets its neighbours, in the middle of the overlap.

        Returns
        -------
        dict
            x of the joins "left" and "right", y of "bottom" and "top", where there are
            neighbours, in the rectangle's plane.
        """
        left, bottom, right, top = self.window(row, column)
        half = self.overlap / 2
        sides = {
            "left": (column > 0, left + half),
            "right": (column < self.columns - 1, right - half),
            "bottom": (row < self.rows - 1, bottom + half),
            "top": (row > 0, top - half),
        }
        return {side: place for side, (there, place) in sides.items() if there}


def tile(
    width: float,
    height: float,
    page: tuple[float, float],
    *,
    margin: float = MARGIN_MM,
    overlap: float = OVERLAP_MM,
    foot: float = 0.0,
) -> Tiling:
    """Cover a rectangle with the fewest pages, upright or lying.

    Parameters
    ----------
    width, height
        Of the rectangle, in mm.
    page
        Width and height of a page; both ways round are tried, the one given first.
    margin, overlap, foot
        As in `Tiling`.

    Raises
    ------
    OptionError
        Where margin or overlap are no such lengths, leave no room on a page, or too many pages
        would be needed.
    """
    for name, value in (("margin", margin), ("overlap", overlap)):
        if not (value >= 0 and math.isfinite(value)):
            raise OptionError(f"{value:g} mm is no {name}; write 0 or more", f"--{name}")
    both = [
        _tiling(width, height, size, margin, overlap, foot)
        for size in (page, page[::-1])
        if min(size[0] - 2 * margin, size[1] - 2 * margin - foot) > 2 * overlap
    ]
    if not both:
        raise OptionError(
            f"a page of {page[0]:g} x {page[1]:g} mm has no room for a margin of {margin:g} mm "
            f"and an overlap of {overlap:g} mm; make them smaller or choose a larger page",
            "--on",
        )
    best = min(both, key=lambda t: t.columns * t.rows)
    if best.columns * best.rows > MOST_PAGES:
        raise OptionError(
            f"{best.columns * best.rows} pages would be needed, and {MOST_PAGES} are the most; "
            "choose a larger page or a smaller sheet",
            "--on",
        )
    return best


def _tiling(
    width: float,
    height: float,
    page: tuple[float, float],
    margin: float,
    overlap: float,
    foot: float,
) -> Tiling:
    columns = _count(width + 2 * ROOM_MM, page[0] - 2 * margin, overlap)
    rows = _count(height + 2 * ROOM_MM, page[1] - 2 * margin - foot, overlap)
    return Tiling(width, height, page[0], page[1], margin, foot, overlap, columns, rows)


def _count(length: float, window: float, overlap: float) -> int:
    """Return how many overlapping windows cover a length; rounding does not add one."""
    return max(1, math.ceil((length - overlap) / (window - overlap) - 1e-9))


def _letters(row: int) -> str:
    """Return A, B, ... Z, AA, AB, ... for rows from 0."""
    word = ""
    row += 1
    while row:
        row, digit = divmod(row - 1, 26)
        word = chr(ord("A") + digit) + word
    return word
