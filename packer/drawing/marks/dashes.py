"""Dashes that fit their line, so that every line shows what it is, however short.

The dashes of a style are stretched or shrunk until a whole number of periods fits the line, as
is usual on maps. A line begins and ends amid the first stroke of a period: it is the same from
both ends, a line of less than one period still shows a whole one, and two lines that meet look
like one that goes on.
"""

from __future__ import annotations

from itertools import accumulate
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.drawing.marks.lines import Line, strokes_of, waypoints

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.drawing.marks.strokes import Path, Point

MOST_PERIODS: Final = 1000
"""Periods on one line at most: 2.5 m of the finest dash of a crease; longer lines have longer dashes."""


def length_of(path: Path) -> float:
    """Return the length of a line in mm."""
    return sum(side.length for side in strokes_of(path.points, path.bulges, path.closed))


def fitted(dash: tuple[float, ...], length: float) -> tuple[float, ...]:
    """Return the strokes and gaps of a style as they fit a line, in mm.

    The line is to begin half way along the first.

    Parameters
    ----------
    dash
        Lengths of strokes and gaps in turn, as a style has them.
    length
        Of the line, in mm.
    """
    count = min(max(1, round(length / sum(dash))), MOST_PERIODS)
    scale = length / (count * sum(dash))
    return tuple(scale * each for each in dash)


def dashes(path: Path, dash: tuple[float, ...]) -> list[tuple[Point, ...]]:
    """Return the strokes of a dashed line, each as points along it, those of an arc five degrees apart."""
    sides = list(strokes_of(path.points, path.bulges, path.closed))
    ends = [0.0, *accumulate(side.length for side in sides)]
    spans = _spans(dash, ends[-1])
    if len(sides) == 1 and isinstance(sides[0], Line):  # as nearly all are: at once
        start, end = np.array(sides[0].start), np.array(sides[0].end)
        points = start + spans[:, :, None] / ends[-1] * (end - start)
        return [((a, b), (c, d)) for (a, b), (c, d) in points.tolist()]
    strokes = []
    for low, high in spans.tolist():
        way: dict[Point, None] = {}  # a corner once, not as the end of both of its sides
        for side, before, after in zip(sides, ends, ends[1:], strict=False):
            first, last = max(low, before), min(high, after)
            if first < last:
                part = side.part((first - before) / side.length, (last - before) / side.length)
                way.update(dict.fromkeys(waypoints(part)))
        strokes.append(tuple(way))
    return strokes


def _spans(dash: tuple[float, ...], length: float) -> NDArray[np.float64]:
    """Return where along a line each of its strokes begins and ends, in mm."""
    lengths = fitted(dash, length)
    period = sum(lengths)
    if not period:
        return np.zeros((0, 2))
    ends = np.cumsum(lengths)
    strokes = np.column_stack([ends - lengths, ends])[::2] - lengths[0] / 2
    starts = period * np.arange(round(length / period) + 1)
    spans = np.clip((starts[:, None, None] + strokes).reshape(-1, 2), 0.0, length)
    return spans[spans[:, 0] < spans[:, 1]]
