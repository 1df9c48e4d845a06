"""Names for the parts of a drawn tree: what the drawing calls them, else where they lie."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
import shapely
from scipy.optimize import linear_sum_assignment

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from packer.sketch.faults import Part
    from packer.sketch.sketch_values import Caption

    Points = NDArray[np.float64]

CAPTION_REACH: Final = 2.0
"""How far a caption may stand from its stroke, in font sizes."""

_SIDE: Final = re.compile(
    r"(?:^|(?<=[\W_]))[(\[]?(left|right|l|r)[)\]]?(?=[\W_]|$)", re.IGNORECASE
)
_LETTER: Final = 0.55


@dataclass(frozen=True, eq=False)
class Member:
    """A part to be named, with its twin where it has one; `number` is its rank in the drawing."""

    parts: tuple[Part, ...]
    is_flap: bool
    at: Points
    number: int


def member_names(
    members: Sequence[Member], captions: Sequence[Caption], places: Points
) -> list[str]:
    """Return a name for each member, all different.

    Strokes' own names go first, then the nearest caption, then the place in the drawing. What
    several parts would be called is numbered; twins lose the words left and right.
    """
    names = [_own_name(member) for member in members]
    for k, text in _captioned(members, captions):
        names[k] = names[k] or text
    names = [
        name or _by_place(member, places) for name, member in zip(names, members, strict=True)
    ]
    return _numbered(names)


def _own_name(member: Member) -> str:
    """Return the name under which most of it is drawn."""
    drawn: dict[str, float] = {}
    for part in member.parts:
        for name, length in part.names:
            known = _without_side(name) if len(member.parts) > 1 else name
            drawn[known] = drawn.get(known, 0.0) + length
    drawn.pop("", None)
    return max(drawn, key=lambda name: drawn[name]) if drawn else ""


def _without_side(name: str) -> str:
    return re.sub(r"[\s._-]{2,}", " ", _SIDE.sub("", name)).strip(" ._-")


def _captioned(members: Sequence[Member], captions: Sequence[Caption]) -> list[tuple[int, str]]:
    """Return members with their captions, such that the distances sum to the least.

    The same words at both twins are one caption.
    """
    lines = [shapely.MultiLineString([p.line for p in member.parts]) for member in members]
    away: dict[str, NDArray[np.float64]] = {}
    for caption in captions:
        half = _LETTER * caption.size * len(caption.text) / 2
        x, y = caption.at
        word = shapely.LineString([(x - half, y), (x + half, y)])
        sizes = shapely.distance(lines, word) / (CAPTION_REACH * caption.size)
        text = _without_side(caption.text) or caption.text
        key = text if len(members[int(np.argmin(sizes))].parts) > 1 else caption.text
        away[key] = np.minimum(away.get(key, np.inf), sizes)
    if not away:
        return []
    texts, costs = list(away), np.minimum(np.array(list(away.values())), 1.0)
    rows, columns = linear_sum_assignment(costs)
    return [
        (int(k), texts[row])
        for row, k in zip(rows, columns, strict=True)
        if costs[row, k] < 1.0
    ]


def _by_place(member: Member, places: Points) -> str:
    """Return where a part lies in the figure: "upper left", in thirds of its box.

    Twins lie on both sides, so of them only the height is told.
    """
    low, high = places.min(axis=0), places.max(axis=0)
    x, y = (member.at - low) / np.maximum(high - low, 1e-300)
    level = "upper" if y < 1 / 3 else "lower" if y > 2 / 3 else ""
    side = "left" if x < 1 / 3 else "right" if x > 2 / 3 else ""
    if len(member.parts) > 1:
        side = "" if level else "side"
    where = " ".join(word for word in (level, side) if word) or "middle"
    return f"{where} " if member.is_flap else f"{where} river "


def _numbered(names: list[str]) -> list[str]:
    """Make names unique; a name from a place ends in a blank and is always numbered."""
    total, seen = Counter(names), Counter[str]()
    numbered_names: list[str] = []
    taken = {name for name in names if total[name] == 1 and not name.endswith(" ")}
    for name in names:
        if name in taken:
            numbered_names.append(name)
            continue
        stem = name.strip()
        while True:
            seen[name] += 1
            numbered = f"{stem} {seen[name]}"
            if numbered not in taken:
                break
        taken.add(numbered)
        numbered_names.append(numbered)
    return numbered_names
