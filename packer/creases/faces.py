"""Each face over its one edge of the tree, and whether it folds without stretching.

Between hinges a face of a uniaxial base lies over one edge of the tree. In the folded form a
vertex is (offset along that edge, height above the axis), so the face folds rigidly exactly
when that map keeps its distances. Faces that agree on the tree points and heights of their vertices
then fit together: the pattern folds flat into its tree, up to the order of the layers.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from packer.creases.plane_graph import joined, loop_areas
from packer.errors import PatternError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.creases.pattern import CreasePattern


def edges_of_faces(pattern: CreasePattern) -> NDArray[np.intp]:
    """Return for each face the edge of the tree over which it lies.

    Raises
    ------
    PatternError
        Where the vertices of a face lie over no common edge.
    """
    over = _edges_over(pattern)
    edges = np.empty(len(pattern.faces), dtype=np.intp)
    for f, loop in enumerate(pattern.faces):
        common = set.intersection(*(over[v] for v in loop))
        if len(common) != 1:
            x, y = pattern.points[list(loop)].mean(axis=0)
            raise PatternError(
                f"the face at ({x:.4g}, {y:.4g}) lies over {len(common)} edges of the tree, not 1"
            )
        edges[f] = common.pop()
    return edges


def strands(pattern: CreasePattern) -> dict[str, int]:
    """Return in how many strands the paper holds each flap and river of the tree, by name.

    A strand is a connected set of faces over one edge of the tree. A river in one strand is
    whole; in more, the limb beyond it is a bundle.
    """
    over = edges_of_faces(pattern)
    left, right = pattern.edge_faces.T
    one = (left >= 0) & (right >= 0) & (over[left] == over[right])
    label = joined(len(pattern.faces), left[one], right[one])
    return {
        name: len(set(label[over == edge].tolist()))
        for edge, name in enumerate(pattern.tree.names)
    }


def split_rivers(pattern: CreasePattern) -> tuple[str, ...]:
    """Return the rivers of the figure that the paper holds in more than one strand.

    A river cut by a filler is split where one of its pieces is. Pieces of a cut flap are no
    rivers.
    """
    tree = pattern.tree
    flaps = {pattern.part_of.get(name) for name in tree.flaps}
    split = {
        pattern.part_of[name]
        for name, count in strands(pattern).items()
        if count > 1 and name in tree.rivers and name in pattern.part_of
    }
    return tuple(sorted(split - flaps))


def misfit(pattern: CreasePattern) -> float:
    """Return the worst error, in sheet units, of a distance in a face when it is folded.

    Raises
    ------
    PatternError
        Where the vertices of a face lie over no common edge.
    """
    folded, corners = _laid(pattern)
    flat = pattern.points[[v for loop in pattern.faces for v in loop]]
    worst = 0.0
    for turn in (1, 2):
        other = [k for rows in corners for k in (*rows[turn:], *rows[:turn])]
        before, after = flat - flat[other], folded - folded[other]
        off = np.hypot(before[:, 0], before[:, 1]) - np.hypot(after[:, 0], after[:, 1])
        worst = max(worst, float(np.abs(off).max()))
    return worst


def unturned(pattern: CreasePattern) -> NDArray[np.intp]:
    """Return the creases, hinges left out, at which the folded paper does not turn over.

    Two creases nearer to each other than vertices are told apart cancel: merged into one they
    would be folded once instead of twice.

    Raises
    ------
    PatternError
        Where the vertices of a face lie over no common edge.
    """
    folded, corners = _laid(pattern)
    front = loop_areas(folded, corners) > 0
    left, right = pattern.edge_faces.T
    asked = np.array([role not in {"border", "hinge"} for role in pattern.roles])
    return np.flatnonzero(asked & (front[left] == front[right]))


def _laid(pattern: CreasePattern) -> tuple[NDArray[np.float64], list[tuple[int, ...]]]:
    """Lay each face over its own edge: (k, 2) offsets and heights, and the rows of each face."""
    over = edges_of_faces(pattern)
    rows = [(v, e) for e, loop in zip(over.tolist(), pattern.faces, strict=True) for v in loop]
    along = [offset_on(pattern, v, e) for v, e in rows]
    ends = np.cumsum([len(loop) for loop in pattern.faces]).tolist()
    corners = [tuple(range(a, b)) for a, b in zip([0, *ends[:-1]], ends, strict=True)]
    return np.column_stack([along, pattern.heights[[v for v, _ in rows]]]), corners


def offset_on(pattern: CreasePattern, vertex: int, edge: int) -> float:
    """Return the offset of a vertex on an edge that it lies over, perhaps at one of its ends."""
    own, offset = pattern.tree_points[vertex]
    if own == edge:
        return offset
    node = pattern.tree.ends[own, 0 if offset <= 0 else 1]
    return 0.0 if pattern.tree.ends[edge, 0] == node else float(pattern.lengths[edge])


def _edges_over(pattern: CreasePattern) -> list[set[int]]:
    """For each vertex the edges of the tree it lies over: one, or all that meet at a node."""
    over: list[set[int]] = []
    for edge, offset in pattern.tree_points:
        if 0 < offset < pattern.lengths[edge]:
            over.append({edge})
        else:
            node = int(pattern.tree.ends[edge, 0 if offset <= 0 else 1])
            over.append({k for _, k in pattern.tree.neighbours[node]})
    return over
