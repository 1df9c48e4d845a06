"""The smallest feature of a pattern: the finest thing that a folder must be able to crease."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
import shapely

from packer.units import HOLDS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.creases.pattern import CreasePattern
    from packer.model.sheet import Point

NEARLY_PARALLEL: Final = math.radians(10)
"""Angle between two creases below which the gap between them is a feature."""


@dataclass(frozen=True)
class Feature:
    """The smallest feature of a pattern.

    Attributes
    ----------
    size
        In sheet units.
    at
        Where on the sheet.
    parts
        Names of the parts of the tree that the paper there belongs to.
    """

    size: float
    at: Point
    parts: tuple[str, ...]


def smallest_feature(pattern: CreasePattern) -> Feature:
    """Return the smaller of the shortest edge and the narrowest gap between creases.

    A gap is measured between two edges without a common vertex that are less than 10 degrees
    apart in direction and run beside each other for a while: the least distance between them
    there. Wider angles need no measure of their own, since such edges end at short edges.
    """
    points = pattern.points
    shortest = float(_lengths(points[pattern.edges]).min())
    features = fine_features(pattern, shortest * (1 + HOLDS))
    sizes = features.sizes(points)
    finest = int(sizes.argmin())
    vertices = features.vertices(finest)
    at = points[vertices].mean(axis=0)
    over = sorted({pattern.tree_points[v][0] for v in vertices})
    names = dict.fromkeys(
        pattern.part_of.get(pattern.tree.names[k], pattern.tree.names[k]) for k in over
    )
    return Feature(float(sizes[finest]), (float(at[0]), float(at[1])), tuple(names))


@dataclass(frozen=True, eq=False)
class FineFeatures:
    """The features of a pattern that are smaller than some length.

    Attributes
    ----------
    edges
        (m, 2) the vertices of edges.
    gaps
        (k, 4) the vertices of pairs of edges that run beside each other.
    """

    edges: NDArray[np.intp]
    gaps: NDArray[np.intp]

    def sizes(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return (m + k,) sizes where the vertices lie at (v, 2) points.

        Infinite where two edges no longer run beside each other.
        """
        return np.concatenate([_lengths(points[self.edges]), _gaps(points[self.gaps])])

    def vertices(self, k: int) -> list[int]:
        """Return the vertices of the k-th feature."""
        m = len(self.edges)
        numbers: list[int] = (self.edges[k] if k < m else self.gaps[k - m]).tolist()
        return numbers


def fine_features(pattern: CreasePattern, below: float) -> FineFeatures:
    """Return the edges and gaps of a pattern that are smaller than a length."""
    edges = pattern.edges
    short = edges[_lengths(pattern.points[edges]) < below]
    pairs = np.hstack([edges[side] for side in _nearly_parallel(pattern, below)])
    return FineFeatures(short, pairs[_gaps(pattern.points[pairs]) < below])


def _lengths(ends: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return (m,) lengths of (m, 2, 2) edges."""
    ways = ends[:, 1] - ends[:, 0]
    lengths: NDArray[np.float64] = np.hypot(ways[:, 0], ways[:, 1])
    return lengths


def _gaps(ends: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return (k,) least distances of the second of (k, 4, 2) edges from the first.

    Measured across the first, where they run beside each other; else infinite.
    """
    start = ends[:, 0]
    way = ends[:, 1] - start
    length = np.hypot(way[:, 0], way[:, 1])
    way = way / np.where(length > 0, length, 1.0)[:, None]  # no length, no gap beside it
    other = ends[:, 2:] - start[:, None]
    along = (other * way[:, None]).sum(axis=2)
    across = other[..., 1] * way[:, None, 0] - other[..., 0] * way[:, None, 1]
    span = along[:, 1] - along[:, 0]
    low = np.maximum(along.min(axis=1), 0.0)
    high = np.minimum(along.max(axis=1), length)
    beside = low < high
    slope = (across[:, 1] - across[:, 0]) / np.where(beside, span, 1.0)
    at = [np.abs(across[:, 0] + slope * (s - along[:, 0])) for s in (low, high)]
    return np.where(beside, np.minimum(*at), np.inf)


def _nearly_parallel(
    pattern: CreasePattern, within: float
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Pairs of edges of nearly one direction whose boxes come near and which share no vertex."""
    edges = pattern.edges
    a, b = pattern.points[edges[:, 0]], pattern.points[edges[:, 1]]
    low, high = np.minimum(a, b), np.maximum(a, b)
    boxes = shapely.box(low[:, 0], low[:, 1], high[:, 0] + within, high[:, 1] + within)
    one, other = shapely.STRtree(boxes).query(boxes)
    angle = np.arctan2(*(b - a).T[::-1]) % np.pi
    off = np.abs(angle[one] - angle[other])
    near = (one < other) & (np.minimum(off, np.pi - off) < NEARLY_PARALLEL)
    one, other = one[near], other[near]
    apart = (edges[one][:, :, None] != edges[other][:, None]).all(axis=(1, 2))
    return one[apart], other[apart]
