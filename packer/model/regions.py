"""Discs and rivers of a packing as regions of the sheet.

The tree is rooted at a joint; a tip's *depth* below an edge is its distance to that edge. The
paper of everything below a point of the tree, at distance h_i above tip i, is the union of the
discs (p_i, scale * h_i); a river is the difference of two such unions, a band of its own width.
Two regions of different edges never overlap: a common point would make two tips nearer than
scale times their tree distance.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely

from packer.model.tree import central_joint, node_distances, walk

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from packer.model.packing import Packing

QUARTER_SEGMENTS = 64
"""Chords in a quarter circle: areas are then 1 in 10 000 too small, invisible in print."""


def sheet_region(packing: Packing) -> BaseGeometry:
    """Return the sheet as a polygon."""
    return shapely.box(0, 0, packing.sheet.width, packing.sheet.height)


def centre_joint(packing: Packing) -> int:
    """Return the node that is nearest to its farthest tip: the default root of the rivers."""
    return central_joint(packing.tree, np.array(packing.lengths))


def regions(packing: Packing, root: int | None = None) -> dict[str, BaseGeometry]:
    """Return the disc of each flap and the band of each river, clipped to the sheet, by name.

    Parameters
    ----------
    packing
        Any packing; the regions are disjoint wherever its inequalities hold.
    root
        The joint (node index) from which rivers are seen; `centre_joint` by default.

    Returns
    -------
    dict
        Shapely geometries in sheet units; a river may be in several pieces, or empty where the
        sheet's edge cuts it away.
    """
    tree = packing.tree
    root = centre_joint(packing) if root is None else root
    depth = node_distances(tree, np.array(packing.lengths)) * packing.scale
    sheet = sheet_region(packing)
    below: dict[int, list[int]] = {}
    areas: dict[int, BaseGeometry] = {}
    for node, parent, edge in reversed(walk(tree, root)):
        tips = [node] if node < tree.n_tips else below.pop(node, [])
        if edge < 0:
            continue
        below.setdefault(parent, []).extend(tips)
        outer = _discs(packing, tips, depth[parent, tips])
        inner = (
            shapely.Polygon()
            if node < tree.n_tips
            else _discs(packing, tips, depth[node, tips])
        )
        areas[edge] = shapely.intersection(shapely.difference(outer, inner), sheet)
    return {name: areas[k] for k, name in enumerate(tree.names)}


def _discs(packing: Packing, tips: list[int], radii: np.ndarray) -> BaseGeometry:
    discs = shapely.buffer(
        shapely.points(packing.points[tips]), radii, quad_segs=QUARTER_SEGMENTS
    )
    return shapely.union_all(discs)


def paper_taken(packing: Packing) -> dict[str, float]:
    """Return the share of the sheet that each flap and river takes, by name."""
    return {name: region.area / packing.sheet.area for name, region in regions(packing).items()}


def efficiency(packing: Packing) -> float:
    """Return the share of the sheet inside discs and rivers, in [0, 1]."""
    return sum(paper_taken(packing).values())
