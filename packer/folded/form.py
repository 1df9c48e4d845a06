"""The folded form: every face laid down flat by reflections in the creases.

Only the plane pattern is used for that: the tree and the heights that a pattern carries say where
the first face lies and which hinges stay flat, and everything else must follow. Whether it does
is judged in `packer.folded.checks`.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from heapq import heappop, heappush
from typing import TYPE_CHECKING

import numpy as np

from packer.creases.plane_graph import loop_areas
from packer.errors import PatternError
from packer.model.tree import node_distances

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.creases.pattern import CreasePattern


@dataclass(frozen=True, eq=False)
class FoldedForm:
    """A flat-folded uniaxial base, all flaps pointing away from one joint along the axis.

    Attributes
    ----------
    root
        The node of the pattern's tree from which all flaps point the same way.
    positions
        (v, 2) folded vertices in sheet units: x along the axis from the root, y above the axis.
    transforms
        (f, 2, 3) for each face the map from the sheet, as ``[A | t]`` with A orthogonal.
    folded
        (e,) whether an edge is folded; borders and hinges that stay flat are not.
    gaps
        (e,) how far apart the two faces of an edge lay its ends, in sheet units: the closing
        error. Zero by construction along the creases that the faces were laid down by.
    """

    root: int
    positions: NDArray[np.float64]
    transforms: NDArray[np.float64]
    folded: NDArray[np.bool_]
    gaps: NDArray[np.float64]

    @cached_property
    def flipped(self) -> NDArray[np.bool_]:
        """(f,) whether a face shows its back."""
        turned: NDArray[np.bool_] = np.linalg.det(self.transforms[:, :, :2]) < 0
        return turned


def fold(pattern: CreasePattern, root: int | None = None) -> FoldedForm:
    """Fold a pattern flat.

    Faces are reached along the longest creases first, because a reflection in a short crease
    turns rounding into angle.

    Parameters
    ----------
    pattern
        The creases.
    root
        A node of ``pattern.tree``; by default the one that the pattern's flat hinges ask for,
        and the tree's centre where they are not decided yet.

    Raises
    ------
    PatternError
        Where the root is no node of the tree.
    """
    if root is None:
        root = root_of(pattern)
    elif not 0 <= root < pattern.tree.n_nodes:
        raise PatternError(f"node {root} is none of the tree's {pattern.tree.n_nodes} nodes")
    folded = folded_edges(pattern, root)
    transforms = lay_down(pattern, folded, shadow(pattern, root))
    total = np.zeros((len(pattern.points), 2))
    count = np.zeros(len(pattern.points))
    for face, loop in enumerate(pattern.faces):
        rows = list(loop)
        total[rows] += apply(transforms[face], pattern.points[rows])
        count[rows] += 1
    form = FoldedForm(
        root, total / count[:, None], transforms, folded, gaps_of(pattern, transforms)
    )
    for array in (form.positions, form.transforms, form.folded, form.gaps):
        array.setflags(write=False)
    return form


def apply(transform: NDArray[np.float64], points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return (n, 2) points under a (2, 3) map ``[A | t]``."""
    moved: NDArray[np.float64] = points @ transform[:, :2].T + transform[:, 2]
    return moved


def depths(pattern: CreasePattern, root: int) -> NDArray[np.float64]:
    """Return (v,) the distance along the tree from a node to each vertex's place."""
    from_root = node_distances(pattern.tree, pattern.lengths)[root]
    edge = np.array([k for k, _ in pattern.tree_points], dtype=np.intp)
    offset = np.array([s for _, s in pattern.tree_points])
    first, second = from_root[pattern.tree.ends[edge]].T
    depth: NDArray[np.float64] = np.where(second > first, first + offset, first - offset)
    return depth


def shadow(pattern: CreasePattern, root: int) -> NDArray[np.float64]:
    """Return (v, 2) where tree and heights alone say that each vertex comes to lie."""
    return np.column_stack([depths(pattern, root), pattern.heights])


def folded_edges(pattern: CreasePattern, root: int) -> NDArray[np.bool_]:
    """Return (e,) whether each edge is folded when all flaps point away from `root`.

    A hinge stays flat where one side of it lies nearer to the root than the other, and is folded
    where both lie beyond it: there the shadows of its two faces have opposite senses.
    """
    senses = loop_areas(shadow(pattern, root), pattern.faces) > 0
    left, right = pattern.edge_faces.T
    role = np.array(pattern.roles)
    folded: NDArray[np.bool_] = (role != "border") & (left >= 0) & (right >= 0)
    folded &= (role != "hinge") | (senses[left] != senses[right])
    return folded


def centre_of(pattern: CreasePattern) -> int:
    """Return the joint of the pattern's tree that is nearest to its farthest tip."""
    n = pattern.tree.n_tips
    far = node_distances(pattern.tree, pattern.lengths)[n:, :n].max(axis=1)
    return n + int(np.argmin(far))


def root_of(pattern: CreasePattern) -> int:
    """Return the node whose flat hinges are those of the pattern, else the tree's centre."""
    folds = np.array(pattern.folds)
    centre = centre_of(pattern)
    if (folds == "U").any():
        return centre
    asked = (folds == "M") | (folds == "V")
    joints = range(pattern.tree.n_tips, pattern.tree.n_nodes)
    for node in (centre, *joints):
        if (folded_edges(pattern, node) == asked).all():
            return int(node)
    return centre


def lay_down(
    pattern: CreasePattern, folded: NDArray[np.bool_], target: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return (f, 2, 3) maps of the faces: the largest laid onto `target`, the others by reflections.

    Parameters
    ----------
    pattern
        The creases.
    folded
        (e,) whether an edge is folded.
    target
        (v, 2) where the vertices of the largest face come to lie.
    """
    points, faces = pattern.points, pattern.faces
    ways = points[pattern.edges[:, 1]] - points[pattern.edges[:, 0]]
    lengths = np.hypot(*ways.T)
    around: list[list[tuple[int, int]]] = [[] for _ in faces]
    for edge, (f, g) in enumerate(pattern.edge_faces.tolist()):
        if f >= 0 and g >= 0:
            around[f].append((edge, g))
            around[g].append((edge, f))
    first = int(np.argmax(loop_areas(points, faces)))
    rows = list(faces[first])
    maps = np.full((len(faces), 2, 3), np.nan)
    queue: list[tuple[float, int, int, int]] = []
    todo: tuple[int, NDArray[np.float64]] | None = first, _rigid(points[rows], target[rows])
    while todo is not None:
        face, maps[todo[0]] = todo[0], todo[1]
        for edge, other in around[face]:
            heappush(queue, (-lengths[edge], edge, face, other))
        todo = None
        while queue and todo is None:
            _, edge, near, other = heappop(queue)
            if np.isnan(maps[other, 0, 0]):
                step = maps[near]
                if folded[edge]:
                    start = points[pattern.edges[edge, 0]]
                    step = _then(step, _reflection(start, ways[edge] / lengths[edge]))
                todo = other, step
    return maps


def _rigid(points: NDArray[np.float64], target: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the motion or reflection that lays (k, 2) points onto a target as well as it can."""
    a, b = points - points.mean(axis=0), target - target.mean(axis=0)
    u, _, v = np.linalg.svd(b.T @ a)
    turn = u @ v
    return np.column_stack([turn, target.mean(axis=0) - turn @ points.mean(axis=0)])


def _reflection(start: NDArray[np.float64], way: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the reflection in the line through `start` along the unit vector `way`."""
    mirror = 2 * np.outer(way, way) - np.eye(2)
    return np.column_stack([mirror, start - mirror @ start])


def _then(outer: NDArray[np.float64], inner: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the map that does `inner` first."""
    turn = outer[:, :2] @ inner[:, :2]
    return np.column_stack([turn, outer[:, :2] @ inner[:, 2] + outer[:, 2]])


def gaps_of(pattern: CreasePattern, transforms: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return (e,) how far apart the two faces of each edge lay its ends; 0 on the border."""
    left, right = pattern.edge_faces.T
    inner = (left >= 0) & (right >= 0)
    ends = pattern.points[pattern.edges]
    laid = [
        np.einsum("eij,ekj->eki", transforms[side][:, :, :2], ends)
        + transforms[side][:, None, :, 2]
        for side in (left, right)
    ]
    gaps: NDArray[np.float64] = np.where(
        inner, np.linalg.norm(laid[0] - laid[1], axis=2).max(axis=1), 0.0
    )
    return gaps
