"""Flaps and rivers of a grid packing as regions of the sheet: squares, and bands around them."""

from __future__ import annotations

from functools import lru_cache
from types import MappingProxyType
from typing import TYPE_CHECKING

import shapely

from packer.grid.contours import tips_below, whole_distances
from packer.model.tree import walk

if TYPE_CHECKING:
    from collections.abc import Mapping

    from shapely.geometry.base import BaseGeometry

    from packer.grid.grid_packing import GridPacking


@lru_cache(maxsize=2)
def bands(packing: GridPacking) -> Mapping[str, BaseGeometry]:
    """Return the square of each flap and the band of each river by name, in cells.

    Seen from the packing's root the paper at or beyond a point of the tree is the union of the
    squares of radius d(tip, point); a river lies between two of these, and no two regions
    overlap.
    """
    tree = packing.tree
    root = tree.n_tips + tree.joints.index(packing.root)
    depth = whole_distances(packing)
    below = tips_below(tree, root)
    grid = shapely.box(0, 0, *packing.cells)
    regions: dict[int, BaseGeometry] = {}
    for node, parent, edge in walk(tree, root):
        if parent >= 0:
            outer = _squares(packing, below[node], depth[parent, below[node]].tolist())
            inner = _squares(packing, below[node], depth[node, below[node]].tolist())
            regions[edge] = shapely.intersection(shapely.difference(outer, inner), grid)
    return MappingProxyType({name: regions[k] for k, name in enumerate(tree.names)})


@lru_cache(maxsize=2)
def gap_paper(packing: GridPacking) -> BaseGeometry:
    """Return the part of the sheet that no flap or river needs, in cells."""
    return shapely.difference(
        shapely.box(0, 0, *packing.cells), shapely.union_all(list(bands(packing).values()))
    )


def _squares(packing: GridPacking, tips: list[int], radii: list[int]) -> BaseGeometry:
    extent = packing.board.extent.tolist()
    squares = [
        shapely.box(x - r, y - r, x + extent[tip][0] + r, y + extent[tip][1] + r)
        for tip, r in zip(tips, radii, strict=True)
        if r > 0
        for x, y in [packing.places[tip]]
    ]
    return shapely.union_all(squares)
