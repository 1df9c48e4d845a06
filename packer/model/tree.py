"""The tree of a figure with its twins written out, and the distances along it."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING

import numpy as np

from packer.errors import FigureError
from packer.model.figure import Place, beyond_pairs

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.model.figure import Figure, Flap, River

LEFT, RIGHT = ".left", ".right"


@dataclass(frozen=True, eq=False)
class Tree:
    """Nodes and edges as arrays: node i below `n_tips` is the tip of flap i, the rest joints.

    Attributes
    ----------
    flaps, rivers
        Names with twins written out; edge k is ``(flaps + rivers)[k]``.
    joints
        Names of the nodes from ``len(flaps)`` on.
    ends
        (edges, 2) node indices; a flap's row is (tip, joint).
    lengths, flex
        (edges,) as asked, in the figure's unit; fractions.
    twin
        (edges,) index of each edge's twin, its own where it is unpaired.
    places
        For each flap the places written for it (for a twin, as written: not yet mirrored).
    directions
        (edges,) directions in the stick figure, in radians clockwise from upright, of a flap from
        its joint to its tip, of a river from its first end to its second; NaN where none is given,
        and empty where none at all.
    cells
        For each edge the whole cells it takes on a grid, 0 where that is open; empty for none.
    widths
        For each flap how many cells its tip is wide on a grid; empty where all are points.
    pleats
        For each edge how many pleats shorten it; empty where none has any.
    """

    flaps: tuple[str, ...]
    rivers: tuple[str, ...]
    joints: tuple[str, ...]
    ends: NDArray[np.intp]
    lengths: NDArray[np.float64]
    flex: NDArray[np.float64]
    twin: NDArray[np.intp]
    places: tuple[tuple[Place, ...], ...]
    directions: NDArray[np.float64] = field(default_factory=lambda: np.empty(0))
    cells: tuple[int, ...] = ()
    widths: tuple[int, ...] = ()
    pleats: tuple[int, ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """Names of all edges, flaps first."""
        return self.flaps + self.rivers

    @cached_property
    def written(self) -> tuple[str, ...]:
        """Name of each edge's line in the figure: that of both twins without their ends."""
        ends = {True: LEFT, False: RIGHT}
        return tuple(
            name if twin == k else name.removesuffix(ends[twin > k])
            for k, (name, twin) in enumerate(zip(self.names, self.twin.tolist(), strict=True))
        )

    @property
    def n_tips(self) -> int:
        """How many flaps, and so tips, there are."""
        return len(self.flaps)

    @property
    def n_nodes(self) -> int:
        """Tips and joints together."""
        return len(self.flaps) + len(self.joints)

    @cached_property
    def neighbours(self) -> tuple[tuple[tuple[int, int], ...], ...]:
        """For each node its (neighbour, edge) pairs, in the order of the edges."""
        pairs: list[list[tuple[int, int]]] = [[] for _ in range(self.n_nodes)]
        for edge, (a, b) in enumerate(self.ends.tolist()):
            pairs[a].append((b, edge))
            pairs[b].append((a, edge))
        return tuple(map(tuple, pairs))

    @cached_property
    def beyond(self) -> NDArray[np.bool_]:
        """(edges, tips): whether a tip lies beyond an edge, seen from the first joint.

        The path between two tips uses exactly the edges in whose row they differ.
        """
        tips_beyond = np.zeros((len(self.ends), self.n_tips), dtype=bool)
        for node, parent, edge in reversed(walk(self, self.n_tips)):
            if edge < 0:
                continue
            if node < self.n_tips:
                tips_beyond[edge, node] = True
            for child, below in self.neighbours[node]:
                if child != parent:
                    tips_beyond[edge] |= tips_beyond[below]
        tips_beyond.setflags(write=False)
        return tips_beyond

    @cached_property
    def distances(self) -> NDArray[np.float64]:
        """(tips, tips) path lengths between tips, with the lengths asked for."""
        return self.distances_with(self.lengths)

    def distances_with(self, lengths: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return (tips, tips) path lengths between tips, with other edge lengths."""
        out = node_distances(self, lengths)[: self.n_tips, : self.n_tips].copy()
        out.setflags(write=False)
        return out

    def path(self, i: int, j: int) -> NDArray[np.intp]:
        """Return the edges on the path between tips i and j, in no particular order."""
        return np.flatnonzero(self.beyond[:, i] != self.beyond[:, j])


def walk(tree: Tree, root: int) -> list[tuple[int, int, int]]:
    """Return (node, parent, edge to it) in depth-first order from `root`; -1 where there is none."""
    order: list[tuple[int, int, int]] = []
    todo = [(root, -1, -1)]
    while todo:
        node, parent, edge = todo.pop()
        order.append((node, parent, edge))
        todo.extend(
            (child, node, below)
            for child, below in reversed(tree.neighbours[node])
            if child != parent
        )
    return order


def node_distances(tree: Tree, lengths: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return (nodes, nodes) path lengths between all nodes, joints included."""
    way, order = _outwards(tree)
    out = np.zeros((tree.n_nodes, tree.n_nodes))
    # numbered in the order of the walk, so that the nodes seen before are the rows above
    for k, (parent, edge) in enumerate(way, 1):
        out[k, :k] = out[:k, k] = out[parent, :k] + lengths[edge]
    own: NDArray[np.float64] = out[np.ix_(order, order)]
    return own


@lru_cache(maxsize=8)
def _outwards(tree: Tree) -> tuple[list[tuple[int, int]], NDArray[np.intp]]:
    """Return a walk over the tree: parent, by its place in the walk, and edge of each next node.

    Also (nodes,) the place of each node in it.
    """
    way = walk(tree, tree.n_tips)
    order = np.empty(tree.n_nodes, dtype=np.intp)
    order[[node for node, _, _ in way]] = np.arange(tree.n_nodes)
    return [(int(order[parent]), edge) for _, parent, edge in way[1:]], order


def depths(tree: Tree, lengths: NDArray[np.float64], root: int) -> NDArray[np.float64]:
    """Return (nodes,) path lengths from one node, of those that `node_distances` returns of all."""
    out = np.zeros(tree.n_nodes)
    for node, parent, edge in walk(tree, root)[1:]:
        out[node] = out[parent] + lengths[edge]
    return out


def least_lengths(tree: Tree) -> NDArray[np.float64]:
    """Return (edges,) the least length that flex permits each edge."""
    return tree.lengths * (1 - tree.flex)


def least_distances(tree: Tree) -> NDArray[np.float64]:
    """Return (tips, tips) a lower bound on the distances under any permitted lengths.

    A path can lose at most the flex of its own edges, and, since the total length of all edges
    with flex is held, at most what the other edges can take up.
    """
    if not tree.flex.any():
        return tree.distances
    most_change = tree.lengths * tree.flex
    loss = tree.distances_with(most_change)
    least: NDArray[np.float64] = tree.distances - np.minimum(loss, most_change.sum() - loss)
    return least


def central_joint(tree: Tree, lengths: NDArray[np.float64]) -> int:
    """Return the joint (as a node) that is nearest to its farthest tip."""
    far = node_distances(tree, lengths)[tree.n_tips :, : tree.n_tips]
    return tree.n_tips + int(np.argmin(far.max(axis=1)))


@lru_cache(maxsize=64)
def tree_of(figure: Figure) -> Tree:
    """Write out the twins of a figure.

    Raises
    ------
    FigureError
        Where a twin's name is already some other part's.
    """
    far = beyond_pairs(figure)
    joint_index: dict[tuple[str, str], int] = {}
    for joint in figure.joints:
        for end in (LEFT, RIGHT) if joint in far else ("",):
            joint_index[joint, end] = len(joint_index)

    def node(joint: str, end: str) -> int:
        return joint_index[joint, end if joint in far else ""]

    names: list[str] = []
    ends: list[tuple[int, int]] = []
    parts: list[int] = []
    twin: list[int] = []

    def add(part: int, name: str, twinned: bool, ab: tuple[str, str]) -> None:
        for k, end in enumerate((LEFT, RIGHT) if twinned else ("",)):
            twin.append(len(twin) + (1 - 2 * k if twinned else 0))
            names.append(name + end)
            parts.append(part)
            ends.append((node(ab[0], end) if ab[0] else -1, node(ab[1], end)))

    for k, flap in enumerate(figure.flaps):
        add(k, flap.name, flap.pair or flap.joint in far, ("", flap.joint))
    n = len(names)
    for k, river in enumerate(figure.rivers):
        twinned = river.pair or any(joint in far for joint in river.joints)
        add(len(figure.flaps) + k, river.name, twinned, river.joints)
    _check_unique(names)

    rows = np.array(ends, dtype=np.intp)
    rows += n
    rows[:n, 0] = np.arange(n)
    written: tuple[Flap | River, ...] = (*figure.flaps, *figure.rivers)
    arrays = (
        rows,
        np.array([written[p].paper for p in parts]),
        np.array([written[p].flex for p in parts]),
        np.array(twin, dtype=np.intp),
    )
    directions = _directions(figure, [written[p].name for p in parts], arrays[3])
    for array in (*arrays, directions):
        array.setflags(write=False)
    return Tree(
        tuple(names[:n]),
        tuple(names[n:]),
        tuple(joint + end for joint, end in joint_index),
        *arrays,
        places=tuple(figure.flaps[p].place for p in parts[:n]),
        directions=directions,
        cells=tuple(written[p].cells for p in parts),
        widths=tuple(figure.flaps[p].width for p in parts[:n])
        if any(flap.width for flap in figure.flaps)
        else (),
        pleats=tuple(len(written[p].folded_away.depths) for p in parts)
        if any(part.pleats for part in written)
        else (),
    )


def _directions(
    figure: Figure, written: list[str], twin: NDArray[np.intp]
) -> NDArray[np.float64]:
    """Return the direction of each part in radians, NaN where none is given; empty without a pose."""
    pose = dict(figure.pose)
    directions = np.radians([pose.get(name, np.nan) for name in written if pose])
    if pose:  # twins stand side by side, the left one first: it mirrors the right one
        directions[twin > np.arange(len(twin))] *= -1
    return directions


def _check_unique(names: list[str]) -> None:
    seen: set[str] = set()
    for name in names:
        if name in seen:
            raise FigureError(
                f'"{name}" is also a twin\'s name; give one of them another', name
            )
        seen.add(name)
