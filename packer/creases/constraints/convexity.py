"""How far the corners of polygons stand out from the line of their neighbours."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from packer.units import UNBENT

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.creases.plane_graph import Loop
    from packer.creases.tip_layout import TipLayout


def corners_of(polygons: tuple[Loop, ...]) -> NDArray[np.intp]:
    """Return (c, 3): the tip before each corner of each polygon, its own, and the tip after."""
    return np.array(
        [
            (loop[k - 1], loop[k], loop[(k + 1) % len(loop)])
            for loop in polygons
            for k in range(len(loop))
        ],
        dtype=np.intp,
    )


def bends(layout: TipLayout, corners: NDArray[np.intp]) -> NDArray[np.float64]:
    """Return (c,) how far each corner stands out from the line of its neighbours.

    In sheet units; negative where the polygon is not convex.
    """
    a, b, c = (layout.points[corners[:, k]] for k in range(3))
    across = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (
        c[:, 0] - a[:, 0]
    )
    heights: NDArray[np.float64] = across / np.hypot(*(c - a).T)
    return heights


def bend_jacobian(layout: TipLayout, corners: NDArray[np.intp]) -> NDArray[np.float64]:
    """Return (c, 2 tips + edges): the derivative of `bends`, exact where a corner is straight."""
    n = layout.tree.n_tips
    a, b, c = (layout.points[corners[:, k]] for k in range(3))
    base = c - a
    length = np.hypot(base[:, 0], base[:, 1])
    share = ((b - a) * base).sum(axis=1) / length**2
    normal = np.stack([base[:, 1], -base[:, 0]], axis=1) / length[:, None]
    rows = np.zeros((len(corners), 2 * n + len(layout.lengths)))
    k = np.arange(len(corners))
    for axis in range(2):
        for tip, weight in ((0, share - 1), (1, np.ones(len(k))), (2, -share)):
            rows[k, 2 * corners[:, tip] + axis] = weight * normal[:, axis]
    return rows


def straight_corners(layout: TipLayout, polygons: tuple[Loop, ...]) -> NDArray[np.intp]:
    """Return those rows of `corners_of` that are straight to within rounding."""
    corners = corners_of(polygons)
    straight: NDArray[np.intp] = corners[
        np.abs(bends(layout, corners)) <= UNBENT * layout.sheet.diagonal
    ]
    return straight
