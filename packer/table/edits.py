"""Changes of a draft: each returns the draft after it, and refuses what makes no sense.

Whatever may still become a figure is allowed; `packer.table.draft.figure_of_draft` tells what is
missing.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Final

from packer.errors import FigureError
from packer.limits import MOST_TIPS
from packer.table.draft import DraftNode, DraftPart, changed_part, side_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from packer.model.figure import Place, Symmetry
    from packer.model.sheet import Point
    from packer.table.draft import Draft

SNAP: Final = 9.0
"""Pixels from the mirror line within which an end is put on it."""
SHORTEST: Final = 3.0
"""Pixels below which a stroke is a slip of the hand."""
GOES_ALONG: Final = math.cos(math.radians(80))
"""Cosine of the angle to the pull up to which limbs follow when a joint is pulled apart."""


def with_limb(draft: Draft, start: int | None, path: Sequence[Point]) -> tuple[Draft, int]:
    """Return the draft with another limb, and the number of its free end.

    Parameters
    ----------
    draft
        The drawing so far.
    start
        The joint or tip it is drawn from; None for the first limb of all.
    path
        Points of the stroke, from its beginning to its free end; bends in between.

    Raises
    ------
    FigureError
        Where the stroke is too short, or hangs on nothing.
    """
    if len(draft.parts) >= MOST_TIPS:
        raise FigureError(f"more than {MOST_TIPS} limbs cannot be packed; remove some")
    free = 1 + max((node.number for node in draft.nodes), default=0)
    nodes = draft.nodes
    if start is None:
        if draft.parts:
            raise FigureError("a limb hangs on the others; begin at a joint or a tip")
        begin = on_line(draft, path[0])
        nodes = (DraftNode(free, begin),)
        start, free = free, free + 1
    else:
        begin = draft.node(start).at
    end = path[-1]
    mirrored = draft.symmetry != "none"
    if start not in draft.twinned:
        end = on_line(draft, end)
    pair = mirrored and start not in draft.twinned and end[0] != 0 and begin[0] == 0
    if math.dist(begin, end) < SHORTEST:
        raise FigureError("that stroke is too short to be a limb; pull farther")
    part = DraftPart(free_name(draft, "limb"), start, free, tuple(path[1:-1]), pair=pair)
    node = DraftNode(free, end)
    return replace(draft, nodes=(*nodes, node), parts=(*draft.parts, part)), free


def on_line(draft: Draft, at: Point) -> Point:
    """Return a point, put on the mirror line where it is next to it and there is one."""
    if draft.symmetry != "none" and abs(at[0]) < SNAP:
        return 0.0, at[1]
    return at


def free_name(draft: Draft, stem: str) -> str:
    """Return the first of "limb 1", "limb 2" ... that no part has."""
    taken = {part.name for part in draft.parts}
    return next(f"{stem} {k}" for k in range(1, len(taken) + 2) if f"{stem} {k}" not in taken)


def with_end_at(draft: Draft, name: str, at: Point) -> Draft:
    """Return the draft with the outer end of a part pulled to a point, and all beyond it along."""
    part = draft.part(name)
    end = outer_end(draft, part)
    if draft.symmetry != "none" and end not in draft.twinned:
        at = (0.0, at[1])
    here = draft.node(end).at
    by = (at[0] - here[0], at[1] - here[1])
    return _shifted(draft, side_of(draft, end, part), by)


def with_node_at(draft: Draft, number: int, at: Point) -> Draft:
    """Return the draft with one joint or tip at a point, all others where they were."""
    if draft.symmetry != "none" and number not in draft.twinned:
        at = (0.0, at[1])
    here = draft.node(number).at
    return _shifted(draft, {number}, (at[0] - here[0], at[1] - here[1]))


def outer_end(draft: Draft, part: DraftPart) -> int:
    """Return the number of the end of a part that lies away from the middle of the figure."""
    if part.pair:
        return part.far
    near, far = (side_of(draft, end, part) for end in (part.near, part.far))
    if not draft.twinned.isdisjoint({part.near, part.far}):  # away from the mirror line
        return part.far if near - draft.twinned else part.near
    return part.far if len(near) >= len(far) else part.near


def _shifted(draft: Draft, moved: set[int], by: Point) -> Draft:
    """Return the draft with some nodes shifted; strokes with one end among them turn along."""
    nodes = tuple(
        replace(n, at=(n.at[0] + by[0], n.at[1] + by[1])) if n.number in moved else n
        for n in draft.nodes
    )
    after = replace(draft, nodes=nodes)
    parts = tuple(
        replace(part, bends=_turned(draft, after, part)) if part.bends else part
        for part in draft.parts
    )
    after = replace(after, parts=parts)
    for part in after.parts:
        if math.dist(after.node(part.near).at, after.node(part.far).at) < SHORTEST:
            raise FigureError(f'"{part.name}" would have no length left')
    return after


def _turned(before: Draft, after: Draft, part: DraftPart) -> tuple[Point, ...]:
    """Return the bends of a part after the turn and stretch that take its old ends to the new."""
    a, b = (complex(*before.node(end).at) for end in (part.near, part.far))
    c, d = (complex(*after.node(end).at) for end in (part.near, part.far))
    factor = (d - c) / (b - a) if b != a else 1
    turned = [c + factor * (complex(*bend) - a) for bend in part.bends]
    return tuple((z.real, z.imag) for z in turned)


def pulled_apart(draft: Draft, number: int, at: Point) -> tuple[Draft, int]:
    """Return the draft with a joint pulled apart, a river in between, and the new joint's number.

    Limbs that lie on the side of the pull go along with the new joint.

    Raises
    ------
    FigureError
        Where the pull is too short.
    """
    node = draft.node(number)
    at = on_line(draft, at) if number not in draft.twinned else at
    if math.dist(node.at, at) < SHORTEST:
        raise FigureError("that pull is too short for a river; pull farther")
    fresh = 1 + max(n.number for n in draft.nodes)
    paired = draft.symmetry != "none" and number not in draft.twinned and at[0] != 0
    parts = []
    for part in draft.parts:
        # a limb on the mirror line cannot hang on a joint beside it
        along = number in {part.near, part.far} and _goes_along(draft, part, number, at)
        if along and (part.pair or not paired):
            near, far = (fresh if end == number else end for end in (part.near, part.far))
            part = replace(part, near=near, far=far, pair=part.pair and not paired)  # noqa: PLW2901
        parts.append(part)
    river = DraftPart(free_name(draft, "river"), number, fresh, pair=paired)
    nodes = (*draft.nodes, DraftNode(fresh, at))
    return replace(draft, nodes=nodes, parts=(*parts, river)), fresh


def _goes_along(draft: Draft, part: DraftPart, number: int, at: Point) -> bool:
    here = draft.node(number).at
    line = draft.line(part)
    next_one = line[1] if part.near == number else line[-2]
    pull = (at[0] - here[0], at[1] - here[1])
    way = (next_one[0] - here[0], next_one[1] - here[1])
    size = math.hypot(*pull) * math.hypot(*way)
    return size > 0 and (pull[0] * way[0] + pull[1] * way[1]) / size > GOES_ALONG


def without_part(draft: Draft, name: str) -> Draft:
    """Return the draft without a part and all that hangs on its outer end."""
    part = draft.part(name)
    end = outer_end(draft, part)
    gone = side_of(draft, end, part)
    parts = tuple(p for p in draft.parts if p is not part and not gone & {p.near, p.far})
    kept = {end for p in parts for end in (p.near, p.far)}
    nodes = tuple(n for n in draft.nodes if n.number in kept)
    return replace(draft, parts=parts, nodes=nodes)


def with_name(draft: Draft, old: str, new: str) -> Draft:
    """Return the draft with a part renamed.

    Raises
    ------
    FigureError
        Where another part has this name.
    """
    new = new.strip()
    if any(part.name == new for part in draft.parts) and new != old:
        raise FigureError(f'another part is called "{new}"; give each its own name')
    if not new:
        raise FigureError("a part needs a name; write some text")
    return changed_part(draft, old, replace(draft.part(old), name=new))


def with_length(draft: Draft, name: str, asked: float | None) -> Draft:
    """Return the draft with a length typed for a part; with None it follows its stroke again."""
    return changed_part(draft, name, replace(draft.part(name), asked=asked))


def measured_by(draft: Draft, name: str, length: float) -> Draft:
    """Return the draft measured by one part: its stroke is as long as said, the others follow."""
    part = draft.part(name)
    pixels = draft.drawn(part) * draft.unit
    after = replace(draft, unit=pixels / length)
    return changed_part(after, name, replace(part, asked=None))


def with_pair(draft: Draft, name: str, pair: bool) -> Draft:
    """Return the draft with a part made a pair, or one.

    Raises
    ------
    FigureError
        Where the part lies beyond a pair already.
    """
    part = draft.part(name)
    if pair and not draft.twinned.isdisjoint({part.near, part.far}) and not part.pair:
        raise FigureError(f'"{name}" hangs on a pair and has a twin already')
    far, near = outer_end(draft, part), part.near
    if pair and far != part.far:
        near, far = part.far, part.near
        part = replace(part, near=near, far=far, bends=part.bends[::-1])
    return changed_part(draft, name, replace(part, pair=pair))


def with_place(draft: Draft, name: str, place: tuple[Place, ...]) -> Draft:
    """Return the draft with the tip of a flap bound to places, or to none."""
    return changed_part(draft, name, replace(draft.part(name), place=place))


def with_symmetry(draft: Draft, symmetry: Symmetry) -> Draft:
    """Return the draft under another symmetry."""
    return replace(draft, symmetry=symmetry)
