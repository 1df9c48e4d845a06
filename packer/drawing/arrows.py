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
    radius = 0.32 * size
    angles = np.linspace(-0.5 * math.pi, 1.5 * math.pi, 33)
    loop = [(x + radius * math.cos(t), y + radius * (1 + math.sin(t))) for t in angles]
    yield Path("fold arrow", ((x - size, y), *loop, (x + size - 0.7 * HEAD, y)))
    yield arrow_head((x + size, y), 0.0)


def _back(point: Point, towards: float, length: float) -> Point:
    return point[0] - length * math.cos(towards), point[1] - length * math.sin(towards)
