"""The draft: a stick figure while it is drawn, which need not be a figure yet.

Nodes and strokes lie on a mat with x to the right and y down, in pixels; the mirror line is x = 0.
As in a figure a paired limb is there once: its twin is what the mirror shows.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final

from packer.errors import FigureError
from packer.model.figure import Figure, Flap, River

if TYPE_CHECKING:
    from packer.model.figure import Place, Symmetry
    from packer.model.sheet import Point, Sheet

UNIT: Final = 60.0
"""Pixels drawn for a length of 1 before any part is measured."""

LENGTH_DIGITS: Final = 4
"""Digits of a length that follows its stroke: a pointer aims no better."""


@dataclass(frozen=True)
class DraftNode:
    """An end of strokes: a joint, or the tip of a flap.

    Attributes
    ----------
    number
        Its own for as long as the draft lives.
    at
        Where it is drawn.
    name
        The joint's name; empty for one that has none yet.
    """

    number: int
    at: Point
    name: str = ""


@dataclass(frozen=True)
class DraftPart:
    """A stroke from node to node: a flap where one end is free, else a river.

    Attributes
    ----------
    name
        Its own.
    near, far
        Numbers of its nodes.
    bends
        Points of the stroke between them.
    asked
        The length typed for it; None where it follows the stroke.
    pair, place, flex
        As in a figure.
    """

    name: str
    near: int
    far: int
    bends: tuple[Point, ...] = ()
    asked: float | None = None
    pair: bool = False
    place: tuple[Place, ...] = ()
    flex: float = 0.0
    finer: tuple[tuple[str, Any], ...] = ()


@dataclass(frozen=True)
class ReferencePicture:
    """The picture under the drawing: which one, its middle, size, turn in degrees and strength.

    Attributes
    ----------
    name
        The name of its file in the project folder.
    at
        Where its middle lies.
    scale
        Pixels of the mat for one of its own.
    turn
        Degrees clockwise.
    strength
        From 0, not to be seen, to 1.
    """

    name: str
    at: Point = (0.0, 0.0)
    scale: float = 1.0
    turn: float = 0.0
    strength: float = 0.5


@dataclass(frozen=True)
class Draft:
    """What is drawn, and what is wished for.

    Attributes
    ----------
    name, symmetry, sheet, whole_rivers
        As in a figure.
    nodes, parts
        In the order in which they were drawn.
    unit
        Pixels drawn for a length of 1.
    picture
        The picture under the drawing, if any.
    """

    name: str = "Figure"
    symmetry: Symmetry = "book"
    sheet: Sheet | None = None
    whole_rivers: bool = False
    nodes: tuple[DraftNode, ...] = ()
    parts: tuple[DraftPart, ...] = ()
    unit: float = UNIT
    picture: ReferencePicture | None = None

    def node(self, number: int) -> DraftNode:
        """Return the node of a number; a FigureError says that there is none."""
        for node in self.nodes:
            if node.number == number:
                return node
        raise FigureError(f"there is no joint or tip {number} in the drawing")

    def part(self, name: str) -> DraftPart:
        """Return the part of a name; a FigureError says that there is none."""
        for part in self.parts:
            if part.name == name:
                return part
        raise FigureError(f'no part is called "{name}"')

    def at(self, number: int) -> tuple[DraftPart, ...]:
        """Return the parts that meet in a node."""
        return tuple(part for part in self.parts if number in {part.near, part.far})

    def line(self, part: DraftPart) -> tuple[Point, ...]:
        """Return the points of a part's stroke, from its near node to its far one."""
        return (self.node(part.near).at, *part.bends, self.node(part.far).at)

    def drawn(self, part: DraftPart) -> float:
        """Return the length of a part's stroke, in the figure's unit."""
        length = sum(math.dist(a, b) for a, b in pairwise(self.line(part))) / self.unit
        return rounded(length)

    def length(self, part: DraftPart) -> float:
        """Return the length asked for, or that of the stroke where none is."""
        return self.drawn(part) if part.asked is None else part.asked

    @property
    def joints(self) -> frozenset[int]:
        """Numbers of the nodes that more than one part, or a pair, hangs on."""
        ends: Counter[int] = Counter()
        for part in self.parts:
            ends[part.near] += 2 if part.pair else 1
            ends[part.far] += 1
        return frozenset(number for number, count in ends.items() if count > 1)

    @property
    def twinned(self) -> frozenset[int]:
        """Numbers of the nodes that have a mirror image: all that lie beyond a pair."""
        reached: set[int] = set()
        for part in self.parts:
            if part.pair:
                reached |= side_of(self, part.far, part)
        return frozenset(reached)


def rounded(length: float) -> float:
    """Return a drawn length with `LENGTH_DIGITS` digits."""
    return float(f"{length:.{LENGTH_DIGITS}g}")


def side_of(draft: Draft, number: int, without: DraftPart) -> set[int]:
    """Return the numbers of the nodes reached from one of them without using a part."""
    reached, todo = {number}, [number]
    while todo:
        for part in draft.at(todo.pop()):
            if part is not without:
                fresh = {part.near, part.far} - reached
                reached |= fresh
                todo += fresh
    return reached


def joint_names(draft: Draft) -> dict[int, str]:
    """Return the name of every joint, made up where it has none of its own."""
    joints = draft.joints
    own = {node.name for node in draft.nodes if node.name}
    names = {}
    for node in draft.nodes:
        if node.number in joints:
            name = node.name
            rank = node.number
            while not name:
                made = f"joint {rank}"
                name, rank = ("" if made in own else made), rank + 1
            own.add(name)
            names[node.number] = name
    return names


def figure_of_draft(draft: Draft) -> Figure:
    """Return the figure that a draft means.

    Raises
    ------
    FigureError
        Where it is none yet, in one sentence that says what is missing.
    """
    if not draft.parts:
        raise FigureError("nothing is drawn yet; press on the mat and pull to draw a limb")
    if len(draft.parts) == 1 and not draft.parts[0].pair:
        raise FigureError("one limb alone is no figure; draw another from one of its ends")
    names = joint_names(draft)
    flaps: list[Flap] = []
    rivers: list[River] = []
    for part in draft.parts:
        length = draft.length(part)
        if part.near in names and part.far in names:
            ends = (names[part.near], names[part.far])
            finer = {key: value for key, value in part.finer if key != "width"}
            rivers.append(River(part.name, ends, length, part.pair, part.flex, **finer))
        else:
            joint = names.get(part.near) or names.get(part.far, "")
            flaps.append(
                Flap(
                    part.name,
                    joint,
                    length,
                    part.pair,
                    part.place,
                    part.flex,
                    **dict(part.finer),
                )
            )
    return Figure(
        draft.name,
        tuple(flaps),
        tuple(rivers),
        draft.symmetry,
        draft.sheet,
        draft.whole_rivers,
    )


def directions(draft: Draft) -> tuple[tuple[str, float], ...]:
    """Return the direction in which every part is drawn, as the pose of a figure has it.

    Degrees clockwise from upright, from a joint outwards, of twins that of the one on the right.
    """
    joints, twinned = draft.joints, draft.twinned
    pose = []
    for part in draft.parts:
        (x, y), (there_x, there_y) = draft.node(part.near).at, draft.node(part.far).at
        if part.near not in joints:  # a flap that was drawn from its tip
            x, y, there_x, there_y = there_x, there_y, x, y
        across, down = there_x - x, there_y - y
        if (part.pair or not twinned.isdisjoint({part.near, part.far})) and x + there_x < 0:
            across = -across
        pose.append((part.name, round(math.degrees(math.atan2(across, -down)), 1)))
    return tuple(pose)


def changed_part(draft: Draft, name: str, part: DraftPart) -> Draft:
    """Return the draft with another part in the place of one."""
    old = draft.part(name)
    return replace(draft, parts=tuple(part if p is old else p for p in draft.parts))
