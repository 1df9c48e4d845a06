"""Lengths of the hinge curves among many tips, measured at points spread over the sheet.

How far a point lies outside the discs beyond an edge is, over all tips beyond, the least distance
from the tip less the disc's radius. It follows from the same numbers of the edges beyond: the least of
them less the edge's own length. That distance grows by one for each unit of way across the curve, and
so the curve is as long as the strip where it is below half a width, over that width: the co-area
formula (H. Federer, "Curvature measures", Transactions of the American Mathematical Society 93, 1959).

The outlines themselves would take the discs of all tips beyond every edge, n * n / 4 in a caterpillar.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np
from scipy.spatial.distance import cdist

from packer.model.regions import centre_joint
from packer.model.tree import walk

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from numpy.typing import NDArray

    from packer.model.packing import Packing

POINTS: Final = 40_000
"""Points on the sheet, in a grid: 200 along the side of a square."""

AT_ONCE: Final = 4096
"""Points taken together: for 1000 tips 130 MB."""


def sampled_hinges(packing: Packing) -> dict[tuple[int, int], float]:
    """Return the length of the hinge curve of each river at each of its joints, in sheet units.

    Keys are (joint, edge), joints as nodes. A disc much smaller than the gap between two points may
    be missed; curves of a hundred gaps come out right to some hundredths.
    """
    if not packing.tree.rivers:
        return {}
    sheet = packing.sheet
    gap = math.sqrt(sheet.area / POINTS)
    across, up = max(1, round(sheet.width / gap)), max(1, round(sheet.height / gap))
    share = sheet.area / (across * up) / (2 * gap)
    x, y = np.meshgrid(
        (np.arange(across) + 0.5) * sheet.width / across,
        (np.arange(up) + 0.5) * sheet.height / up,
    )
    points = np.column_stack([x.ravel(), y.ravel()])
    lengths: dict[tuple[int, int], float] = {}
    for first in range(0, len(points), AT_ONCE):
        for key, outside in _outside(packing, points[first : first + AT_ONCE]):
            near = np.count_nonzero(np.abs(outside) < gap)
            lengths[key] = lengths.get(key, 0.0) + float(near * share)
    return lengths


def _outside(
    packing: Packing, points: NDArray[np.float64]
) -> Iterator[tuple[tuple[int, int], NDArray[np.float64]]]:
    """Yield how far points lie outside the discs beyond each river, by (joint, edge)."""
    tree, n = packing.tree, packing.tree.n_tips
    by = np.array(packing.lengths) * packing.scale
    order = walk(tree, centre_joint(packing))
    edge_to = {node: edge for node, _, edge in order}
    # beyond the edge to each node, seen from its parent; beyond the same edge, seen from the node
    away = np.empty((tree.n_nodes, len(points)))
    back = np.empty_like(away)
    away[:n] = cdist(packing.points, points)
    for node, parent, edge in reversed(order):
        if node >= n and edge >= 0:
            children = [child for child, _ in tree.neighbours[node] if child != parent]
            away[node] = away[children[0]]
            for child in children[1:]:
                np.minimum(away[node], away[child], out=away[node])
        if edge >= 0:
            away[node] -= by[edge]
            if node >= n:
                yield (parent, edge), away[node]
    for node, parent, _ in order:
        joints = [child for child, _ in tree.neighbours[node] if child >= n and child != parent]
        if node < n or not joints:
            continue
        least, second = _two_least(
            back[node] if other == parent else away[other] for other, _ in tree.neighbours[node]
        )
        for child in joints:
            others = np.where(away[child] == least, second, least)
            back[child] = others - by[edge_to[child]]
            yield (child, edge_to[child]), back[child]


def _two_least(
    rows: Iterable[NDArray[np.float64]],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the least and the second least of rows in each column: of two or three no sorting pays."""
    least = second = np.full(1, math.inf)
    for row in rows:
        second = np.minimum(second, np.maximum(least, row))
        least = np.minimum(least, row)
    return least, second
