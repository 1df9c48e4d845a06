"""How much of a region lies in each of many upright boxes, in closed form.

Of a polygon the part in a box is, by Green's theorem, the sum over its sides of the integral over x, from
the box's left to its right, of the side's height within the box; sides that run back count negatively.
The height is cut off at the box's lower and upper side, so that its integral is in up to three pieces.
An overlay of the two shapes takes a tenth of a millisecond for each box; a river's name is tried in a hundred.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np
import shapely

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    Floats = NDArray[np.float64]

LEVEL: Final = 1e-6
"""Rise, as a share of the box's height, below which a side counts as level: dividing by it would lose digits."""


def areas_in_boxes(region: BaseGeometry, low: Floats, high: Floats) -> Floats:
    """Return (k,) the area of a region within each box.

    Parameters
    ----------
    region
        Polygons, perhaps with holes.
    low, high
        (k, 2) lower left and upper right corners of the boxes.
    """
    rings = shapely.get_rings(shapely.get_parts(shapely.normalize(region)))
    ends, ring = shapely.get_coordinates(rings, return_index=True)
    first = np.flatnonzero(ring[1:] == ring[:-1])
    (ax, ay), (bx, by) = ends[first].T, ends[first + 1].T
    left, bottom = low[:, :1], low[:, 1:]
    right, height = high[:, :1], high[:, 1:] - bottom
    start, stop = np.clip(ax, left, right), np.clip(bx, left, right)
    across = bx - ax
    slope = (by - ay) / np.where(across == 0, 1.0, across)
    from_, to = ay - bottom + slope * (start - ax), ay - bottom + slope * (stop - ax)
    rise = to - from_
    level = np.abs(rise) < LEVEL * height
    mean = np.where(
        level,
        np.clip((from_ + to) / 2, 0.0, height),
        (_upto(to, height) - _upto(from_, height)) / np.where(level, 1.0, rise),
    )
    # the rings of a normalised polygon go clockwise, those of its holes the other way
    total: Floats = (mean * (stop - start)).sum(axis=1)
    return np.maximum(total, 0.0)


def _upto(y: Floats, height: Floats) -> Floats:
    """Return the integral from 0 to y of a height cut off at 0 and at another."""
    cut = np.clip(y, 0.0, height)
    return cut * (y - cut / 2)
