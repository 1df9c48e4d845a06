"""Which change of the draft each message of the page asks for."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

from packer.errors import FigureError
from packer.model.sheet import Sheet, parse_sheet
from packer.table import edits

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from packer.model.figure import Place
    from packer.search.frame import Frame
    from packer.table.draft import Draft

    Values = Mapping[str, Any]
    Change = Callable[[Draft, Values], Draft]

SIDE_DIGITS: Final = 4
"""Digits of a sheet's side after its ratio was pulled."""
PLACE_DIGITS: Final = 6
"""Decimals of a place pinned where a tip lies, as a fraction of the sheet."""


def _ratio(draft: Draft, values: Values) -> Draft:
    """Return the draft on a sheet of another side ratio and, but for rounding, the same area."""
    sheet = draft.sheet or Sheet()
    ratio = float(values["to"])
    if draft.symmetry == "diagonal" and ratio != 1:
        raise FigureError("under diagonal symmetry the sheet stays a square")
    width = math.sqrt(sheet.area * ratio)
    sides = [float(f"{side:.{SIDE_DIGITS}g}") for side in (width, width / ratio)]
    return replace(draft, sheet=Sheet(sides[0], sides[1], sheet.unit))


def _picture(draft: Draft, values: Values) -> Draft:
    if draft.picture is None:
        raise FigureError("there is no picture under the drawing")
    seen = {name: values[name] for name in ("at", "scale", "turn", "strength")}
    return replace(draft, picture=replace(draft.picture, **seen))


def _joint(draft: Draft, values: Values) -> Draft:
    old, name = draft.node(values["node"]), values["to"].strip()
    if name and any(node.name == name for node in draft.nodes if node is not old):
        raise FigureError(f'another joint is called "{name}"; give each its own name')
    nodes = tuple(replace(old, name=name) if node is old else node for node in draft.nodes)
    return replace(draft, nodes=nodes)


def _flex(draft: Draft, values: Values) -> Draft:
    part = draft.part(values["part"])
    changed = replace(part, flex=values["to"])
    return replace(draft, parts=tuple(changed if p is part else p for p in draft.parts))


CHANGES: Final[dict[str, Change]] = {
    "draw": lambda d, v: edits.with_limb(d, v["start"], v["path"])[0],
    "end": lambda d, v: edits.with_end_at(d, v["part"], v["at"]),
    "node": lambda d, v: edits.with_node_at(d, v["node"], v["at"]),
    "apart": lambda d, v: edits.pulled_apart(d, v["node"], v["at"])[0],
    "remove": lambda d, v: edits.without_part(d, v["part"]),
    "rename": lambda d, v: edits.with_name(d, v["part"], v["to"]),
    "joint": _joint,
    "length": lambda d, v: edits.with_length(d, v["part"], v["to"]),
    "measure": lambda d, v: edits.measured_by(d, v["part"], v["length"]),
    "pair": lambda d, v: edits.with_pair(d, v["part"], v["to"]),
    "place": lambda d, v: edits.with_place(d, v["part"], v["to"]),
    "flex": _flex,
    "title": lambda d, v: replace(d, name=v["to"].strip() or d.name),
    "symmetry": lambda d, v: edits.with_symmetry(d, v["to"]),
    "whole": lambda d, v: replace(d, whole_rivers=v["to"]),
    "sheet": lambda d, v: replace(d, sheet=parse_sheet(v["to"])),
    "ratio": _ratio,
    "picture": _picture,
    "bare": lambda d, _: replace(d, picture=None),
}
"""The change of the draft that each kind of message asks for."""


def pinned(draft: Draft, frame: Frame, tip: int, to: str | None) -> Draft:
    """Return the draft with a tip pinned where it lies, to a place by name, or not at all.

    Parameters
    ----------
    draft, frame
        The drawing and what lies on the sheet.
    tip
        Its index in the frame's tree.
    to
        "here", a place of `packer.model.figure.PLACES`, or None to let it go.
    """
    tree, sheet = frame.problem.tree, frame.problem.sheet
    name = tree.written[tip]
    place: tuple[Place, ...] = ()
    if to == "here":
        x, y = frame.points[tip].tolist()
        place = ((_fraction(x, sheet.width), _fraction(y, sheet.height)),)
    elif to is not None:
        place = (to,)
    return edits.with_place(draft, name, place)


def _fraction(at: float, side: float) -> float:
    return min(max(round(at / side, PLACE_DIGITS), 0.0), 1.0)
