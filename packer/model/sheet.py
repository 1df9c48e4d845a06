"""The sheet: one uncut square or rectangle, as a ratio or in a unit of length."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Final

from packer.errors import SheetError, did_you_mean
from packer.limits import SIDE, SIDES_APART
from packer.numbers import as_number
from packer.units import MM_PER_UNIT, PAPERS_MM

Point = tuple[float, float]

_SIZE: Final = re.compile(
    r"\s*([^\sx×*]+?)\s*(?:[x×*]\s*([^\sx×*]+?))?\s*(mm|cm|m|in|pt)?\s*", re.I
)


@dataclass(frozen=True)
class Sheet:
    """A rectangle with its lower left corner at the origin, y up.

    Parameters
    ----------
    width, height
        Sides, in `unit`, within `packer.limits.SIDE`, and so in mm where there is one; neither longer than `SIDES_APART` times
        the other.
    unit
        A key of `packer.units.MM_PER_UNIT`; empty where the sheet is only a ratio.

    Raises
    ------
    SheetError
        Where a side is no such number or the unit is unknown.
    """

    width: float = 1.0
    height: float = 1.0
    unit: str = ""

    def __post_init__(self) -> None:
        for side in ("width", "height"):
            value = getattr(self, side)
            number = as_number(value)
            if number is None:
                raise SheetError(f"{value!r} is not a number; write a length", f"sheet.{side}")
            if not (number > 0 and math.isfinite(number)):
                raise SheetError(
                    f"a side of {number:g} is no sheet; write a length above zero",
                    f"sheet.{side}",
                )
            if not SIDE.hold(number):
                raise SheetError(
                    f"a side of {number:g} is beyond measure; write one {SIDE}", f"sheet.{side}"
                )
            object.__setattr__(self, side, number)
        if max(self.width, self.height) > SIDES_APART * min(self.width, self.height):
            raise SheetError(
                f"{self.width:g} x {self.height:g} is a thread, no sheet; write sides of which "
                f"the longer is at most {SIDES_APART:g} times the shorter",
                "sheet",
            )
        if self.unit and self.unit not in MM_PER_UNIT:
            hint = did_you_mean(self.unit, MM_PER_UNIT)
            raise SheetError(f'unknown unit "{self.unit}"{hint}', "sheet.unit")
        mm = self.mm_per_unit or 1.0
        for side, number in (("width", self.width), ("height", self.height)):
            if not SIDE.hold(mm * number):
                raise SheetError(
                    f"a side of {mm * number:g} mm is beyond measure; write one {SIDE} mm",
                    f"sheet.{side}",
                )

    @property
    def is_square(self) -> bool:
        """Whether both sides are equal to within rounding."""
        return math.isclose(self.width, self.height, rel_tol=1e-12)

    @property
    def area(self) -> float:
        """Width times height, in square units."""
        return self.width * self.height

    @property
    def diagonal(self) -> float:
        """The longest distance on the sheet, in units."""
        return math.hypot(self.width, self.height)

    @property
    def mm_per_unit(self) -> float | None:
        """Millimetres in one unit of the sheet; None where it is only a ratio."""
        return MM_PER_UNIT[self.unit] if self.unit else None

    @property
    def corners(self) -> dict[str, Point]:
        """The four corners by name."""
        w, h = self.width, self.height
        return {
            "bottom left": (0.0, 0.0),
            "bottom right": (w, 0.0),
            "top right": (w, h),
            "top left": (0.0, h),
        }

    def describe(self) -> str:
        """Return the sheet in a few characters: ``"210 x 297 mm"``."""
        size = f"{self.width:g} x {self.height:g}"
        return f"{size} {self.unit}" if self.unit else size

    def in_mm(self) -> Sheet:
        """Return the same sheet in millimetres.

        Raises
        ------
        SheetError
            Where the sheet is only a ratio.
        """
        if self.mm_per_unit is None:
            raise SheetError("the sheet has no unit; give one, such as 300x300mm", "sheet.unit")
        return Sheet(self.width * self.mm_per_unit, self.height * self.mm_per_unit, "mm")


def parse_sheet(text: str) -> Sheet:
    """Read a sheet as typed: ``1x1``, ``2x1``, ``300x300mm``, ``350mm``, ``A4``, ``A4 landscape``.

    A single length is the side of a square. Named papers are upright unless "landscape" is added.

    Raises
    ------
    SheetError
        Where the text is neither a size nor a named paper.
    """
    words = text.replace("-", " ").split()
    lying = len(words) > 1 and words[-1].lower() in {"landscape", "portrait"}
    name = " ".join(words[:-1]) if lying else " ".join(words)
    papers = {paper.lower(): size for paper, size in PAPERS_MM.items()}
    if name.lower() in papers:
        width, height = papers[name.lower()]
        if lying and words[-1].lower() == "landscape":
            width, height = height, width
        return Sheet(width, height, "mm")
    match = _SIZE.fullmatch(text)
    try:
        if match is None:
            raise ValueError(text)  # noqa: TRY301 - both ways of being no size end in one sentence
        width = float(match[1])
        height = float(match[2]) if match[2] else width
    except ValueError:
        hint = did_you_mean(name, PAPERS_MM)
        raise SheetError(
            f'"{text}" is no sheet; write a size such as 1x1, 300x300mm or 350mm, '
            f"or a paper such as A4{hint}",
            "sheet",
        ) from None
    return Sheet(width, height, (match[3] or "").lower())
