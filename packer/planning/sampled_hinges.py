"""Lengths of the hinge curves among many tips, measured at points spread over the sheet.

How far a point lies outside the discs beyond an edge is, over all tips beyond, the least distance
from the tip less the disc's radius. It follows from the same numbers of the edges beyond: the least of
them less the edge's own length. That distance grows by one for each unit of way across the curve, and
so the curve is as long as the strip where it is below half a width, over that width: the co-area
formula (H. Federer, "Curvature measures", Transactions of the American Mathematical Society 93, 1959).

The outlines themselves would take the discs of all tips beyond every edge, n * n / 4 in a caterpillar.
"""

from __future__ import annotations

import functools
import itertools
import math
from typing import TYPE_CHECKING, Final

import numpy as np
from scipy.spatial.distance import cdist

from packer.model.regions import centre_joint
from packer.model.tree import walk

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from packer.model.packing import Packing

    Row = NDArray[np.float64]

POINTS: Final = 40_000
"""Points on the sheet, in a grid: 200 along the side of a square."""

AT_ONCE: Final = 4096
"""Points taken together: for 1000 tips 130 MB."""

NOTHING: Final = np.full(1, math.inf)
"""The least of no rows."""


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
    counts: dict[tuple[int, int], int] = {}
    # filled anew for each lot of points: memory that is touched first costs as much as the work in it
    rows = np.empty((2, packing.tree.n_nodes, min(AT_ONCE, len(points))))
    for first in range(0, len(points), AT_ONCE):
        here = points[first : first + AT_ONCE]
        for key, outside in _outside(packing, here, rows[:, :, : len(here)]):
            counts[key] = counts.get(key, 0) + int(np.count_nonzero(np.abs(outside) < gap))
    return {key: near * share for key, near in counts.items()}


def _outside(
    packing: Packing, points: NDArray[np.float64], rows: NDArray[np.float64]
) -> Iterator[tuple[tuple[int, int], NDArray[np.float64]]]:
    """Yield how far points lie outside the discs beyond each river, by (joint, edge).

    Rows are (2, nodes, points) to write in.
    """
    tree, n = packing.tree, packing.tree.n_tips
    by = np.array(packing.lengths) * packing.scale
    order = walk(tree, centre_joint(packing))
    # beyond the edge to each node, seen from its parent; beyond the same edge, seen from the node
    away, back = rows
    away[:n] = cdist(packing.points, points)
    for node, parent, edge in reversed(order):
        if edge < 0:
            continue
        if node >= n:
            _least([away[c] for c, _ in tree.neighbours[node] if c != parent], away[node])
        away[node] -= by[edge]
        if node >= n:
            yield (parent, edge), away[node]
    for node, parent, _ in order:
        joints = [
            (child, edge)
            for child, edge in tree.neighbours[node]
            if child >= n and child != parent
        ]
        if node < n or not joints:
            continue
        others = [away[other] for other, _ in tree.neighbours[node] if other < n]
        others += [back[node]] if parent >= 0 else []
        for k, row in enumerate(_least_of_others([away[child] for child, _ in joints], others)):
            child, edge = joints[k]
            np.subtract(row, by[edge], out=back[child])
            yield (child, edge), back[child]


def _least(rows: Sequence[Row], out: Row) -> None:
    """Write the least of rows in each column."""
    if len(rows) == 1:
        out[:] = rows[0]
        return
    np.minimum(rows[0], rows[1], out=out)
    for row in rows[2:]:
        np.minimum(out, row, out=out)


def _least_of_others(rows: Sequence[Row], besides: Sequence[Row]) -> Iterator[Row]:
    """Yield for each row the least in each column of all others, and of those besides.

    With the least of all rows after each, known beforehand, it takes two minima for a row.
    """
    least = functools.reduce(_lesser, besides, NOTHING)
    after = list(itertools.accumulate(rows[:0:-1], _lesser, initial=NOTHING))
    for row in rows:
        yield _lesser(least, after.pop())
        least = _lesser(least, row)


def _lesser(one: Row, other: Row) -> Row:
    """Return the lesser of two rows in each column, one of them perhaps `NOTHING`."""
    if one is NOTHING or other is NOTHING:
        return other if one is NOTHING else one
    lesser: Row = np.minimum(one, other)
    return lesser
