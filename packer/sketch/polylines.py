"""Measures of one polyline: lengths along it, pieces of it, where it passes a point."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Points = NDArray[np.float64]


def arc_lengths(points: Points) -> Points:
    """Return (n,) the length along a polyline of (n, 2) points up to each of them."""
    return np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))))


def cut(points: Points, arcs: Points, start: float, end: float) -> Points:
    """Return the piece of a polyline between two lengths along it, start < end."""
    inner = points[(arcs > start) & (arcs < end)]
    ends = np.column_stack([np.interp([start, end], arcs, points[:, k]) for k in (0, 1)])
    return np.vstack((ends[:1], inner, ends[1:]))


def passes(points: Points, at: Points, reach: float) -> list[float]:
    """Return where a polyline passes within `reach` of a point, as lengths along it.

    Neighbouring segments that are both within reach are one pass, told by its nearest place.
    """
    a, steps = points[:-1], np.diff(points, axis=0)
    squares = np.maximum(np.einsum("ij,ij->i", steps, steps), 1e-300)
    share = np.clip(np.einsum("ij,ij->i", at - a, steps) / squares, 0, 1)
    away = np.hypot(*(a + share[:, None] * steps - at).T)
    arcs = arc_lengths(points)
    along = arcs[:-1] + share * np.diff(arcs)
    near = np.flatnonzero(away <= reach)
    runs = np.split(near, np.flatnonzero(np.diff(near) > 1) + 1) if len(near) else []
    return [float(along[run[np.argmin(away[run])]]) for run in runs]


def encloses(points: Points) -> float:
    """Return the area inside a closed polyline (the shoelace formula)."""
    x, y = (points - points[0]).T
    return float(abs(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))) / 2
