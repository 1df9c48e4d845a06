"""Join the molecules of all polygons to one crease pattern."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.creases.faces import misfit, split_rivers, unturned
from packer.creases.molecules.universal_molecule import polygon, side, universal_molecule
from packer.creases.pattern import CreasePattern
from packer.creases.plane_graph import merged, trace_faces
from packer.creases.tree_metric import Metric
from packer.errors import PatternError
from packer.units import FOLDS, SAME_PLACE, SAME_POINT, STRAIGHT

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from packer.creases.molecules.universal_molecule import CreasePiece, Vertex
    from packer.creases.pattern import Fold, Role
    from packer.creases.tip_layout import TipLayout
    from packer.creases.tree_metric import TreePoint

Loop = tuple[int, ...]

_PRECEDENCE: Final[dict[Role, int]] = {"axial": 0, "gusset": 1, "ridge": 2, "hinge": 3}
"""Where two creases fall on one line, the one named first gives the role."""


def pattern_of(layout: TipLayout, polygons: Sequence[Loop]) -> CreasePattern:
    """Fill polygons with molecules and join them to a crease pattern.

    Parameters
    ----------
    layout
        The tips and the tree.
    polygons
        Counter-clockwise loops of tips that cover the sheet, convex, every side active.

    Raises
    ------
    PatternError
        Where a molecule does not close, or neighbouring molecules disagree.
    """
    metric = Metric(layout.tree, layout.lengths, layout.tolerance)
    pieces = [piece for loop in polygons for piece in crease_pieces(layout, loop, metric)]
    pattern = _joined(layout, pieces, metric)
    off = misfit(pattern)
    if off > FOLDS * layout.sheet.diagonal:
        raise PatternError(f"a face would stretch by {off:.3g} when it is folded")
    lost = unturned(pattern)
    if len(lost):
        x, y = pattern.points[pattern.edges[lost[0]]].mean(axis=0)
        raise PatternError(f"two creases fall onto one line at ({x:.4g}, {y:.4g})")
    return replace(pattern, split_rivers=split_rivers(pattern))


def crease_pieces(layout: TipLayout, loop: Loop, metric: Metric) -> list[CreasePiece]:
    """Return the creases of one polygon, its sides first."""
    ring = polygon(
        [(float(x), float(y)) for x, y in layout.points[list(loop)]],
        [metric.snapped(metric.home[tip]) for tip in loop],
    )
    pieces: list[CreasePiece] = []
    for k, corner in enumerate(ring):
        pieces += side(corner, ring[(k + 1) % len(ring)], 0.0, "axial", metric)
    return pieces + universal_molecule(ring, metric)


def _joined(layout: TipLayout, pieces: list[CreasePiece], metric: Metric) -> CreasePattern:
    ends: list[Vertex] = [v for s in pieces for v in (s.a, s.b)]
    at = np.array([(v.x, v.y) for v in ends])
    head = merged(at, SAME_POINT * layout.sheet.diagonal)
    _check_agreement(layout, ends, head, metric)
    over = _tree_points_of(ends, head, metric)
    roles: dict[tuple[int, int], Role] = {}
    for k, piece in enumerate(pieces):
        a, b = sorted((int(head[2 * k]), int(head[2 * k + 1])))
        if a != b:
            known = roles.get((a, b), "hinge")
            roles[a, b] = min(known, piece.role, key=lambda r: _PRECEDENCE[r])
    points = _on_sides(layout, at)
    _drop_straight(points, roles, {int(head[k]) for k in _tip_ends(layout, at)})
    used = sorted({v for pair in roles for v in pair})
    number = {v: k for k, v in enumerate(used)}
    pairs = sorted(roles)
    edges = np.array([[number[a], number[b]] for a, b in pairs], dtype=np.intp)
    points = points[used]
    kinds = tuple(
        "border" if _same_side(layout, points[e]) else roles[pair]
        for e, pair in zip(edges, pairs, strict=True)
    )
    folds: tuple[Fold, ...] = tuple("B" if kind == "border" else "U" for kind in kinds)
    tips = {
        name: number[int(head[k])]
        for name, k in zip(layout.tree.flaps, _tip_ends(layout, at), strict=True)
    }
    return CreasePattern(
        layout.sheet,
        points,
        edges,
        kinds,
        folds,
        trace_faces(points, edges),
        np.array([ends[v].height for v in used]),
        tuple(over[v] for v in used),
        layout.tree,
        layout.lengths,
        tips,
        layout.fillers,
        layout.part_of,
    )


def _tip_ends(layout: TipLayout, at: NDArray[np.float64]) -> list[int]:
    """For each tip the number of an end of a crease that lies on it."""
    ends = []
    for tip, point in enumerate(layout.points):
        far = np.hypot(*(at - point).T)
        k = int(far.argmin())
        if far[k] > SAME_POINT * layout.sheet.diagonal:
            raise PatternError(f'no crease meets the tip of "{layout.tree.flaps[tip]}"')
        ends.append(k)
    return ends


def _check_agreement(
    layout: TipLayout, ends: list[Vertex], head: NDArray[np.intp], metric: Metric
) -> None:
    """Vertices that coincide on the sheet must coincide over the tree and in height."""
    tolerance = SAME_PLACE * layout.sheet.diagonal
    for k, vertex in enumerate(ends):
        other = ends[int(head[k])]
        off = abs(vertex.height - other.height) + metric.between(
            vertex.tree_point, other.tree_point
        )
        if off > tolerance:
            raise PatternError(
                f"two molecules disagree by {off:.3g} at ({vertex.x:.6g}, {vertex.y:.6g}); "
                "complete the pattern again with other fillers"
            )


def _tree_points_of(
    ends: list[Vertex], head: NDArray[np.intp], metric: Metric
) -> dict[int, TreePoint]:
    """For each merged vertex its tree point: a node, where any of the merged ends is at one."""
    known: dict[int, TreePoint] = {}
    for k, vertex in enumerate(ends):
        v, tree_point = int(head[k]), metric.snapped(vertex.tree_point)
        if v not in known or metric.node_at(tree_point) >= 0:
            known[v] = tree_point
    return known


def _on_sides(layout: TipLayout, at: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return (n, 2) points, those that nearly lie on a side of the sheet moved onto it."""
    tolerance = SAME_POINT * layout.sheet.diagonal
    out = at.copy()
    for k, size in enumerate((layout.sheet.width, layout.sheet.height)):
        out[np.abs(out[:, k]) <= tolerance, k] = 0.0
        out[np.abs(out[:, k] - size) <= tolerance, k] = size
    return out


def _same_side(layout: TipLayout, ends: NDArray[np.float64]) -> bool:
    (x, y), (u, v) = ends.tolist()
    return (x == u and x in (0.0, layout.sheet.width)) or (
        y == v and y in (0.0, layout.sheet.height)
    )


def _drop_straight(
    points: NDArray[np.float64], roles: dict[tuple[int, int], Role], keep: set[int]
) -> None:
    """Remove vertices where two creases of one role only run on straight; changes `roles`."""
    near: dict[int, set[int]] = {}
    for a, b in roles:
        near.setdefault(a, set()).add(b)
        near.setdefault(b, set()).add(a)
    for v in sorted(near):
        if len(near[v]) != 2 or v in keep:
            continue
        a, b = near[v]
        one, two = roles[min(a, v), max(a, v)], roles[min(b, v), max(b, v)]
        if one != two or not _is_straight(points[a], points[v], points[b]):
            continue
        del roles[min(a, v), max(a, v)], roles[min(b, v), max(b, v)]
        roles[min(a, b), max(a, b)] = one
        near[a] = near[a] - {v} | {b}
        near[b] = near[b] - {v} | {a}
        near[v] = set()


def _is_straight(
    a: NDArray[np.float64], v: NDArray[np.float64], b: NDArray[np.float64]
) -> bool:
    """Whether v lies between a and b, to within rounding of their positions."""
    (ux, uy), (wx, wy) = v - a, b - v
    across = abs(ux * wy - uy * wx)
    return bool(
        across <= STRAIGHT * np.hypot(ux, uy) * np.hypot(wx, wy) and ux * wx + uy * wy > 0
    )
