"""Where names go: of several places for each, one that hides the least."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import shapely

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    from packer.drawing.strokes import Label, Point

Segment = tuple["Point", "Point"]

LETTER = 0.58
"""Mean width of a letter of a sans-serif face, as a share of the size of the text."""

CLOSE = 0.6
"""Half the height of a line of text, as a share of its size, with a little air."""


def label_box(label: Label) -> NDArray[np.float64]:
    """Return (4, 2) corners of about the rectangle that a label covers."""
    width = LETTER * label.size * len(label.text)
    start = {"start": 0.0, "middle": -width / 2, "end": -width}[label.anchor]
    half = CLOSE * label.size
    corners = np.array(
        [(start, -half), (start + width, -half), (start + width, half), (start, half)]
    )
    c, s = math.cos(math.radians(label.angle)), math.sin(math.radians(label.angle))
    turned: NDArray[np.float64] = corners @ np.array([[c, s], [-s, c]]) + label.at
    return turned


def choose_places(
    choices: Iterable[Sequence[tuple[Label, ...]]],
    strokes: Sequence[Segment],
    most: float = math.inf,
) -> list[Label]:
    """Choose places for labels in turn: the first of those that hide the least.

    Parameters
    ----------
    choices
        For each label its possible places, the best liked first. A place is a tuple: labels
        that belong together, such as the names of twins, choose together.
    strokes
        Lines to keep clear of.
    most
        Labels that would hide more than this share of their own rectangles are left out.
    """
    lines = shapely.linestrings(np.array(strokes, dtype=float).reshape(-1, 2, 2))
    placed: list[Label] = []
    boxes: list[shapely.Polygon] = []
    for places in choices:
        areas = [[shapely.Polygon(label_box(label)) for label in place] for place in places]
        costs = [
            sum(
                _hidden(area, lines, boxes, label.size)
                for area, label in zip(row, place, strict=True)
            )
            for row, place in zip(areas, places, strict=True)
        ]
        best = int(np.argmin(np.round(costs, 3)))
        if costs[best] <= most * sum(area.area for area in areas[best]):
            placed += places[best]
            boxes += areas[best]
    return placed


def _hidden(
    area: shapely.Polygon, lines: NDArray[np.object_], boxes: list[shapely.Polygon], size: float
) -> float:
    """Return the area in mm2 of what a label would hide, a line counting as half its height."""
    shapely.prepare(area)
    met = lines[shapely.intersects(area, lines)]
    crossed = float(shapely.length(shapely.intersection(area, met)).sum())
    covered = sum(float(area.intersection(box).area) for box in boxes if area.intersects(box))
    return 0.5 * size * crossed + covered
