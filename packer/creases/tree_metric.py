"""The tree as a metric space: its points and the distances between them."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from packer.model.tree import node_distances, walk

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.model.tree import Tree

TreePoint = tuple[int, float]
"""A point of a tree: an edge and the offset from that edge's first end."""


class Metric:
    """A tree with its lengths as a metric space; points nearer than `tolerance` to a node are on it.

    Distances are kept as nested lists: the sweep of a molecule asks for them one at a time.
    """

    def __init__(self, tree: Tree, lengths: NDArray[np.float64], tolerance: float) -> None:
        self.tolerance = tolerance
        self.ends: list[list[int]] = tree.ends.tolist()
        self.lengths: list[float] = lengths.tolist()
        self.nodes: list[list[float]] = node_distances(tree, lengths).tolist()
        self.step, self._first_is_near = _directions(tree)
        self.home: list[TreePoint] = [(-1, 0.0)] * tree.n_nodes
        for k in reversed(range(len(self.ends))):
            self.home[self.ends[k][0]] = (k, 0.0)
            self.home[self.ends[k][1]] = (k, self.lengths[k])

    def node_at(self, tree_point: TreePoint) -> int:
        """Return the node that a tree point lies on, -1 for none."""
        edge, offset = tree_point
        if offset <= 0.0:
            return self.ends[edge][0]
        return self.ends[edge][1] if offset >= self.lengths[edge] else -1

    def snapped(self, tree_point: TreePoint) -> TreePoint:
        """Return a tree point, moved onto a node that it nearly lies on; nodes as in `home`."""
        edge, offset = tree_point
        if offset <= self.tolerance:
            return self.home[self.ends[edge][0]]
        if offset >= self.lengths[edge] - self.tolerance:
            return self.home[self.ends[edge][1]]
        return tree_point

    def exit(self, edge: int, towards: int) -> int:
        """Return the end of one edge that is nearer to another edge."""
        return self.ends[edge][0 if self._first_is_near[edge][towards] else 1]

    def to_end(self, tree_point: TreePoint, node: int) -> float:
        """Return the distance from a tree point to one of the two ends of its own edge."""
        edge, offset = tree_point
        return offset if self.ends[edge][0] == node else self.lengths[edge] - offset

    def between(self, a: TreePoint, b: TreePoint) -> float:
        """Return the distance between two tree points."""
        if a[0] == b[0]:
            return abs(a[1] - b[1])
        out, into = self.exit(a[0], b[0]), self.exit(b[0], a[0])
        return self.to_end(a, out) + self.nodes[out][into] + self.to_end(b, into)

    def leave(self, a: TreePoint, b: TreePoint) -> tuple[int, int]:
        """Return the first edge of the path from a to b, and the sign of the offset along it.

        (-1, 0) where the two tree points are one.
        """
        node = self.node_at(a)
        if node < 0:
            if a[0] == b[0]:
                return a[0], 1 if b[1] > a[1] else -1
            return a[0], 1 if self.exit(a[0], b[0]) == self.ends[a[0]][1] else -1
        goal = self.node_at(b)
        if goal == node:
            return -1, 0
        if goal < 0:
            edge = b[0]
            goal = self.ends[edge][0]
            if node not in self.ends[edge]:
                edge = self.step[node][goal]
        else:
            edge = self.step[node][goal]
        return edge, 1 if self.ends[edge][0] == node else -1

    def along(self, a: TreePoint, way: tuple[int, int], by: float) -> TreePoint:
        """Return the tree point at a distance from a, at most at the end of the first edge."""
        edge, sign = way
        if edge < 0:
            return a
        offset = a[1] if a[0] == edge else self._offset_of(self.node_at(a), edge)
        return self.snapped((edge, offset + sign * by))

    def ahead(self, a: TreePoint, way: tuple[int, int]) -> float:
        """Return the distance to the next node in a direction."""
        edge, sign = way
        offset = a[1] if a[0] == edge else self._offset_of(self.node_at(a), edge)
        return self.lengths[edge] - offset if sign > 0 else offset

    def _offset_of(self, node: int, edge: int) -> float:
        return 0.0 if self.ends[edge][0] == node else self.lengths[edge]

    def nodes_between(self, a: TreePoint, b: TreePoint) -> list[tuple[int, float]]:
        """Return the nodes strictly between two tree points, each with its distance from a."""
        if a[0] == b[0]:
            return []
        here, last = self.exit(a[0], b[0]), self.exit(b[0], a[0])
        done = self.to_end(a, here)
        end = self.between(a, b) - self.tolerance
        nodes = []
        while True:
            if self.tolerance < done < end:
                nodes.append((here, done))
            if here == last:
                return nodes
            edge = self.step[here][last]
            done += self.lengths[edge]
            here = self.ends[edge][1 if self.ends[edge][0] == here else 0]


@lru_cache(maxsize=8)
def _directions(tree: Tree) -> tuple[list[list[int]], list[list[bool]]]:
    """Return what does not depend on lengths: first steps, and which end of an edge is nearer.

    (nodes, nodes) the edge by which the way from one node to another begins, -1 on itself;
    (edges, edges) whether one edge's first end is the one nearer to another edge.
    """
    steps = np.full((tree.n_nodes, tree.n_nodes), -1, dtype=np.intp)
    for goal in range(tree.n_nodes):
        for node, parent, edge in walk(tree, goal):
            if parent >= 0:
                steps[node, goal] = edge
    hops = node_distances(tree, np.ones(len(tree.ends)))
    first = hops[np.ix_(tree.ends[:, 0], tree.ends[:, 0])]
    second = hops[np.ix_(tree.ends[:, 1], tree.ends[:, 0])]
    return steps.tolist(), (first < second).tolist()
