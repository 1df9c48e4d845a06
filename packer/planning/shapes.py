"""Shapes of sheets to compare, and sheets of them that are equal in what is asked for."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from packer.errors import OptionError, did_you_mean
from packer.model.sheet import Sheet
from packer.planning.comparison import EQUALS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from packer.model.figure import Figure, Symmetry
    from packer.planning.comparison import Equal
    from packer.planning.stock import Stock

SHAPES: Final = {
    "1 x 1": Sheet(1, 1),
    "4 x 3": Sheet(4, 3),
    "A-series": Sheet(math.sqrt(2), 1),
    "3 x 2": Sheet(3, 2),
    "2 x 1": Sheet(2, 1),
}
"""Sheets compared by default: the square, ISO 216's ratio and what is cut from usual papers."""


def default_shapes(symmetry: Symmetry) -> dict[str, Sheet]:
    """Return the sheets to compare by default, by name.

    Under book symmetry the mirror line is upright, so that a sheet that stands is another
    problem than the same sheet lying; both are then compared.
    """
    shapes = dict(SHAPES)
    if symmetry == "book":
        for name, sheet in SHAPES.items():
            if not sheet.is_square:
                turned = " x ".join(reversed(name.split(" x ")))
                title = turned if turned != name else f"{name} standing"
                shapes[title] = Sheet(sheet.height, sheet.width)
    return shapes


def equal_sheets(
    figure: Figure, shapes: Sequence[Sheet], equal: Equal, stock: Stock | None = None
) -> list[Sheet]:
    """Return sheets of the given shapes that are equal in what is asked for.

    Raises
    ------
    OptionError
        Where `equal` is unknown, no shape is given, or stock and `equal` do not go together.
    """
    if equal not in EQUALS:
        raise OptionError(f'cannot hold "{equal}" equal{did_you_mean(equal, EQUALS)}', "equal")
    if not shapes:
        raise OptionError("no sheet is given; name some", "sheet")
    if (equal == "stock") != (stock is not None):
        raise OptionError(
            "a stock size and holding stock equal go together; give both or neither", "stock"
        )
    ratios = [sheet.width / sheet.height for sheet in shapes]
    if stock is not None:
        return [stock.largest(ratio) for ratio in ratios]
    own = [figure.sheet] if figure.sheet is not None else []
    sized = next((sheet for sheet in (*shapes, *own) if sheet.unit), Sheet())
    if equal == "area":
        side = math.sqrt(sized.area)
        return [Sheet(side * r**0.5, side / r**0.5, sized.unit) for r in ratios]
    longest = max(sized.width, sized.height)
    return [Sheet(longest * min(1.0, r), longest * min(1.0, 1 / r), sized.unit) for r in ratios]
