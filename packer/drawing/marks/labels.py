"""Where names go: of several places for each, one that hides the least."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import shapely

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    from packer.drawing.marks.strokes import Label, Point

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
    lines = shapely.STRtree(
        shapely.linestrings(np.array(strokes, dtype=float).reshape(-1, 2, 2))
    )
    placed: list[Label] = []
    boxes: list[shapely.Polygon] = []
    for places in choices:
        labels = [label for place in places for label in place]
        of = np.repeat(np.arange(len(places)), [len(place) for place in places])
        areas = shapely.polygons([label_box(label) for label in labels])
        sizes = np.array([label.size for label in labels])
        costs = np.bincount(of, _hidden(areas, sizes, lines, np.array(boxes, dtype=object)))
        best = int(np.argmin(np.round(costs, 3)))
        chosen = areas[of == best]
        if costs[best] <= most * float(shapely.area(chosen).sum()):
            placed += places[best]
            boxes += chosen.tolist()
    return placed


def _hidden(
    areas: NDArray[np.object_],
    sizes: NDArray[np.float64],
    lines: shapely.STRtree,
    boxes: NDArray[np.object_],
) -> NDArray[np.float64]:
    """Return (k,) the area in mm2 of what each of k labels would hide, lines as half its height.

    Parameters
    ----------
    areas, sizes
        (k,) rectangles of the labels, heights of their text in mm.
    lines, boxes
        Lines to keep clear of, and rectangles of the labels that are placed.
    """
    shapely.prepare(areas)
    at, met = lines.query(areas, predicate="intersects")
    lengths = shapely.length(shapely.intersection(areas[at], lines.geometries[met]))
    hidden = 0.5 * sizes * np.bincount(at, lengths, len(areas))
    at, met = np.nonzero(shapely.intersects(areas[:, None], boxes))
    covered = shapely.area(shapely.intersection(areas[at], boxes[met]))
    found: NDArray[np.float64] = hidden + np.bincount(at, covered, len(areas))
    return found
