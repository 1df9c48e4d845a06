"""Unions of the discs of many tips, each grown out of the one within it.

The discs of all tips beyond an edge, reaching as far as the edge's near end, are those that reach
as far as its far end with every radius longer by the edge's length; and a union of discs whose radii
all grow by one amount is the union before grown by that amount. So a tree of n edges takes n
growths in place of the n * n / 4 discs that a caterpillar has beyond all its edges.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Final, NamedTuple

import shapely

from packer.model.tree import walk

if TYPE_CHECKING:
    from collections.abc import Sequence

    from shapely.geometry.base import BaseGeometry

    from packer.model.packing import Packing

QUARTER_OF_MANY: Final = 8
"""Chords in a quarter circle: radii are up to 0.5 % too small.

Growing keeps every side parallel to itself, so that the loss does not add up."""

SHARPEST: Final = 1.05
"""Most that a corner may stand out when its sides are moved, as a share of the move.

Corners between chords stand out by 1.005; only what rounding makes of a corner would by more.
"""


class Growth(NamedTuple):
    """What lies beyond an edge: as far as its far end reaches, and as far as its near end."""

    inner: BaseGeometry
    outer: BaseGeometry


@lru_cache(maxsize=8)
def growths(packing: Packing, root: int) -> dict[tuple[int, int], Growth]:
    """Return the discs beyond each edge, seen from a joint, together; not cut off at the sheet's edge.

    Parameters
    ----------
    packing
        Any packing.
    root
        The joint (node index).

    Returns
    -------
    dict
        By (near end, far end), as nodes of the tree, in sheet units.
    """
    made: dict[tuple[int, int], Growth] = {}
    for node, parent, edge in reversed(walk(packing.tree, root)):
        if edge >= 0:
            ends = packing.tree.neighbours[node]
            beyond = [made[node, child].outer for child, _ in ends if child != parent]
            made[parent, node] = _growth(packing, node, edge, beyond)
    return made


def _growth(packing: Packing, node: int, edge: int, beyond: Sequence[BaseGeometry]) -> Growth:
    """Return the discs beyond an edge from those beyond its far end."""
    by = packing.lengths[edge] * packing.scale
    if node < packing.tree.n_tips:
        tip = shapely.Point(packing.tips[node])
        return Growth(tip, shapely.buffer(tip, by, quad_segs=QUARTER_OF_MANY))
    inner = shapely.union_all(beyond)
    return Growth(inner, shapely.buffer(inner, by, join_style="mitre", mitre_limit=SHARPEST))
