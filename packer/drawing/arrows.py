"""Signs of the standard published notation for folding diagrams: arrows, circles, turn over."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.drawing.marks.strokes import Area, Disc, Path

if TYPE_CHECKING:
    from collections.abc import Iterator

    from packer.drawing.marks.strokes import Mark, Point

HEAD: Final = 3.2
"""Length of an arrow's head in mm."""

BOW: Final = 0.32
"""Bulge of an arrow's arc: it rises to a sixth of its length."""

WATCH_MM: Final = 2.0
"""Radius of the circle at a point to watch."""


def fold_arrow(start: Point, end: Point, bulge: float = BOW) -> Iterator[Mark]:
    """Yield a bent arrow from what moves to where it goes; nothing where both are one."""
    length = math.dist(start, end)
    if length < 0.5:
        return
    towards = math.atan2(end[1] - start[1], end[0] - start[0]) + 2 * math.atan(bulge)
    head = min(HEAD, 0.5 * length)
    yield Path("fold arrow", (start, _back(end, towards, 0.7 * head)), bulges=(bulge,))
    yield arrow_head(end, towards, head)


def arrow_head(tip: Point, towards: float, length: float = HEAD) -> Mark:
    """Return the head of an arrow that points to `tip` in a direction given in radians."""
    sides = [_back(tip, towards + turn, length) for turn in (0.32, -0.32)]
    return Area("arrow head", ((tip, sides[0], sides[1]),))


def watch(point: Point) -> Mark:
    """Return the circle at a point to watch."""
    return Disc("watch", point, WATCH_MM)


def turn_over(at: Point, size: float = 9.0) -> Iterator[Mark]:
    """Yield the arrow with a loop that says: turn the paper over."""
    x, y = at
    t = np.linspace(0.0, 1.0, 60)
    # along, with a loop in the middle
    across = size * (2 * t - 1) + 0.45 * size * np.sin(2 * np.pi * t) * -1.6 * np.sin(np.pi * t)
    up = 0.75 * size * np.sin(np.pi * t) ** 4
    points = tuple((x + float(u), y + float(v)) for u, v in zip(across, up, strict=True))
    yield Path("fold arrow", points)
    (a, b), (c, d) = points[-3], points[-1]
    yield arrow_head(points[-1], math.atan2(d - b, c - a))


def _back(point: Point, towards: float, length: float) -> Point:
    return point[0] - length * math.cos(towards), point[1] - length * math.sin(towards)
