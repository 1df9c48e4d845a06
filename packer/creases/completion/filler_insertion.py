"""Attach fillers to a tree, and list the points of a tree at which one may be attached."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from packer.model.tree import Tree

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.creases.tip_layout import TipLayout
    from packer.creases.tree_metric import TreePoint


@dataclass(frozen=True, eq=False)
class AttachmentPoints:
    """Points of a tree at which a filler may be attached, with their distances to all tips.

    Attributes
    ----------
    edges, offsets
        (c,) the tree points.
    to_tips
        (c, tips) distances to the tips, in sheet units.
    to_image
        (c,) distance to the mirror image; zero on the spine and without symmetry.
    on_spine
        (c,) whether a point is its own mirror image; all are without symmetry.
    at_joint
        (c,) whether a point is a joint of the tree.
    """

    edges: NDArray[np.intp]
    offsets: NDArray[np.float64]
    to_tips: NDArray[np.float64]
    to_image: NDArray[np.float64]
    on_spine: NDArray[np.bool_]
    at_joint: NDArray[np.bool_]

    def tree_point(self, k: int) -> TreePoint:
        """Return the k-th point."""
        return int(self.edges[k]), float(self.offsets[k])


def attachment_points(layout: TipLayout, per_edge: int) -> AttachmentPoints:
    """Return all joints of a layout's tree, then `per_edge` inner points of every edge."""
    tree, n = layout.tree, layout.tree.n_tips
    joints = np.arange(n, tree.n_nodes)
    home = {
        v: (k, side)
        for k, row in reversed(list(enumerate(tree.ends.tolist())))
        for side, v in enumerate(row)
    }
    at = [home[v] for v in joints.tolist()]
    shares = (np.arange(per_edge) + 0.5) / per_edge
    edges = np.concatenate(
        [
            np.array([k for k, _ in at], dtype=np.intp),
            np.repeat(np.arange(len(tree.ends)), per_edge),
        ]
    )
    share = np.concatenate([[float(side) for _, side in at], np.tile(shares, len(tree.ends))])
    return attachment_points_at(layout, edges, share * layout.lengths[edges], len(joints))


def attachment_points_at(
    layout: TipLayout, edges: NDArray[np.intp], offsets: NDArray[np.float64], joints: int = 0
) -> AttachmentPoints:
    """Return given tree points, the first `joints` of which are joints, with their distances."""
    tree, n = layout.tree, layout.tree.n_tips
    a, b = tree.ends[edges].T
    rest = layout.lengths[edges] - offsets
    far = np.minimum(
        layout.nodes[a, :n] + offsets[:, None], layout.nodes[b, :n] + rest[:, None]
    )
    joint = np.arange(len(edges)) < joints
    if layout.symmetry == "none":
        nothing = np.zeros(len(edges))
        return AttachmentPoints(edges, offsets, far, nothing, nothing == 0, joint)
    twin = tree.twin[edges]
    c, d = tree.ends[twin].T
    ways = [
        layout.nodes[p, q] + x + y
        for p, x in ((a, offsets), (b, rest))
        for q, y in ((c, offsets), (d, rest))
    ]
    across = np.where(twin == edges, 0.0, np.min(ways, axis=0))
    across[across <= layout.tolerance] = 0.0
    return AttachmentPoints(edges, offsets, far, across, across == 0, joint)


def with_filler(
    layout: TipLayout, point: NDArray[np.float64], tree_point: TreePoint, length: float
) -> TipLayout:
    """Return the layout with one more flap, and with its mirror image where that is another.

    Of two mirror images the left one is attached to the left twin; where both are attached to
    the spine, it is the one on the left of the sheet.

    Parameters
    ----------
    layout
        The layout.
    point
        (2,) position of its tip on the sheet.
    tree_point
        Where it is attached to the tree; an edge is cut there, if it is not at a node.
    length
        Its length, in sheet units.
    """
    image = layout.reflect(point)
    number = 1 + len({name.split(".")[0] for name in layout.fillers})
    name = _free_name(layout.tree.names, f"filler {number}")
    edge, offset = tree_point
    if layout.symmetry == "none" or np.hypot(*(image - point)) <= 2 * layout.tolerance:
        return _one_more(layout, point, tree_point, length, name)
    twin = int(layout.tree.twin[edge])
    if _on_the_right(layout, point, tree_point):
        point, image, edge, twin = image, point, twin, edge
    first = _one_more(layout, point, (edge, offset), length, f"{name}.left")
    moved = twin if twin < layout.tree.n_tips else twin + 1
    second = _one_more(first, image, (moved, offset), length, f"{name}.right")
    return _with_twins(second, layout, edge, twin)


def _on_the_right(layout: TipLayout, point: NDArray[np.float64], tree_point: TreePoint) -> bool:
    """Return whether a filler belongs to a right twin, or to the spine and lies on the right."""
    edge, joint = tree_point[0], _joint_at(layout, tree_point)
    twin = layout.tree.twin[edge]
    if twin == edge or (joint >= 0 and layout.node_mirror[joint] == joint):
        return bool(point[0] > layout.reflect(point)[0])
    return bool(twin < edge)


def _joint_at(layout: TipLayout, tree_point: TreePoint) -> int:
    """Return the node at which a tree point lies to within rounding, -1 where at none."""
    edge, offset = tree_point
    length = layout.lengths[edge]
    if min(offset, length - offset) > 10 * layout.tolerance:
        return -1
    return int(layout.tree.ends[edge, 0 if offset < length / 2 else 1])


def _free_name(known: tuple[str, ...], wish: str) -> str:
    name, k = wish, 1
    while any(other == name or other.startswith(f"{name}.") for other in known):
        k += 1
        name = f"{wish} ({k})"
    return name


def _one_more(
    layout: TipLayout,
    point: NDArray[np.float64],
    tree_point: TreePoint,
    length: float,
    name: str,
) -> TipLayout:
    tree, n = layout.tree, layout.tree.n_tips
    edge, offset = tree_point
    ends = tree.ends + (tree.ends >= n)  # the new tip takes number n
    lengths, joints, rivers = layout.lengths.copy(), tree.joints, tree.rivers
    twin = tree.twin + (tree.twin >= n)
    flex, directions, part_of = tree.flex, tree.directions, dict(layout.part_of)
    joint = _joint_at(layout, tree_point)
    if joint >= 0:
        joint += joint >= n
    else:
        joint = tree.n_nodes + 1
        part = part_of.get(tree.names[edge], tree.names[edge])
        piece = _free_name(tree.names, f"{part}, inner part")
        if tree.names[edge] in part_of:
            part_of[piece] = part
        rivers = (*rivers, piece)
        joints = (*joints, f"{piece}, end")
        ends = np.vstack([ends, [joint, ends[edge, 1]]])
        ends[edge, 1] = joint
        lengths = np.append(lengths, lengths[edge] - offset)
        lengths[edge] = offset
        flex = np.append(flex, 0.0)
        if directions.size:  # a flap is seen from its joint, a river from its first end
            turned = np.pi if edge < n else 0.0
            directions = np.append(directions, directions[edge] + turned)
        twin = np.append(twin, len(twin) + 1)
    extended = Tree(
        (*tree.flaps, name),
        rivers,
        joints,
        np.insert(ends, n, [n, joint], axis=0),
        np.insert(lengths, n, length),
        np.insert(flex, n, 0.0),
        np.insert(twin, n, n),
        (*tree.places, ()),
        np.insert(directions, n, np.nan) if directions.size else directions,
    )
    return replace(
        layout,
        tree=extended,
        lengths=extended.lengths,
        points=np.vstack([layout.points, point]),
        low=np.vstack([layout.low, [0.0, 0.0]]),
        high=np.vstack([layout.high, [layout.sheet.width, layout.sheet.height]]),
        fillers=(*layout.fillers, name),
        part_of=part_of,
    )


def _with_twins(layout: TipLayout, before: TipLayout, edge: int, twin: int) -> TipLayout:
    """Pair two new fillers, and the pieces of the twins they cut."""
    twins = layout.tree.twin.copy()
    n = layout.tree.n_tips
    twins[[n - 2, n - 1]] = [n - 1, n - 2]
    if len(layout.tree.rivers) == len(before.tree.rivers) + 2 and twin != edge:
        last = len(twins) - 1
        twins[[last - 1, last]] = [last, last - 1]
    return replace(layout, tree=replace(layout.tree, twin=twins))
