"""The finest spot of a pattern: what a folder must be able to crease."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.creases.pattern import CreasePattern
    from packer.sheet import Point

NEARLY_PARALLEL: Final = math.sin(math.radians(10))
"""Sine of the angle between two creases below which the gap between them is a feature."""


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
    a, b = pattern.points[pattern.edges[:, 0]], pattern.points[pattern.edges[:, 1]]
    lengths = np.hypot(*(b - a).T)
    short = int(lengths.argmin())
    size, at = float(lengths[short]), (a[short] + b[short]) / 2
    edges = [short]
    gap, pair = _narrowest(pattern.edges, a, b, lengths, size)
    if gap < size:
        size, edges = gap, list(pair)
        at = (a[edges] + b[edges]).sum(axis=0) / 4
    over = sorted({pattern.places[v][0] for e in edges for v in pattern.edges[e].tolist()})
    names = dict.fromkeys(
        pattern.part_of.get(pattern.tree.names[k], pattern.tree.names[k]) for k in over
    )
    return Feature(size, (float(at[0]), float(at[1])), tuple(names))


def _narrowest(
    edges: NDArray[np.intp],
    a: NDArray[np.float64],
    b: NDArray[np.float64],
    lengths: NDArray[np.float64],
    below: float,
) -> tuple[float, tuple[int, int]]:
    """Find the narrowest gap below a bound, among pairs whose bounding boxes come that near."""
    ways = (b - a) / lengths[:, None]
    angle = np.arctan2(ways[:, 1], ways[:, 0]) % np.pi
    low, high = np.minimum(a, b) - below, np.maximum(a, b)
    best, found = below, (0, 0)
    turn = math.asin(NEARLY_PARALLEL)
    for k in range(len(edges)):
        off = np.abs(angle[k + 1 :] - angle[k])
        near = np.minimum(off, np.pi - off) < turn
        near &= (low[k + 1 :] <= high[k]).all(axis=1) & (low[k] <= high[k + 1 :]).all(axis=1)
        for other in (k + 1 + np.flatnonzero(near)).tolist():
            if not set(edges[k].tolist()) & set(edges[other].tolist()):
                gap = _gap(a[k], ways[k], lengths[k], a[other], b[other])
                if gap < best:
                    best, found = gap, (k, other)
    return best, found


def _gap(
    start: NDArray[np.float64],
    way: NDArray[np.float64],
    length: float,
    c: NDArray[np.float64],
    d: NDArray[np.float64],
) -> float:
    """Return the least distance of c-d from a segment where they run beside each other."""
    (cx, cy), (dx, dy), (wx, wy) = (c - start).tolist(), (d - start).tolist(), way.tolist()
    along = cx * wx + cy * wy, dx * wx + dy * wy
    across = cy * wx - cx * wy, dy * wx - dx * wy
    if along[0] > along[1]:
        along, across = along[::-1], across[::-1]
    low, high = max(along[0], 0.0), min(along[1], length)
    if not low < high:
        return math.inf
    slope = (across[1] - across[0]) / (along[1] - along[0])
    return float(min(abs(across[0] + slope * (s - along[0])) for s in (low, high)))
