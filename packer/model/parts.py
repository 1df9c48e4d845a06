"""The parts of a figure: flaps and rivers, one line of the file each, with their wishes."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, TypeVar

from packer.errors import FigureError, did_you_mean
from packer.limits import FLEX
from packer.model.pleats import Pleats, pleats_of
from packer.numbers import as_number

if TYPE_CHECKING:
    from packer.model.sheet import Point

Part = TypeVar("Part", "Flap", "River")

SIDES: Final = ("left", "right", "bottom", "top")
CORNERS: Final = ("bottom left", "bottom right", "top right", "top left")
PLACES: Final = ("corner", "edge", "middle", "axis", *SIDES, *CORNERS)

OTHER_WORDS: Final = {
    "side": "edge", "sides": "edge", "border": "edge", "edges": "edge", "corners": "corner",
    "center": "middle", "centre": "middle", "inside": "middle", "interior": "middle",
    "midline": "axis", "mirror line": "axis", "spine": "axis",
    "upper": "top", "up": "top", "lower": "bottom", "down": "bottom",
}  # fmt: skip
"""Words that designers write for a place, and the place that is meant."""

MOST_CELLS: Final = 160
"""Cells in a figure's longest path on a grid: twice the finest grid that is folded."""

MOST_COUNTED: Final = 99
"""Highest detail, number of pleats or width in cells: more is a slip of the hand."""

Place = str | tuple[float, float]
"""One of `PLACES`, or a fixed point in fractions of the sheet."""


class _Pleated:
    """What follows from the pleats of a flap or a river."""

    length: float
    pleats: int | tuple[float, ...]
    depth: float | tuple[float, ...]

    @property
    def folded_away(self) -> Pleats:
        """Its pleats, one by one."""
        return pleats_of(self.pleats, self.depth, self.length)

    @property
    def paper(self) -> float:
        """Length of its paper: what the pleats fold away is added to its own length."""
        return self.length + self.folded_away.taken


@dataclass(frozen=True)
class Flap(_Pleated):
    """A leaf edge of the tree: one line under ``[flaps]``.

    Parameters
    ----------
    name, joint
        Its own name and the joint it hangs on.
    length
        In the figure's own unit; finite and above zero.
    pair
        Whether it stands for a pair of twins.
    place
        Where its tip may lie, any of these; empty for anywhere.
    flex
        Fraction by which the length may stray from what was asked, 0 or within `packer.limits.FLEX`.
    detail
        How fine the part is: 1 is needed, higher may be left out (see `Figure.at`).
    pleats, depth
        How many pleats shorten its paper to its length, or where they are, as fractions of the
        length from the joint; and how deep each is, or the depth of each, in the figure's unit.
    width
        On a grid how many cells its tip is wide; 0 is a point.
    cells
        Whole cells that it takes on a grid; 0 for as many as come nearest to its length.
    """

    name: str
    joint: str
    length: float
    pair: bool = False
    place: tuple[Place, ...] = ()
    flex: float = 0.0
    detail: int = 1
    pleats: int | tuple[float, ...] = 0
    depth: float | tuple[float, ...] = 0.0
    width: int = 0
    cells: int = 0

    def __post_init__(self) -> None:
        entry = f"flaps.{self.name}"
        check_name(self.name, entry)
        check_name(self.joint, f"{entry}.joint")
        object.__setattr__(self, "length", _checked_length(self.length, entry))
        object.__setattr__(self, "flex", _checked_flex(self.flex, entry))
        object.__setattr__(
            self, "place", tuple(_checked_place(p, f"{entry}.place") for p in self.place)
        )
        _check_count(self.detail, 1, "a detail", f"{entry}.detail")
        _check_cells(self.cells, entry)
        _check_count(self.width, 0, "a width in cells", f"{entry}.width")
        _set_pleats(self, entry)


@dataclass(frozen=True)
class River(_Pleated):
    """An edge between two joints: one line under ``[rivers]``.

    A paired river makes everything beyond its second joint a pair of twins. The other fields are
    those of a `Flap`; fractions of the length count from the first joint.
    """

    name: str
    joints: tuple[str, str]
    length: float
    pair: bool = False
    flex: float = 0.0
    detail: int = 1
    pleats: int | tuple[float, ...] = 0
    depth: float | tuple[float, ...] = 0.0
    cells: int = 0

    def __post_init__(self) -> None:
        entry = f"rivers.{self.name}"
        check_name(self.name, entry)
        if len(self.joints) != 2:
            raise FigureError("a river joins two joints; write two names", f"{entry}.joints")
        for joint in self.joints:
            check_name(joint, f"{entry}.joints")
        if self.joints[0] == self.joints[1]:
            raise FigureError(
                f'both ends are "{self.joints[0]}", which is a cycle; join two different joints',
                f"{entry}.joints",
            )
        object.__setattr__(self, "length", _checked_length(self.length, entry))
        object.__setattr__(self, "flex", _checked_flex(self.flex, entry))
        _check_count(self.detail, 1, "a detail", f"{entry}.detail")
        _check_cells(self.cells, entry)
        _set_pleats(self, entry)


def _check_cells(cells: object, entry: str) -> None:
    if not isinstance(cells, int) or isinstance(cells, bool) or not 0 <= cells <= MOST_CELLS:
        raise FigureError(
            f"{cells!r} is not a number of cells; write a whole number from 1 to {MOST_CELLS}",
            f"{entry}.cells",
        )


def stretched(part: Part, factor: float) -> Part:
    """Return a part so many times as long, its pleats with it."""
    depth = part.depth
    deep = tuple(factor * d for d in depth) if isinstance(depth, tuple) else factor * depth
    return replace(part, length=factor * part.length, depth=deep)


def check_name(name: object, entry: str) -> None:
    """Refuse a name that is no text, or that no file can hold."""
    if not isinstance(name, str) or not name.strip():
        raise FigureError("a name is missing; write some text", entry)
    if any("\ud800" <= character <= "\udfff" for character in name):
        raise FigureError(
            "a name holds half a character, which no file can; write it again",
            entry.encode("utf-8", "replace").decode(),
        )


def _checked_length(length: object, entry: str) -> float:
    entry = f"{entry}.length"
    number = as_number(length)
    if number is None:
        raise FigureError(f"{length!r} is not a number; write a length such as 1.5", entry)
    if not math.isfinite(number):
        raise FigureError(f"{number} is no length; write a finite number above zero", entry)
    if not number > 0:
        raise FigureError(
            f"a length of {number:g} is no part; write a number above zero", entry
        )
    return number


def _checked_flex(flex: object, entry: str) -> float:
    number = as_number(flex)
    if number is None or not (number == 0 or FLEX.hold(number)):
        raise FigureError(
            f"{flex!r} is no flex; write 0 or a fraction {FLEX}, such as 0.1",
            f"{entry}.flex",
        )
    return number


def _checked_place(place: object, entry: str) -> Place:
    if isinstance(place, str):
        if place not in PLACES:
            meant = OTHER_WORDS.get(place.strip().lower())
            hint = f'; did you mean "{meant}"?' if meant else did_you_mean(place, PLACES)
            raise FigureError(f'unknown place "{place}"{hint}', entry)
        return place
    point: Point | None = None
    if isinstance(place, list | tuple) and len(place) == 2:
        x, y = map(as_number, place)
        if x is not None and y is not None:
            point = x, y
    if point is None or not all(0 <= c <= 1 for c in point):
        shown = list(place) if isinstance(place, tuple) else place
        raise FigureError(
            f'{shown!r} is no place; write a name such as "edge" or a point such as '
            "[0.5, 1], in fractions of the sheet from 0 to 1",
            entry,
        )
    return point


def _check_count(value: object, least: int, what: str, entry: str) -> None:
    if (
        isinstance(value, bool)
        or not isinstance(value, int)
        or not least <= value <= MOST_COUNTED
    ):
        raise FigureError(
            f"{value!r} is not {what}; write a whole number from {least} to {MOST_COUNTED}",
            entry,
        )


def _set_pleats(part: Flap | River, entry: str) -> None:
    """Check the pleats of a part, and make lists of numbers tuples of floats."""
    pleats = part.pleats
    if isinstance(pleats, list | tuple):
        where = [as_number(share) for share in pleats]
        if not where or any(share is None for share in where):
            raise FigureError(
                f"{list(pleats)!r} is no list of places; write fractions of the length such as "
                "[0.3, 0.6]",
                f"{entry}.pleats",
            )
        object.__setattr__(part, "pleats", tuple(where))
    else:
        _check_count(pleats, 0, "a number of pleats", f"{entry}.pleats")
    depth = part.depth
    depths = [as_number(d) for d in (depth if isinstance(depth, list | tuple) else [depth])]
    if any(d is None for d in depths) or not depths:
        raise FigureError(
            f"{depth!r} is no depth; write a length such as 0.1", f"{entry}.depth"
        )
    whole = tuple(depths) if isinstance(depth, list | tuple) else depths[0]
    object.__setattr__(part, "depth", whole)
    try:
        _ = part.folded_away
    except FigureError as error:
        raise FigureError(error.message, f"{entry}.{error.entry}") from None
