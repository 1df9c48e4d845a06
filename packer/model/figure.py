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
from packer.limits import (
    LENGTH,
    LENGTHS_APART,
    MOST_FOLDED,
    MOST_FOLDED_RIVERS,
    MOST_RIVERS,
    MOST_TIPS,
)
from packer.model.leave_out import joined_pose, left_out
from packer.model.parts import CORNERS, PLACES, SIDES, Flap, Place, River
from packer.notebook import svg_of
from packer.numbers import as_number

if TYPE_CHECKING:
    from collections.abc import Collection

    from packer.model.sheet import Sheet

__all__ = [
    "CORNERS",
    "PLACES",
    "SIDES",
    "SYMMETRIES",
    "SYMMETRY_NAMES",
    "Figure",
    "Flap",
    "Place",
    "River",
    "Symmetry",
    "beyond_pairs",
]

Symmetry = Literal["none", "book", "diagonal"]
SYMMETRIES: Final[tuple[Symmetry, ...]] = ("none", "book", "diagonal")
SYMMETRY_NAMES: Final[dict[str, str]] = {
    "none": "no symmetry",
    "book": "book symmetry",
    "diagonal": "diagonal symmetry",
}
"""As they are called in a sentence."""


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
        _check_size(self, far)
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

    @property
    def parts(self) -> tuple[Flap | River, ...]:
        """The flaps and then the rivers, as written."""
        parts: list[Flap | River] = [*self.flaps, *self.rivers]
        return tuple(parts)

    @property
    def details(self) -> tuple[int, ...]:
        """The details that its parts have, from 1, which is needed, to the finest."""
        return tuple(sorted({1, *(part.detail for part in self.parts)}))

    def at(self, detail: int) -> Figure:
        """Return the figure at a level of detail: finer parts are left out (see `without`).

        Raises
        ------
        FigureError
            Where what is left is no figure.
        """
        finer = {part.name for part in self.parts if part.detail > detail}
        try:
            return self.without(finer)
        except FigureError as error:
            raise FigureError(f"at detail {detail}: {error.message}", error.entry) from None

    def without(self, names: Collection[str]) -> Figure:
        """Return the figure without some of its flaps and rivers, named as they are written.

        A flap left out is gone, and of a river left out the two joints become one. Where a joint
        then joins only two parts, these become one part of their summed length, called "a + b";
        a river that then ends in nothing becomes a flap. So every distance between tips that are
        left is the same or less.

        Raises
        ------
        FigureError
            Where a name is unknown or what is left is no figure.
        """
        if not names:
            return self
        known = {part.name for part in self.parts}
        for name in sorted(set(names) - known):
            raise FigureError(f'there is no part "{name}"{did_you_mean(name, known)}')
        flaps, rivers, pieces = left_out(self.flaps, self.rivers, names, beyond_pairs(self))
        if not flaps:
            raise FigureError("no flap is left; leave fewer parts out", "flaps")
        pose = joined_pose(self.pose, pieces)
        return replace(self, flaps=flaps, rivers=rivers, pose=pose)

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


def check_lengths(figure: Figure) -> None:
    """Refuse a figure with a length out of all measure, or too short to lie beside the others.

    Of figures as designers write them. What a proof or a piece of advice makes of one may have
    lengths somewhat beyond.

    Raises
    ------
    FigureError
        Where a length is not within `LENGTH`, or one is shorter than the longest over
        `LENGTHS_APART`.
    """
    lengths = {f"flaps.{flap.name}.length": flap.length for flap in figure.flaps}
    lengths |= {f"rivers.{river.name}.length": river.length for river in figure.rivers}
    for entry, length in lengths.items():
        if not LENGTH.hold(length):
            raise FigureError(
                f"a length of {length:g} is beyond measure; write one {LENGTH}", entry
            )
    shortest, longest = min(lengths, key=lengths.__getitem__), max(lengths.values())
    if longest > LENGTHS_APART * lengths[shortest]:
        raise FigureError(
            f"{lengths[shortest]:g} is less than a millionth of the longest part, {longest:g}; "
            "lengthen it or leave it out",
            shortest,
        )


def _beyond(figure: Figure) -> dict[str, frozenset[str]]:
    """For each paired river, by name, the joints reached from its second without passing it."""
    neighbours: dict[str, list[tuple[str, str]]] = {}
    for river in figure.rivers:
        a, b = river.joints
        neighbours.setdefault(a, []).append((b, river.name))
        neighbours.setdefault(b, []).append((a, river.name))
    joints_beyond: dict[str, frozenset[str]] = {}
    for river in figure.rivers:
        if river.pair:
            side, todo = {river.joints[1]}, [river.joints[1]]
            while todo:
                for there, name in neighbours[todo.pop()]:
                    if name != river.name and there not in side:
                        side.add(there)
                        todo.append(there)
            joints_beyond[river.name] = frozenset(side)
    return joints_beyond


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


def _check_size(figure: Figure, far: frozenset[str]) -> None:
    rivers = sum(
        2 if river.pair or far.intersection(river.joints) else 1 for river in figure.rivers
    )
    if rivers > MOST_RIVERS:
        raise FigureError(
            f"{rivers} rivers are more than the {MOST_RIVERS} that can be packed; join some",
            "rivers",
        )
    tips = sum(2 if flap.pair or flap.joint in far else 1 for flap in figure.flaps)
    if tips < 2:
        raise FigureError("a figure needs at least two flaps; add some", "flaps")
    if tips > MOST_TIPS:
        raise FigureError(
            f"{tips} flaps are more than the {MOST_TIPS} that can be packed; merge some",
            "flaps",
        )


def refuse_to_fold(flaps: int, rivers: int, what: str) -> None:
    """Refuse more flaps or rivers than are folded by hand.

    Parameters
    ----------
    flaps, rivers
        Twins written out, fillers not counted.
    what
        What they are too many for, after "that": "a grid can hold".

    Raises
    ------
    FigureError
        Where they are more than `packer.limits.MOST_FOLDED` or `MOST_FOLDED_RIVERS`.
    """
    for parts, count, most in (
        ("flaps", flaps, MOST_FOLDED),
        ("rivers", rivers, MOST_FOLDED_RIVERS),
    ):
        if count > most:
            raise FigureError(
                f"{count} {parts} are more than the {most} that {what}; pack the figure with "
                "--detail, which leaves fine parts out, or work from its packing, with packer print",
                parts,
            )
