"""Where the nodes of a stick figure go on paper: true lengths, no crossings, twins mirrored.

Every branch gets a wedge of directions in proportion to its tips and lies along the middle of
it; what hangs on it shares the same wedge (the equal-angle layout of J. Felsenstein, *Inferring
Phylogenies*, 2004). Two branches then never cross. A figure with twins gets an upright spine,
and its left half is the mirror image of its right half.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from packer.model.repulsion import spread
from packer.model.tree import central_joint, walk

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.model.tree import Tree


@dataclass(frozen=True)
class Rooted:
    """A tree seen from one of its nodes.

    Attributes
    ----------
    root
        The node seen from.
    children
        For each node the nodes that hang on it, in the order of their first-written flaps.
    edge
        For each node the edge by which it hangs; -1 at the root.
    tips
        For each node how many tips lie at or beyond it.
    """

    root: int
    children: tuple[tuple[int, ...], ...]
    edge: tuple[int, ...]
    tips: tuple[int, ...]


def rooted(tree: Tree, root: int) -> Rooted:
    """Return the tree as seen from a node."""
    children: list[tuple[int, ...]] = [()] * tree.n_nodes
    edge = [-1] * tree.n_nodes
    tips = [0] * tree.n_nodes
    first = list(range(tree.n_nodes))
    for node, parent, here in reversed(walk(tree, root)):
        below = [child for child, _ in tree.neighbours[node] if child != parent]
        children[node] = tuple(sorted(below, key=lambda child: first[child]))
        edge[node] = here
        tips[node] = sum(tips[child] for child in below) + (node < tree.n_tips)
        first[node] = min([node, *(first[child] for child in below)])
    return Rooted(root, tuple(children), tuple(edge), tuple(tips))


@lru_cache(maxsize=64)
def layout(tree: Tree) -> NDArray[np.float64]:
    """Return (nodes, 2) positions in the figure's unit, x to the right and y up; read-only.

    Parts lie in the directions that the figure gives them. Where it gives none, on top is the end
    of the spine on whose joint the first-written flap hangs.
    """
    given = ~np.isnan(tree.directions)
    if given.size and given.all():
        at = _posed(tree, np.zeros((tree.n_nodes, 2)))
    else:
        spine = spine_of(tree)
        at = _with_spine(tree, spine) if spine else _without_spine(tree)
        if given.any():
            at = _posed(tree, at)
    at.setflags(write=False)
    return at


def _posed(tree: Tree, usual: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return positions with the directions given, and for the others those that are usual."""
    at = np.zeros((tree.n_nodes, 2))
    given = ~np.isnan(tree.directions)
    for node, parent, edge in walk(tree, central_joint(tree, tree.lengths)):
        if edge < 0:
            continue
        way = usual[node] - usual[parent]
        if given[edge]:
            turn = tree.directions[edge]
            # a flap's direction is told from its joint, which is its second end
            away = (int(tree.ends[edge, 0]) == node) == (edge < tree.n_tips)
            sign = 1.0 if away else -1.0
            way = sign * tree.lengths[edge] * np.array([np.sin(turn), np.cos(turn)])
        at[node] = at[parent] + way
    return at


def _without_spine(tree: Tree) -> NDArray[np.float64]:
    seen = rooted(tree, central_joint(tree, tree.lengths))
    directions = np.zeros(len(tree.ends))
    _share(seen, list(seen.children[seen.root]), 0.0, 2 * np.pi, directions)
    free = np.zeros(len(directions), dtype=bool)
    directions = spread(tree, seen.root, directions, free, np.arange(len(directions)))
    return _upright(tree, place(tree, seen.root, directions))


def _with_spine(tree: Tree, spine: list[int]) -> NDArray[np.float64]:
    seen = rooted(tree, spine[0])
    directions = np.zeros(len(tree.ends))
    on_spine = np.zeros(len(directions), dtype=bool)
    on_spine[[seen.edge[node] for node in spine[1:]]] = True
    directions[on_spine] = np.pi
    limbs = _limbs(tree, seen, spine)
    shares = [seen.tips[limb[0]] for limb in limbs]
    # Half a share on either side for a flap at the end of the spine, which points away from it.
    ends = [0.5 if node < tree.n_tips else 0.0 for node in (spine[0], spine[-1])]
    bounds = np.cumsum([ends[0], *shares]) * np.pi / (sum(shares) + sum(ends))
    mirror = np.arange(len(directions))
    used = [0, 0]
    for limb, first, last in zip(limbs, bounds, bounds[1:], strict=False):
        if len(limb) == 2:
            right, left = limb
            for node in _beyond(seen, left):
                mirror[seen.edge[node]] = tree.twin[seen.edge[node]]
                mirror[tree.twin[seen.edge[node]]] = seen.edge[node]
            _share(seen, [right], first, last, directions)
            _share(seen, [left], -first, -last, directions)
            continue
        side = int(used[1] < used[0])
        used[side] += seen.tips[limb[0]]
        sign = 1 - 2 * side
        _share(seen, [limb[0]], sign * first, sign * last, directions)
    return place(tree, seen.root, spread(tree, seen.root, directions, on_spine, mirror))


def _limbs(tree: Tree, seen: Rooted, spine: list[int]) -> list[tuple[int, ...]]:
    """Return the branches on the spine, top to bottom: twins (right, left) or one alone.

    Twins are drawn each for itself where they hang on different joints: a pattern may split one
    of them only.
    """
    limbs: list[tuple[int, ...]] = []
    for node in spine:
        below = {seen.edge[child]: child for child in seen.children[node] if child not in spine}
        for edge, child in below.items():
            twin = int(tree.twin[edge])
            if twin == edge or twin not in below:
                limbs.append((child,))
            elif edge < twin:
                limbs.append((below[twin], child))
    return limbs


def _beyond(seen: Rooted, node: int) -> list[int]:
    """Return a node and all that hang on it."""
    nodes = [node]
    for here in nodes:
        nodes.extend(seen.children[here])
    return nodes


def place(tree: Tree, root: int, directions: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return (nodes, 2) positions from the directions in which the edges leave the root.

    Directions are in radians, clockwise from upright, one for each edge.
    """
    at = np.zeros((tree.n_nodes, 2))
    for node, parent, edge in walk(tree, root):
        if edge >= 0:
            turn = directions[edge]
            at[node] = at[parent] + tree.lengths[edge] * np.array([np.sin(turn), np.cos(turn)])
    return at


def spine_of(tree: Tree) -> list[int]:
    """Return the nodes of the longest path of unpaired parts, the top one first.

    A figure whose every part has a twin has a spine of one joint, one without twins has none.
    """
    twin = tree.twin.tolist()
    single = {edge for edge, other in enumerate(twin) if edge == other}
    if len(single) == len(twin):
        return []
    if not single:
        # An edge and its twin meet in the one joint that is its own mirror image.
        return next(
            [node]
            for edge, other in enumerate(twin)
            for node in tree.ends[edge].tolist()
            if node in tree.ends[other]
        )
    end = _farthest(tree, int(tree.ends[min(single), 0]), single)[-1]
    spine = _farthest(tree, end, single)
    return spine if _written(tree, spine) <= _written(tree, spine[::-1]) else spine[::-1]


def _written(tree: Tree, spine: list[int]) -> int:
    """Return the first-written flap on the joint where a spine begins, else a large number."""
    joint = next(node for node in spine if node >= tree.n_tips)
    return min([joint, *(node for node, _ in tree.neighbours[joint])])


def _farthest(tree: Tree, start: int, edges: set[int]) -> list[int]:
    """Return the longest path along some edges from a node."""
    ways = {start: (0.0, [start])}
    for node, parent, edge in walk(tree, start):
        if edge in edges and parent in ways:
            far, way = ways[parent]
            ways[node] = far + float(tree.lengths[edge]), [*way, node]
    return max(ways.values(), key=lambda way: way[0])[1]


def _share(
    seen: Rooted, nodes: list[int], start: float, stop: float, directions: NDArray[np.float64]
) -> None:
    """Share the wedge from `start` to `stop` among branches by their tips, and on beyond."""
    todo = [(nodes, start, stop)]
    while todo:
        here, first, last = todo.pop()
        step = (last - first) / sum(seen.tips[node] for node in here)
        for node in here:
            end = first + step * seen.tips[node]
            directions[seen.edge[node]] = (first + end) / 2
            if seen.children[node]:
                todo.append((list(seen.children[node]), first, end))
            first = end


def _upright(tree: Tree, at: NDArray[np.float64]) -> NDArray[np.float64]:
    """Turn a layout so that its long axis is upright, its first flap in the upper half.

    One that is about as wide as long, such as a star, has its first flap upright.
    """
    centred = at - at.mean(axis=0)
    spread, axes = np.linalg.eigh(centred.T @ centred)
    tip = at[0] - at[tree.ends[0, 1]]
    up = axes[:, 1] if spread[1] > 1.5 * spread[0] else tip / np.hypot(*tip)
    if up @ centred[0] < 0:
        up = -up
    upright: NDArray[np.float64] = at @ np.array([[up[1], up[0]], [-up[0], up[1]]])
    return upright
