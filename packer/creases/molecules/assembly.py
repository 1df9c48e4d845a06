"""From polygons of active paths to one clean crease pattern."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.creases.faces import misfit, split_rivers, unturned
from packer.creases.molecules.universal_molecule import molecule, polygon, side
from packer.creases.pattern import CreasePattern
from packer.creases.plane_graph import merged, trace_faces
from packer.creases.tree_metric import Metric
from packer.errors import PatternError
from packer.units import FOLDS, SAME_PLACE, SAME_POINT, STRAIGHT

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from packer.creases.molecules.universal_molecule import Stroke, Vertex
    from packer.creases.pattern import Fold, Role
    from packer.creases.tip_layout import Plan
    from packer.creases.tree_metric import Place

Loop = tuple[int, ...]

_FIRST: Final[dict[Role, int]] = {"axial": 0, "gusset": 1, "ridge": 2, "hinge": 3}
"""Where two creases fall on one line, the one named first gives the role."""


def pattern_of(plan: Plan, polygons: Sequence[Loop]) -> CreasePattern:
    """Fill polygons with molecules and join them to a crease pattern.

    Parameters
    ----------
    plan
        The tips and the tree.
    polygons
        Counter-clockwise loops of tips that cover the sheet, convex, every side active.

    Raises
    ------
    PatternError
        Where a molecule does not close or the parts do not fit together.
    """
    metric = Metric(plan.tree, plan.lengths, plan.room)
    strokes = [stroke for loop in polygons for stroke in strokes_of(plan, loop, metric)]
    pattern = _joined(plan, strokes, metric)
    off = misfit(pattern)
    if off > FOLDS * plan.sheet.diagonal:
        raise PatternError(f"a face would stretch by {off:.3g} when it is folded")
    lost = unturned(pattern)
    if len(lost):
        x, y = pattern.points[pattern.edges[lost[0]]].mean(axis=0)
        raise PatternError(f"two creases fall onto one line at ({x:.4g}, {y:.4g})")
    return replace(pattern, split_rivers=split_rivers(pattern))


def strokes_of(plan: Plan, loop: Loop, metric: Metric) -> list[Stroke]:
    """Return the creases of one polygon, its sides first."""
    ring = polygon(
        [(float(x), float(y)) for x, y in plan.points[list(loop)]],
        [metric.snapped(metric.home[tip]) for tip in loop],
    )
    strokes: list[Stroke] = []
    for k, corner in enumerate(ring):
        strokes += side(corner, ring[(k + 1) % len(ring)], 0.0, "axial", metric)
    return strokes + molecule(ring, metric)


def _joined(plan: Plan, strokes: list[Stroke], metric: Metric) -> CreasePattern:
    ends: list[Vertex] = [v for s in strokes for v in (s.a, s.b)]
    spots = np.array([(v.x, v.y) for v in ends])
    head = merged(spots, SAME_POINT * plan.sheet.diagonal)
    _check_agreement(plan, ends, head, metric)
    over = _places(ends, head, metric)
    roles: dict[tuple[int, int], Role] = {}
    for k, stroke in enumerate(strokes):
        a, b = sorted((int(head[2 * k]), int(head[2 * k + 1])))
        if a != b:
            known = roles.get((a, b), "hinge")
            roles[a, b] = min(known, stroke.role, key=lambda r: _FIRST[r])
    points = _on_sides(plan, spots)
    _drop_straight(points, roles, {int(head[k]) for k in _tip_ends(plan, spots)})
    used = sorted({v for pair in roles for v in pair})
    number = {v: k for k, v in enumerate(used)}
    pairs = sorted(roles)
    edges = np.array([[number[a], number[b]] for a, b in pairs], dtype=np.intp)
    points = points[used]
    kinds = tuple(
        "border" if _same_side(plan, points[e]) else roles[pair]
        for e, pair in zip(edges, pairs, strict=True)
    )
    folds: tuple[Fold, ...] = tuple("B" if kind == "border" else "U" for kind in kinds)
    tips = {
        name: number[int(head[k])]
        for name, k in zip(plan.tree.flaps, _tip_ends(plan, spots), strict=True)
    }
    return CreasePattern(
        plan.sheet,
        points,
        edges,
        kinds,
        folds,
        trace_faces(points, edges),
        np.array([ends[v].height for v in used]),
        tuple(over[v] for v in used),
        plan.tree,
        plan.lengths,
        tips,
        plan.fillers,
        plan.part_of,
    )


def _tip_ends(plan: Plan, spots: NDArray[np.float64]) -> list[int]:
    """For each tip the stroke end that lies on it."""
    found = []
    for tip, point in enumerate(plan.points):
        far = np.hypot(*(spots - point).T)
        k = int(far.argmin())
        if far[k] > SAME_POINT * plan.sheet.diagonal:
            raise PatternError(f'no crease meets the tip of "{plan.tree.flaps[tip]}"')
        found.append(k)
    return found


def _check_agreement(
    plan: Plan, ends: list[Vertex], head: NDArray[np.intp], metric: Metric
) -> None:
    """Vertices that coincide on the sheet must coincide over the tree and in height."""
    room = SAME_PLACE * plan.sheet.diagonal
    for k, vertex in enumerate(ends):
        other = ends[int(head[k])]
        off = abs(vertex.height - other.height) + metric.between(vertex.place, other.place)
        if off > room:
            raise PatternError(
                f"two molecules disagree by {off:.3g} at ({vertex.x:.6g}, {vertex.y:.6g}); "
                "complete the pattern again with another choice of places"
            )


def _places(ends: list[Vertex], head: NDArray[np.intp], metric: Metric) -> dict[int, Place]:
    """For each merged vertex its place over the tree: a node, where any of its ends is at one."""
    found: dict[int, Place] = {}
    for k, vertex in enumerate(ends):
        v, place = int(head[k]), metric.snapped(vertex.place)
        if v not in found or metric.node_at(place) >= 0:
            found[v] = place
    return found


def _on_sides(plan: Plan, spots: NDArray[np.float64]) -> NDArray[np.float64]:
    """Put what nearly lies on a side of the sheet exactly onto it."""
    room = SAME_POINT * plan.sheet.diagonal
    out = spots.copy()
    for k, size in enumerate((plan.sheet.width, plan.sheet.height)):
        out[np.abs(out[:, k]) <= room, k] = 0.0
        out[np.abs(out[:, k] - size) <= room, k] = size
    return out


def _same_side(plan: Plan, ends: NDArray[np.float64]) -> bool:
    (x, y), (u, v) = ends.tolist()
    return (x == u and x in (0.0, plan.sheet.width)) or (
        y == v and y in (0.0, plan.sheet.height)
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
    """Whether v lies between a and b, to within rounding of their places."""
    (ux, uy), (wx, wy) = v - a, b - v
    across = abs(ux * wy - uy * wx)
    return bool(
        across <= STRAIGHT * np.hypot(ux, uy) * np.hypot(wx, wy) and ux * wx + uy * wy > 0
    )
