"""Papers as they are sold, and which of them a sheet can be cut from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from packer.model.sheet import Sheet
from packer.units import PAPERS_MM

SQUARES_MM: Final = (75, 150, 175, 240, 250, 300, 350, 480, 500, 600, 700)
"""Squares that are commonly sold, side in mm (common practice)."""

FULL_SHEETS_MM: Final = {
    "full sheet 700 x 1000": (700.0, 1000.0),
    "full sheet 788 x 1091": (788.0, 1091.0),
}
"""Uncut sheets of paper merchants, in mm (common practice)."""

CUT_TOLERANCE: Final = 1e-6
"""A sheet may be larger than the stock by this share: rounding, not paper."""


@dataclass(frozen=True)
class Stock:
    """A paper that is sold.

    Parameters
    ----------
    name
        "square 350", "A3" ...
    width, height
        In mm, upright.
    """

    name: str
    width: float
    height: float

    @property
    def area(self) -> float:
        """In mm2."""
        return self.width * self.height

    def waste(self, sheet: Sheet) -> float | None:
        """Return the share left over when a sheet is cut from it; None where it does not fit.

        The sheet lies along the sides, upright or turned.
        """
        cut = sheet.in_mm()
        (short, long), (w, h) = (
            sorted((self.width, self.height)),
            sorted((cut.width, cut.height)),
        )
        if w > short * (1 + CUT_TOLERANCE) or h > long * (1 + CUT_TOLERANCE):
            return None
        return max(0.0, 1 - cut.area / self.area)

    def largest(self, ratio: float) -> Sheet:
        """Return the largest sheet with a ratio of width to height that can be cut from it.

        The sheet is turned if it is larger that way.
        """
        sheets = []
        for width, height in ((self.width, self.height), (self.height, self.width)):
            across = min(width, height * ratio)
            sheets.append(Sheet(across, across / ratio, "mm"))
        return max(sheets, key=lambda sheet: sheet.area)


STOCK: Final = (
    *(Stock(f"square {side}", float(side), float(side)) for side in SQUARES_MM),
    *(Stock(name, *size) for name, size in PAPERS_MM.items()),
    *(Stock(name, *size) for name, size in FULL_SHEETS_MM.items()),
)
"""All papers known here."""


def stock_for(sheet: Sheet) -> tuple[tuple[Stock, float], ...]:
    """Return the stock papers that a sheet can be cut from and their waste, least waste first."""
    fits = [(stock, stock.waste(sheet)) for stock in STOCK]
    fitting = [(stock, waste) for stock, waste in fits if waste is not None]
    return tuple(sorted(fitting, key=lambda row: (row[1], row[0].name)))
