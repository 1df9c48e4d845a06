"""What a crease pattern is made from: a tree with its lengths, its tips on the sheet."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from packer.model.tree import node_distances
from packer.units import NO_LENGTH

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from packer.model.figure import Symmetry
    from packer.model.packing import Packing
    from packer.model.problem import Range
    from packer.model.sheet import Point, Sheet
    from packer.model.tree import Tree


@dataclass(frozen=True, eq=False)
class TipLayout:
    """Tips on a sheet and the tree that they span, fillers included.

    Parameters
    ----------
    sheet
        The paper.
    tree
        The tree, its flaps in the order of `points`.
    lengths
        (edges,) in sheet units.
    points
        (tips, 2) in sheet units.
    symmetry
        Under "book" and "diagonal" the tips are mirror images by ``tree.twin``.
    low, high
        (tips, 2) least and greatest coordinates that the placements allow.
    fillers
        Names of the flaps that are no part of the figure.
    part_of
        For each edge that is no filler the part of the figure it is a piece of.
    """

    sheet: Sheet
    tree: Tree
    lengths: NDArray[np.float64]
    points: NDArray[np.float64]
    low: NDArray[np.float64]
    high: NDArray[np.float64]
    symmetry: Symmetry = "none"
    fillers: tuple[str, ...] = ()
    part_of: Mapping[str, str] = field(default_factory=dict)

    @property
    def tolerance(self) -> float:
        """Length below which a crease is dropped, in sheet units."""
        return NO_LENGTH * self.sheet.diagonal

    @cached_property
    def nodes(self) -> NDArray[np.float64]:
        """(nodes, nodes) tree distances between all nodes, in sheet units."""
        return node_distances(self.tree, self.lengths)

    @cached_property
    def distances(self) -> NDArray[np.float64]:
        """(tips, tips) tree distances in sheet units."""
        n = self.tree.n_tips
        return self.nodes[:n, :n]

    @cached_property
    def gaps(self) -> NDArray[np.float64]:
        """(tips, tips) distances on the sheet."""
        ways = self.points[:, None] - self.points[None]
        return np.hypot(ways[..., 0], ways[..., 1])

    @cached_property
    def slack(self) -> NDArray[np.float64]:
        """(tips, tips) how much longer the sheet is than the tree; zero on the diagonal."""
        return self.gaps - self.distances

    @property
    def mirror(self) -> NDArray[np.intp]:
        """(tips,) index of each tip's mirror image, its own without symmetry."""
        n = self.tree.n_tips
        return np.arange(n) if self.symmetry == "none" else self.tree.twin[:n]

    @cached_property
    def node_mirror(self) -> NDArray[np.intp]:
        """(nodes,) index of each node's mirror image, its own without symmetry."""
        image = np.arange(self.tree.n_nodes)
        if self.symmetry != "none":
            image[self.tree.ends] = self.tree.ends[self.tree.twin]
        return image

    def reflect(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Mirror (..., 2) points in the axis of symmetry; unchanged without one."""
        if self.symmetry == "none":
            return points
        if self.symmetry == "diagonal":
            return points[..., ::-1].copy()
        return np.stack([self.sheet.width - points[..., 0], points[..., 1]], axis=-1)


def layout_of(packing: Packing, at: float = 1.0) -> TipLayout:
    """Return the layout of a packing at its scale, or at a share of it."""
    tree = packing.tree
    scale = packing.scale * at
    boxes = [_box(packing, tip, scale) for tip in range(tree.n_tips)]
    return TipLayout(
        packing.sheet,
        tree,
        np.array(packing.lengths) * scale,
        packing.points,
        np.array([low for low, _ in boxes]),
        np.array([high for _, high in boxes]),
        packing.symmetry,
        (),
        {name: name for name in tree.names},
    )


def _box(packing: Packing, tip: int, scale: float) -> tuple[Point, Point]:
    """Lowest and highest coordinates of the range that a tip has chosen."""
    x, y = packing.tips[tip]

    def miss(box: Range) -> float:
        return max(box.x[0] - x, x - box.x[1], box.y[0] - y, y - box.y[1], 0.0)

    box = min(packing.problem.ranges[tip], key=miss)
    edge = box.margin * scale
    w, h = packing.sheet.width, packing.sheet.height
    low = max(box.x[0], edge), max(box.y[0], edge)
    high = min(box.x[1], w - edge), min(box.y[1], h - edge)
    return low, high
