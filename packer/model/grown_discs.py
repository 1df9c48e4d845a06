"""Unions of the discs of many tips, each grown out of the one within it.

The discs of all tips beyond an edge, reaching as far as the edge's near end, are those that reach
as far as its far end with every radius longer by the edge's length; and a union of discs whose radii
all grow by one amount is the union before grown by that amount. So a tree of n edges takes n
growths in place of the n * n / 4 discs that a caterpillar has beyond all its edges. A disc that meets no
other stays a place and a radius: where the scale is small, most do.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np
import shapely
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from packer.model.tree import walk

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from packer.model.packing import Packing
    from packer.model.sheet import Sheet

QUARTER_OF_MANY: Final = 8
"""Chords in a quarter circle: radii are up to 0.3 % too small or too large.

Growing keeps every side parallel to itself, so that the loss does not add up."""

AS_LARGE: Final = math.sqrt(
    (math.pi / 2 / QUARTER_OF_MANY) / math.sin(math.pi / 2 / QUARTER_OF_MANY)
)
"""Radius of the corners of so many chords over that of the circle of the same area."""

SHARPEST: Final = 1.05
"""Most that a corner may stand out when its sides are moved, as a share of the move.

Corners between chords stand out by 1.005; only what rounding makes of a corner would by more.
"""


class Discs(NamedTuple):
    """Discs together: those that meet no other, and the outlines of what the others make.

    Attributes
    ----------
    centres, radii
        (k, 2) and (k,) of those that meet no other, in sheet units.
    joined
        (m,) polygons of those that do.
    """

    centres: NDArray[np.float64]
    radii: NDArray[np.float64]
    joined: NDArray[np.object_]

    def area_on(self, sheet: Sheet) -> float:
        """Return the area that lies on a sheet."""
        left_low = -self.centres
        right_high = left_low + np.array([sheet.width, sheet.height])
        lone = disc_in_box(self.radii, left_low, right_high).sum()
        cut = shapely.clip_by_rect(self.joined, 0, 0, sheet.width, sheet.height)
        return float(lone + shapely.area(cut).sum())

    def outline(self) -> BaseGeometry:
        """Return the outline of them all; not cut off at the sheet's edge."""
        return shapely.union_all(np.concatenate([_polygons(self), self.joined]))


class Growth(NamedTuple):
    """What lies beyond an edge: as far as its far end reaches, and as far as its near end."""

    inner: Discs
    outer: Discs


def growths(packing: Packing, root: int) -> Iterator[tuple[int, Growth]]:
    """Yield the discs beyond each river, seen from a joint, together, by the river's edge.

    Parameters
    ----------
    packing
        Any packing.
    root
        The joint (node index).
    """
    tree = packing.tree
    beyond: dict[int, list[Discs]] = {}
    for node, parent, edge in reversed(walk(tree, root)):
        if edge < 0:
            continue
        by = packing.lengths[edge] * packing.scale
        if node < tree.n_tips:
            none = np.zeros(0, dtype=object)
            outer = Discs(packing.points[[node]], np.array([by]), none)
        else:
            inner = _beside(beyond.pop(node))
            outer = _grown(inner, by)
            yield edge, Growth(inner, outer)
        beyond.setdefault(parent, []).append(outer)


def _beside(discs: Sequence[Discs]) -> Discs:
    """Return discs of different edges: they touch at most."""
    centres, radii, joined = zip(*discs, strict=True)
    return Discs(np.concatenate(centres), np.concatenate(radii), np.concatenate(joined))


def _polygons(discs: Discs) -> NDArray[np.object_]:
    """Return discs that meet no other as polygons of their areas."""
    polygons: NDArray[np.object_] = shapely.buffer(
        shapely.points(discs.centres), AS_LARGE * discs.radii, quad_segs=QUARTER_OF_MANY
    )
    return polygons


def _grown(discs: Discs, by: float) -> Discs:
    """Return discs of radii longer by one amount, those together that meet then."""
    joined = shapely.buffer(discs.joined, by, join_style="mitre", mitre_limit=SHARPEST)
    discs = Discs(discs.centres, discs.radii + by, joined)
    n = len(discs.radii)
    pairs = _meeting(discs)
    if not pairs.size:
        return discs
    both = np.ones(pairs.shape[1], dtype=bool)
    size = (n + len(joined),) * 2
    _, group = connected_components(coo_array((both, tuple(pairs)), size), directed=False)
    alone = np.bincount(group)[group] == 1
    if alone.all():
        return discs
    lone = Discs(discs.centres[alone[:n]], discs.radii[alone[:n]], joined[alone[n:]])
    met = Discs(discs.centres[~alone[:n]], discs.radii[~alone[:n]], joined[~alone[n:]])
    shapes = np.concatenate([_polygons(met), met.joined])
    groups = group[~alone]
    unions = [shapely.union_all(shapes[groups == one]) for one in np.unique(groups)]
    return lone._replace(joined=np.concatenate([lone.joined, shapely.get_parts(unions)]))


def _meeting(discs: Discs) -> NDArray[np.intp]:
    """Return (2, pairs) of discs and outlines that meet: numbers of discs, and after them of outlines."""
    n = len(discs.radii)
    low, high = discs.centres - discs.radii[:, None], discs.centres + discs.radii[:, None]
    boxes = np.concatenate([shapely.box(*low.T, *high.T), shapely.envelope(discs.joined)])
    a, b = shapely.STRtree(boxes).query(boxes)
    a, b = a[a < b], b[a < b]
    two, none = b < n, a >= n
    one = ~(two | none)
    meet = np.zeros(len(a), dtype=bool)
    apart = np.hypot(*(discs.centres[a[two]] - discs.centres[b[two]]).T)
    meet[two] = apart < discs.radii[a[two]] + discs.radii[b[two]]
    centres = shapely.points(discs.centres[a[one]])
    meet[one] = shapely.dwithin(centres, discs.joined[b[one] - n], discs.radii[a[one]])
    meet[none] = shapely.intersects(discs.joined[a[none] - n], discs.joined[b[none] - n])
    return np.stack([a[meet], b[meet]])


def disc_in_box(
    radii: NDArray[np.float64], low: NDArray[np.float64], high: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return (k,) the area of each disc within a box.

    Parameters
    ----------
    radii
        (k,) of the discs.
    low, high
        (k, 2) the box's corners of least and greatest coordinates, seen from each disc's centre.
    """
    areas = math.pi * radii**2
    cut = np.flatnonzero((np.minimum(-low, high) < radii[:, None]).any(axis=1))
    r, (left, bottom), (right, top) = radii[cut], low[cut].T, high[cut].T
    areas[cut] = (
        _up_to(r, right, top) - _up_to(r, left, top) - _up_to(r, right, bottom)
    ) + _up_to(r, left, bottom)
    return areas


def _up_to(
    r: NDArray[np.float64], x: NDArray[np.float64], y: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the area of discs about the origin left of x and below y.

    The integral over u from -r to x of the height of the disc below y: all of it where |u| is beyond
    the crossing c of the circle with the line at y, if y > 0, else none; y above the lower half between.
    """
    x, y = np.clip(x, -r, r), np.clip(y, -r, r)
    c = np.sqrt(r * r - y * y)
    inside = np.clip(x, -c, c)

    def half(u: NDArray[np.float64]) -> NDArray[np.float64]:
        """Integrate the height of the upper half from 0."""
        arc = r * r * np.arcsin(np.clip(u / r, -1.0, 1.0))
        return (u * np.sqrt(np.maximum(r * r - u * u, 0.0)) + arc) / 2

    between = y * (inside + c) + half(inside) - half(-c)
    whole = half(x) - half(-r) - (half(inside) - half(-c))
    return between + np.where(y > 0, 2 * whole, 0.0)
