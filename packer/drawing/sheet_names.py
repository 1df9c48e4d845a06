"""Names of flaps and rivers on a sheet: each in its own paper where it fits, and none touch."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np
import shapely

from packer.drawing.marks.label_placement import Naming, place_labels
from packer.drawing.marks.labels import CLOSE, label_box, text_width
from packer.drawing.marks.names import called
from packer.drawing.marks.region_in_boxes import areas_in_boxes
from packer.drawing.marks.strokes import Label

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from packer.drawing.marks.labels import Segment
    from packer.drawing.marks.strokes import Mark, Point
    from packer.model.tree import Tree

TIP_MM: Final = 0.8
"""Radius of the dot that marks a tip, in mm."""

SAMPLES: Final = 24
"""Points along the longer side of a river at which its name is tried."""

RIVER_PLACES: Final = 14
"""Places of a river's name that are kept, the roomiest."""


def sheet_names(
    tree: Tree,
    symmetry: str,
    tips: NDArray[np.float64],
    regions: Mapping[str, BaseGeometry],
    size: tuple[float, float],
    strokes: Sequence[Segment],
    numbers: Mapping[str, int],
) -> list[Mark]:
    """Return names, or numbers, of all parts with paper on a sheet, with leader lines.

    There are none where those of the flaps alone would cover more than the sheet.

    Parameters
    ----------
    tree, symmetry
        Of what is packed; twins choose together, and of twin rivers one is named.
    tips
        (tips, 2) in mm.
    regions
        The paper of each part, in mm, by name.
    size
        Width and height of the sheet in mm.
    strokes
        Lines to keep clear of.
    numbers
        Of parts as written that are numbered.
    """
    text = text_size(tree, size, numbers)
    words = [called(tree, k, numbers) for k in range(tree.n_tips)]
    if sum(2 * CLOSE * text * text_width(word, text) for word in words) > size[0] * size[1]:
        return []
    kept = [*strokes, *(((x - TIP_MM, y), (x + TIP_MM, y)) for x, y in tips.tolist())]
    namings = []
    for tip in range(tree.n_tips):
        twin = int(tree.twin[tip])
        paired = symmetry != "none" and twin != tip
        if paired and twin < tip:
            continue
        own = [tip, twin] if paired else [tip]
        places = [
            _flap_places(
                tree.flaps[k], tips[k], regions[tree.flaps[k]], size, text,
                called(tree, k, numbers) if paired or tree.twin[k] == k or numbers
                else tree.flaps[k],
            )
            for k in own
        ]  # fmt: skip
        points = tuple((float(tips[k, 0]), float(tips[k, 1])) for k in own)
        namings.append(Naming(list(zip(*places, strict=False)), points))
    namings += [
        naming
        for k in range(tree.n_tips, len(tree.names))
        if int(tree.twin[k]) >= k
        for naming in _river(
            regions[tree.names[k]],
            tree.names[k],
            called(tree, k, numbers),
            text if numbers else max(2.0, 0.85 * text),
        )
    ]
    return place_labels(namings, kept, (0.0, 0.0, *size))


def text_size(tree: Tree, size: tuple[float, float], numbers: Mapping[str, int]) -> float:
    """Return the height of the letters on a sheet in mm: never below what can be read."""
    side = float(np.sqrt(size[0] * size[1]))
    if numbers:
        return min(3.6, max(2.6, 0.013 * side))
    return min(4.0, max(2.0, (0.017 if tree.n_tips <= 24 else 0.013) * side))


def _flap_places(
    part: str, tip: NDArray[np.float64], region: BaseGeometry, size: tuple[float, float],
    text: float, word: str,
) -> list[Label]:  # fmt: skip
    """Return places for a flap's name: round its tip, or about the middle of its paper."""
    x, y = tip.tolist()
    left, low, right, high = region.bounds if not region.is_empty else (x, y, x, y)
    half, off = text_width(word, text) / 2, 0.75 * text + TIP_MM
    aside = half + TIP_MM + 0.4
    middle_x, middle_y = (left + right) / 2, (low + high) / 2
    positions = [(middle_x, y - off), (middle_x, y + off)]
    if abs(middle_y - y) > off:
        positions = [(middle_x, low + (high - low) * share) for share in (0.5, 0.3, 0.7)]
    positions += [(x + aside, y), (x - aside, y), (x, y - off), (x, y + off)]
    # Between the active paths that run through a tip.
    positions += [
        (x + across * aside, y + up * rows * off)
        for rows in (1.0, 1.8)
        for across in (-1.0, 1.0)
        for up in (-1.0, 1.0)
    ]
    return [
        Label("name", _inside(position, half, text, size), word, text, part=part)
        for position in positions
    ]


def _inside(position: Point, half: float, text: float, size: tuple[float, float]) -> Point:
    """Return a point moved so that a label of half a width about it lies on the sheet."""
    x, y = position
    return (
        min(max(x, half + 0.5), max(size[0] - half - 0.5, half)),
        min(max(y, 0.8 * text), max(size[1] - 0.8 * text, 0.8 * text)),
    )


def _river(region: BaseGeometry, part: str, word: str, text: float) -> list[Naming]:
    """Return how a river is named: where its paper is roomiest; empty where it has none."""
    if region.is_empty or region.area < 1e-9:
        return []
    left, low, right, high = region.bounds
    step = max(right - left, high - low) / SAMPLES
    across, up = np.meshgrid(
        np.arange(left + step / 2, right, step), np.arange(low + step / 2, high, step)
    )
    positions = np.column_stack([across.ravel(), up.ravel()])
    points = shapely.points(positions)
    shapely.prepare(region)
    within = shapely.contains(region, points)
    if not within.any():
        points = np.array([region.representative_point()])
        positions, within = shapely.get_coordinates(points), np.array([True])
    positions, points = positions[within], points[within]
    labels = [Label("river name", (x, y), word, text, part=part) for x, y in positions.tolist()]
    corners = label_box(replace(labels[0], at=(0.0, 0.0)))
    low, high = positions + corners.min(axis=0), positions + corners.max(axis=0)
    outside = (high - low).prod(axis=1) - areas_in_boxes(region, low, high)
    room = shapely.distance(points, region.boundary)
    best = np.lexsort((np.round(-room, 3), np.round(outside, 3)))[:: max(1, len(labels) // 80)]
    kept = [labels[k] for k in best[:RIVER_PLACES]]
    return [Naming([(label,) for label in kept], (kept[0].at,))]
