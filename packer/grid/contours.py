"""Contours: where every point of the paper lies over the tree.

With the tree hung from a joint, a point p lies at height h(p) = max over tips of (depth of the
tip - max-metric distance from p to it), on the way from the root to that tip. The pair rule of
the packing makes that one place whichever tip is taken. Below zero lies gap paper, which no part
of the figure needs; it runs up and down the deepest flap's way like a wave.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components

from packer.model.tree import node_distances, walk

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from packer.grid.grid_packing import GridPacking
    from packer.model.tree import Tree


@dataclass(frozen=True, eq=False)
class Contours:
    """The heights of a packing on the lattice of half cells.

    Attributes
    ----------
    root
        Node of the tree from which heights are packing_counts.
    heights
        (2 W + 1, 2 H + 1) distance from the root along the tree, in half cells.
    over
        (2 W + 1, 2 H + 1) a tip beyond or at the place that the lattice point lies over.
    gap
        (2 W + 1, 2 H + 1) whether no part of the figure needs the point.
    """

    root: int
    heights: NDArray[np.intp]
    over: NDArray[np.intp]
    gap: NDArray[np.bool_]


def contours(packing: GridPacking) -> Contours:
    """Return the height of every half-cell lattice point of a packing, seen from its root."""
    tree = packing.tree
    root = tree.n_tips + tree.joints.index(packing.root)
    depth = whole_distances(packing)[root, : tree.n_tips]
    height = 2 * depth[:, None, None] - tip_distances(packing)
    over = height.argmax(axis=0)
    best = height.max(axis=0)
    deepest = int(depth.argmax())
    gap = best < 0
    folded = np.where(gap, triangle_wave(-best, 2 * int(depth[deepest])), best)
    return Contours(root, folded, np.where(gap, deepest, over), gap)


def tip_distances(packing: GridPacking) -> NDArray[np.intp]:
    """Return (tips, 2 W + 1, 2 H + 1) max-metric distances to every tip, in half cells."""
    across, up = packing.cells
    wide = packing.board.extent
    x, y = np.arange(2 * across + 1), np.arange(2 * up + 1)
    middle = 2 * np.array(packing.places) + wide
    dx = np.maximum(np.abs(x[None, :] - middle[:, :1]) - wide[:, :1], 0)
    dy = np.maximum(np.abs(y[None, :] - middle[:, 1:]) - wide[:, 1:], 0)
    distances: NDArray[np.intp] = np.maximum(dx[:, :, None], dy[:, None, :])
    return distances


def triangle_wave(distance: NDArray[np.intp], top: int) -> NDArray[np.intp]:
    """Return distances folded up and down between 0 and `top`."""
    wave: NDArray[np.intp] = top - np.abs(distance % (2 * top) - top)
    return wave


def split_rivers(packing: GridPacking, root: int) -> tuple[str, ...]:
    """Return the rivers that the paper holds in several strands, seen from a node.

    What lies beyond a river's far joint v is the union of the squares of radius d(tip, v); the
    river is a band around it, one band exactly where the union is in one piece. Squares that
    share only a corner are not joined.
    """
    return _split_from(packing.tree, root, _strands(packing))


def _split_from(
    tree: Tree, root: int, in_strands: Callable[[int, tuple[int, ...]], bool]
) -> tuple[str, ...]:
    below = tips_below(tree, root)
    split = [
        edge
        for node, parent, edge in walk(tree, root)
        if parent >= 0 and node >= tree.n_tips and in_strands(node, tuple(below[node]))
    ]
    return tuple(tree.names[edge] for edge in sorted(split))


def _strands(packing: GridPacking) -> Callable[[int, tuple[int, ...]], bool]:
    """Return what tells whether the paper round some tips beyond a node is in several pieces.

    A river has two sides, whatever the root: each is looked at once.
    """
    depth = whole_distances(packing)
    low = np.array(packing.places)
    high = low + packing.board.extent
    gap = low[None, :, :] - high[:, None, :]
    dx, dy = np.maximum(gap, gap.transpose(1, 0, 2)).transpose(2, 0, 1)

    @cache
    def in_strands(node: int, tips: tuple[int, ...]) -> bool:
        reach = depth[node, list(tips)]
        reach = reach[:, None] + reach[None, :]
        x, y = dx[np.ix_(tips, tips)], dy[np.ix_(tips, tips)]
        joined = (x <= reach) & (y <= reach) & ~((x == reach) & (y == reach))
        return bool(connected_components(csr_array(joined), directed=False)[0] > 1)

    return in_strands


def best_root(packing: GridPacking) -> tuple[str, tuple[str, ...]]:
    """Return the joint from which fewest rivers are split, and those; the centre goes first."""
    tree, in_strands = packing.tree, _strands(packing)
    far = whole_distances(packing)[tree.n_tips :, : tree.n_tips].max(axis=1)
    ranked: list[tuple[int, int, str, tuple[str, ...]]] = []
    for k in np.argsort(far, kind="stable").tolist():
        split = _split_from(tree, tree.n_tips + k, in_strands)
        ranked.append((len(split), len(ranked), tree.joints[k], split))
        if not split:
            break
    _, _, joint, split = min(ranked)
    return joint, split


def paths_from(tree: Tree, root: int) -> dict[int, list[int]]:
    """Return for every tip the edges on the way to it from a node, the first one first."""
    way: dict[int, list[int]] = {}
    for node, parent, edge in walk(tree, root):
        way[node] = [] if parent < 0 else [*way[parent], edge]
    return {tip: way[tip] for tip in range(tree.n_tips)}


def tips_below(tree: Tree, root: int) -> dict[int, list[int]]:
    """Return for every node the tips at or beyond it, seen from a root, in rising order."""
    below: dict[int, list[int]] = {}
    for node, parent, _ in reversed(walk(tree, root)):
        below.setdefault(node, [node] if node < tree.n_tips else [])
        below[node].sort()
        if parent >= 0:
            below.setdefault(parent, []).extend(below[node])
    return below


def whole_distances(packing: GridPacking) -> NDArray[np.intp]:
    """Return (nodes, nodes) tree distances in cells, with the lengths used."""
    lengths = np.array(packing.lengths, dtype=float)
    distances: NDArray[np.intp] = np.rint(node_distances(packing.tree, lengths)).astype(np.intp)
    return distances
