"""The figure: a designer's stick figure as a tree of lengths, with its pairs and wishes.

A figure is what the designer wrote: a paired limb stands in it once. `packer.model.tree` writes the
twins out; `packer.model.problem` puts the tree on a sheet.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, Literal

from packer.errors import FigureError, did_you_mean
from packer.notebook import svg_of
from packer.numbers import as_number

if TYPE_CHECKING:
    from packer.model.sheet import Point, Sheet

Symmetry = Literal["none", "book", "diagonal"]
SYMMETRIES: Final[tuple[Symmetry, ...]] = ("none", "book", "diagonal")
SYMMETRY_NAMES: Final[dict[str, str]] = {
    "none": "no symmetry",
    "book": "book symmetry",
    "diagonal": "diagonal symmetry",
}
"""As they are called in a sentence."""

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

Place = str | tuple[float, float]
"""One of `PLACES`, or a fixed point in fractions of the sheet."""

MOST_CELLS: Final = 160
"""Cells in a figure's longest path on a grid: twice the finest grid that is folded."""

MOST_TIPS: Final = 1000
"""Tips in one figure, twins written out: the distance table of more would not be of use."""


@dataclass(frozen=True)
class Flap:
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
        Fraction by which the length may stray from what was asked, in [0, 1).
    cells
        Whole cells that it takes on a grid; 0 for as many as come nearest to its length.
    """

    name: str
    joint: str
    length: float
    pair: bool = False
    place: tuple[Place, ...] = ()
    flex: float = 0.0
    cells: int = 0

    def __post_init__(self) -> None:
        entry = f"flaps.{self.name}"
        _check_name(self.name, entry)
        _check_name(self.joint, f"{entry}.joint")
        object.__setattr__(self, "length", _checked_length(self.length, entry))
        object.__setattr__(self, "flex", _checked_flex(self.flex, entry))
        _check_cells(self.cells, entry)
        object.__setattr__(
            self, "place", tuple(_checked_place(p, f"{entry}.place") for p in self.place)
        )


@dataclass(frozen=True)
class River:
    """An edge between two joints: one line under ``[rivers]``.

    A paired river makes everything beyond its second joint a pair of twins.
    """

    name: str
    joints: tuple[str, str]
    length: float
    pair: bool = False
    flex: float = 0.0
    cells: int = 0

    def __post_init__(self) -> None:
        entry = f"rivers.{self.name}"
        _check_name(self.name, entry)
        if len(self.joints) != 2:
            raise FigureError("a river joins two joints; write two names", f"{entry}.joints")
        for joint in self.joints:
            _check_name(joint, f"{entry}.joints")
        if self.joints[0] == self.joints[1]:
            raise FigureError(
                f'both ends are "{self.joints[0]}", which is a cycle; join two different joints',
                f"{entry}.joints",
            )
        object.__setattr__(self, "length", _checked_length(self.length, entry))
        object.__setattr__(self, "flex", _checked_flex(self.flex, entry))
        _check_cells(self.cells, entry)


@dataclass(frozen=True)
class Figure:
    """A tree of lengths with its wishes, checked when it is made.

    Parameters
    ----------
    name
        What the designer calls it; any text.
    flaps, rivers
        The edges of the tree as written, twins once.
    symmetry
        "none", "book" or "diagonal".
    sheet
        The sheet wished for, if any.
    whole_rivers
        Whether the search should accept only packings whose rivers are whole.
    pose
        Directions of parts in the stick figure, as (name, degrees) clockwise from upright: of a
        flap from its joint to its tip, of a river from its first joint to its second, of a pair
        that of the twin on the right. A part without one lies as is convenient.

    Raises
    ------
    FigureError
        Where the parts are no tree or a part is wrong; names the entry and the remedy.
    """

    name: str
    flaps: tuple[Flap, ...]
    rivers: tuple[River, ...] = ()
    symmetry: Symmetry = "none"
    sheet: Sheet | None = None
    whole_rivers: bool = False
    pose: tuple[tuple[str, float], ...] = ()

    def __post_init__(self) -> None:
        if self.symmetry not in SYMMETRIES:
            hint = did_you_mean(str(self.symmetry), SYMMETRIES)
            raise FigureError(f'unknown symmetry "{self.symmetry}"{hint}', "symmetry")
        _check_names(self)
        _check_tree(self)
        far = beyond_pairs(self)
        _check_joints(self)
        _check_tips(self, far)
        object.__setattr__(self, "pose", _checked_pose(self))

    @property
    def joints(self) -> tuple[str, ...]:
        """The joints' names as written, in order of first mention."""
        named = [joint for river in self.rivers for joint in river.joints]
        return tuple(dict.fromkeys([*named, *(flap.joint for flap in self.flaps)]))

    def with_flex(self, flex: float) -> Figure:
        """Return the figure with one flex on every flap and river."""
        return replace(
            self,
            flaps=tuple(replace(flap, flex=flex) for flap in self.flaps),
            rivers=tuple(replace(river, flex=flex) for river in self.rivers),
        )

    def _repr_svg_(self) -> str | None:
        return svg_of(self)


def beyond_pairs(figure: Figure) -> frozenset[str]:
    """Return the joints that are twins: all that lie beyond a paired river's second joint.

    Raises
    ------
    FigureError
        Where two paired rivers each lie beyond the other, so that nothing is left on the axis.
    """
    beyond = _beyond(figure)
    twins = frozenset().union(*beyond.values())
    # Sides of a tree that leave no joint over do so in pairs (Helly's theorem for subtrees)
    if twins and len(twins) == len(
        {joint for river in figure.rivers for joint in river.joints}
    ):
        name = next(
            one
            for one, here in beyond.items()
            for two, there in beyond.items()
            if one != two and len(here | there) == len(twins)
        )
        raise FigureError(
            "its pair and another paired river's contain each other; write the far joint, the "
            "one away from the axis, second",
            f"rivers.{name}.joints",
        )
    return twins


def _beyond(figure: Figure) -> dict[str, frozenset[str]]:
    """For each paired river, by name, the joints reached from its second without passing it."""
    neighbours: dict[str, list[tuple[str, str]]] = {}
    for river in figure.rivers:
        a, b = river.joints
        neighbours.setdefault(a, []).append((b, river.name))
        neighbours.setdefault(b, []).append((a, river.name))
    found: dict[str, frozenset[str]] = {}
    for river in figure.rivers:
        if river.pair:
            side, todo = {river.joints[1]}, [river.joints[1]]
            while todo:
                for there, name in neighbours[todo.pop()]:
                    if name != river.name and there not in side:
                        side.add(there)
                        todo.append(there)
            found[river.name] = frozenset(side)
    return found


def _check_name(name: object, entry: str) -> None:
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


def _check_cells(cells: object, entry: str) -> None:
    if not isinstance(cells, int) or isinstance(cells, bool) or not 0 <= cells <= MOST_CELLS:
        raise FigureError(
            f"{cells!r} is not a number of cells; write a whole number from 1 to {MOST_CELLS}",
            f"{entry}.cells",
        )


def _checked_flex(flex: object, entry: str) -> float:
    number = as_number(flex)
    if number is None or not 0 <= number < 1:
        raise FigureError(
            f"{flex!r} is no flex; write a fraction from 0 to below 1, such as 0.1",
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


def _check_names(figure: Figure) -> None:
    entries = [f"flaps.{flap.name}" for flap in figure.flaps]
    entries += [f"rivers.{river.name}" for river in figure.rivers]
    names = Counter(entry.split(".", 1)[1] for entry in entries)
    for entry in reversed(entries):
        if names[entry.split(".", 1)[1]] > 1:
            raise FigureError("this name is given twice; give each part its own", entry)


def _checked_pose(figure: Figure) -> tuple[tuple[str, float], ...]:
    known = [flap.name for flap in figure.flaps] + [river.name for river in figure.rivers]
    pose = []
    for name, direction in figure.pose:
        degrees = as_number(direction)
        if name not in known:
            raise FigureError(
                f'no part is called "{name}"{did_you_mean(name, known)}', f"pose.{name}"
            )
        if degrees is None or not math.isfinite(degrees):
            raise FigureError(
                f"{direction!r} is not a direction; write degrees clockwise from upright, such "
                "as 90 for the right",
                f"pose.{name}",
            )
        pose.append((name, degrees))
    return tuple(pose)


def _check_tree(figure: Figure) -> None:
    """Refuse cycles and loose pieces, with a union-find over the joints."""
    head: dict[str, str] = {}

    def top(joint: str) -> str:
        while head.setdefault(joint, joint) != joint:
            joint = head[joint]
        return joint

    for river in figure.rivers:
        a, b = map(top, river.joints)
        if a == b:
            raise FigureError(
                "this river closes a cycle, and a stick figure has none; remove it or join "
                "another joint",
                f"rivers.{river.name}",
            )
        head[b] = a
    rooted = {river.joints[0] for river in figure.rivers}
    known = set(head)
    for flap in figure.flaps:
        if figure.rivers and flap.joint not in known:
            raise FigureError(
                f'unknown joint "{flap.joint}"{did_you_mean(flap.joint, known)}',
                f"flaps.{flap.name}.joint",
            )
        if not figure.rivers and flap.joint != figure.flaps[0].joint:
            raise FigureError(
                f'joint "{flap.joint}" is not joined to "{figure.flaps[0].joint}"; add a river '
                "between them or hang all flaps on one joint",
                f"flaps.{flap.name}.joint",
            )
    if len({top(joint) for joint in rooted}) > 1:
        first = top(figure.rivers[0].joints[0])
        loose = next(r for r in figure.rivers if top(r.joints[0]) != first)
        raise FigureError(
            f'this part is not joined to "{figure.rivers[0].name}"; add a river between them',
            f"rivers.{loose.name}",
        )


def _check_joints(figure: Figure) -> None:
    ends = Counter(joint for river in figure.rivers for joint in river.joints)
    for flap in figure.flaps:
        ends[flap.joint] += 2 if flap.pair else 1
    for river in figure.rivers:
        ends[river.joints[0]] += 1 if river.pair else 0
    for river in figure.rivers:
        for joint in river.joints:
            if ends[joint] < 2:
                raise FigureError(
                    f'joint "{joint}" has a single neighbour; hang a flap on it, or write this '
                    "part as a flap",
                    f"rivers.{river.name}.joints",
                )


def _check_tips(figure: Figure, far: frozenset[str]) -> None:
    tips = sum(2 if flap.pair or flap.joint in far else 1 for flap in figure.flaps)
    if tips < 2:
        raise FigureError("a figure needs at least two flaps; add some", "flaps")
    if tips > MOST_TIPS:
        raise FigureError(
            f"{tips} flaps are more than the {MOST_TIPS} that can be packed; merge some",
            "flaps",
        )
