"""Discs and rivers of a packing as regions of the sheet.

The tree is rooted at a joint; a tip's *depth* below an edge is its distance to that edge. The
paper of everything below a point of the tree, at distance h_i above tip i, is the union of the
discs (p_i, scale * h_i); a river is the difference of two such unions, a band of its own width.
Two regions of different edges never overlap: a common point would make two tips nearer than
scale times their tree distance.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np
import shapely

from packer.model.grown_discs import disc_in_box, growths
from packer.model.tree import central_joint, depths, node_distances, walk

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from packer.model.packing import Packing
    from packer.model.tree import Tree

QUARTER_SEGMENTS = 64
"""Chords in a quarter circle: areas are then 1 in 10 000 too small, invisible in print."""

MANY_TIPS: Final = 80
"""Tips beyond which rivers are grown out of each other, as many as the largest sample has: of a caterpillar of
100 the discs beyond all edges took 6 s for each drawing."""


def sheet_region(packing: Packing) -> BaseGeometry:
    """Return the sheet as a polygon."""
    return shapely.box(0, 0, packing.sheet.width, packing.sheet.height)


def centre_joint(packing: Packing) -> int:
    """Return the node that is nearest to its farthest tip: the default root of the rivers."""
    return _central(packing.tree, tuple(packing.lengths))


@lru_cache(maxsize=16)
def _central(tree: Tree, lengths: tuple[float, ...]) -> int:
    """Return the central joint: many ask for it, and of 1000 tips it takes all distances."""
    return central_joint(tree, np.array(lengths))


def regions(
    packing: Packing, root: int | None = None, thinnest: float = 0.0
) -> dict[str, BaseGeometry]:
    """Return the disc of each flap and the band of each river, clipped to the sheet, by name.

    Parameters
    ----------
    packing
        Any packing; the regions are disjoint wherever its inequalities hold.
    root
        The joint (node index) from which rivers are seen; `centre_joint` by default.
    thinnest
        Width in sheet units below which rivers are left out.

    Returns
    -------
    dict
        Shapely geometries in sheet units; a river may be in several pieces, or empty where the
        sheet's edge cuts it away.
    """
    return dict(_regions(packing, centre_joint(packing) if root is None else root, thinnest))


@lru_cache(maxsize=8)
def _regions(packing: Packing, root: int, thinnest: float) -> dict[str, BaseGeometry]:
    tree = packing.tree
    made = _grown if tree.n_tips > MANY_TIPS else _joined
    wide = np.array(packing.lengths) * packing.scale >= thinnest
    wide[: tree.n_tips] = True
    areas = made(packing, root, wide)
    return {name: areas[k] for k, name in enumerate(tree.names) if wide[k]}


def _joined(packing: Packing, root: int, wide: NDArray[np.bool_]) -> dict[int, BaseGeometry]:
    """Return the region of each wide edge from the discs of all tips beyond it."""
    tree = packing.tree
    depth = node_distances(tree, np.array(packing.lengths)) * packing.scale
    sheet = sheet_region(packing)
    below: dict[int, list[int]] = {}
    areas: dict[int, BaseGeometry] = {}
    for node, parent, edge in reversed(walk(tree, root)):
        tips = [node] if node < tree.n_tips else below.pop(node, [])
        if edge < 0:
            continue
        below.setdefault(parent, []).extend(tips)
        if not wide[edge]:
            continue
        outer = discs_together(packing, tips, depth[parent, tips])
        inner = (
            shapely.Polygon()
            if node < tree.n_tips
            else discs_together(packing, tips, depth[node, tips])
        )
        areas[edge] = shapely.intersection(shapely.difference(outer, inner), sheet)
    return areas


def discs_together(
    packing: Packing, tips: list[int], radii: NDArray[np.float64]
) -> BaseGeometry:
    """Return the union of the discs round some tips, each of its radius in sheet units."""
    discs = shapely.buffer(
        shapely.points(packing.points[tips]), radii, quad_segs=QUARTER_SEGMENTS
    )
    return shapely.union_all(discs)


def _grown(packing: Packing, root: int, wide: NDArray[np.bool_]) -> dict[int, BaseGeometry]:
    """Return nearly the same for many tips, by growing what lies below an edge by its length."""
    width, height = packing.sheet.width, packing.sheet.height
    areas = {edge: _disc(packing, edge) for edge in range(packing.tree.n_tips)}
    if wide[packing.tree.n_tips :].any():
        for edge, (inner, outer) in growths(packing, root):
            if wide[edge]:
                band = shapely.difference(outer.outline(), inner.outline())
                areas[edge] = shapely.clip_by_rect(band, 0, 0, width, height)
    return areas


def _disc(packing: Packing, tip: int) -> BaseGeometry:
    """Return the disc of a flap on the sheet."""
    radius = packing.lengths[tip] * packing.scale
    disc = discs_together(packing, [tip], np.array([radius]))
    return shapely.clip_by_rect(disc, 0, 0, packing.sheet.width, packing.sheet.height)


def paper_taken(packing: Packing) -> dict[str, float]:
    """Return the share of the sheet that each flap and river takes, by name."""
    if packing.tree.n_tips > MANY_TIPS:
        return dict(_shares_of_many(packing))
    return {name: region.area / packing.sheet.area for name, region in regions(packing).items()}


@lru_cache(maxsize=8)
def _shares_of_many(packing: Packing) -> dict[str, float]:
    """Return the same without regions, which hundreds of thin rivers have by the million corners."""
    tree, sheet, root = packing.tree, packing.sheet, centre_joint(packing)
    radii = packing.scale * np.array(packing.lengths)[: tree.n_tips]
    low = -packing.points
    discs = disc_in_box(radii, low, low + np.array([sheet.width, sheet.height]))
    outer = dict(enumerate(discs.tolist()))
    outer |= {edge: grown.outer.area_on(sheet) for edge, grown in growths(packing, root)}
    shares = dict.fromkeys(tree.names, 0.0)
    for node, parent, edge in walk(tree, root):
        if edge >= 0:
            # what lies within its near end are the discs beyond other edges: they touch at most
            within = sum(
                outer[near] for other, near in tree.neighbours[node] if other != parent
            )
            shares[tree.names[edge]] = max(0.0, outer[edge] - within) / sheet.area
    return shares


@lru_cache(maxsize=8)
def efficiency(packing: Packing) -> float:
    """Return the share of the sheet inside discs and rivers, in [0, 1].

    Seen from one joint, all discs and rivers together are the discs of the tips that reach as far as it.
    """
    tree = packing.tree
    depth = depths(tree, np.array(packing.lengths), centre_joint(packing))
    discs = shapely.buffer(
        shapely.points(packing.points),
        packing.scale * depth[: tree.n_tips],
        quad_segs=QUARTER_SEGMENTS,
    )
    cut = shapely.clip_by_rect(discs, 0, 0, packing.sheet.width, packing.sheet.height)
    return float(shapely.area(shapely.union_all(cut))) / packing.sheet.area
