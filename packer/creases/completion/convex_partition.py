"""Cut the sheet into convex polygons along sides, active paths and as few diagonals as will do."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from packer.creases.plane_graph import Loop, trace_faces
from packer.units import ALIKE, NO_TURN, SAME_POINT, UNBENT

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.creases.tip_layout import Plan

Pair = tuple[int, int]


def convex_partition(plan: Plan, active: float) -> tuple[Loop, ...]:
    """Return counter-clockwise convex loops of tips that cover the sheet.

    Sides of the sheet and active paths are always used; the rest is triangulated greedily by
    least relative slack, and then every inactive diagonal whose ends stay convex without it is
    dropped, largest slack first. Mirror images are used and dropped together.

    Parameters
    ----------
    plan
        A plan with a tip in every corner of the sheet.
    active
        Slack, in sheet units, below which a path is active.
    """
    edges = triangulation(plan, active)
    near = _neighbours(plan, edges)
    kept = set(edges)
    loose = [e for e in edges if plan.slack[e] > active and not _on_border(plan, e)]
    order = sorted(loose, key=lambda e: (-round(_relative(plan, e), ALIKE), e))
    for edge in order:
        group = {edge, _image(plan, edge)}
        if group <= kept and _convex_without(plan, near, group):
            kept -= group
            for a, b in group:
                near[a].remove(b)
                near[b].remove(a)
    return trace_faces(plan.points, np.array(sorted(kept), dtype=np.intp))


def sides_of(polygons: tuple[Loop, ...]) -> set[Pair]:
    """Return the sides of loops as pairs i < j."""
    return {
        (min(a, b), max(a, b))
        for loop in polygons
        for a, b in zip(loop, (*loop[1:], loop[0]), strict=True)
    }


def triangulation(plan: Plan, active: float) -> list[Pair]:
    """Return a largest set of pairs of tips that do not cross: borders, active paths, the rest.

    Greedy by least relative slack; mirror images are taken together.

    Parameters
    ----------
    plan
        A plan with a tip in every corner of the sheet.
    active
        Slack, in sheet units, below which a path is active.
    """
    i, j = np.triu_indices(plan.tree.n_tips, 1)
    clear = _unblocked(plan, i, j)
    i, j = i[clear], j[clear]
    image = np.sort(plan.mirror[np.stack([i, j])], axis=0)
    slack = plan.slack[i, j]
    relative = np.round(slack / plan.gaps[i, j], ALIKE)
    rank = np.where(_borders(plan, i, j), -2.0, np.where(slack <= active, -1.0, relative))
    order = np.lexsort((j, i, np.round(plan.gaps[i, j], ALIKE), rank))
    turns = _turns(plan)
    number = np.full(plan.slack.shape, -1)
    number[i, j] = np.arange(len(i))
    twin = number[image[0], image[1]]
    open_ = twin >= 0
    kept: list[Pair] = []
    for k in order.tolist():
        group = sorted({k, int(twin[k])})
        crossed = (
            [_crossed(turns, int(i[g]), int(j[g]), i, j) for g in group] if open_[k] else []
        )
        if not open_[group].all() or any(row[group].any() for row in crossed):
            continue
        for g, row in zip(group, crossed, strict=True):
            open_ &= ~row
            open_[g] = False
            kept.append((int(i[g]), int(j[g])))
    return kept


def _turns(plan: Plan) -> NDArray[np.int8]:
    """(tips, tips, tips) on which side of the line through two tips a third one lies."""
    x, y = plan.points.T
    dx, dy = x[None] - x[:, None], y[None] - y[:, None]
    area = dx[:, :, None] * dy[:, None, :] - dy[:, :, None] * dx[:, None, :]
    area[np.abs(area) <= NO_TURN * plan.sheet.diagonal**2] = 0.0
    turns: NDArray[np.int8] = np.sign(area).astype(np.int8)
    return turns


def _crossed(
    turns: NDArray[np.int8],
    p: int,
    q: int,
    i: NDArray[np.intp],
    j: NDArray[np.intp],
) -> NDArray[np.bool_]:
    """Whether the open segment p-q crosses the open segments i-j; shared ends do not cross."""
    here, there = turns[p, q], turns[i, j]
    found: NDArray[np.bool_] = (here[i] * here[j] < 0) & (there[:, p] * there[:, q] < 0)
    return found


def _relative(plan: Plan, edge: Pair) -> float:
    return float(plan.slack[edge] / plan.gaps[edge])


def _image(plan: Plan, edge: Pair) -> Pair:
    a, b = plan.mirror[list(edge)].tolist()
    return (a, b) if a < b else (b, a)


def _on_border(plan: Plan, edge: Pair) -> bool:
    i, j = np.array([edge]).T
    return bool(_borders(plan, i, j)[0])


def _borders(plan: Plan, i: NDArray[np.intp], j: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Whether both tips of a pair lie on one side of the sheet."""
    size = np.array([plan.sheet.width, plan.sheet.height])
    room = SAME_POINT * plan.sheet.diagonal
    low, high = plan.points <= room, plan.points >= size - room
    return np.asarray(((low[i] & low[j]) | (high[i] & high[j])).any(axis=1))


def _unblocked(plan: Plan, i: NDArray[np.intp], j: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Whether no third tip lies on the segment between two."""
    p, ways = plan.points[i], plan.points[j] - plan.points[i]
    length = plan.gaps[i, j]
    to = plan.points[None] - p[:, None]
    along = (to * ways[:, None]).sum(axis=2) / length[:, None] ** 2
    across = (
        np.abs(to[..., 0] * ways[:, None, 1] - to[..., 1] * ways[:, None, 0]) / length[:, None]
    )
    room = SAME_POINT * plan.sheet.diagonal
    blocked = (across <= 10 * room) & (along > SAME_POINT) & (along < 1 - SAME_POINT)
    k = np.arange(len(i))
    blocked[k, i] = blocked[k, j] = False
    clear: NDArray[np.bool_] = ~blocked.any(axis=1)
    return clear


def _neighbours(plan: Plan, edges: list[Pair]) -> list[set[int]]:
    near: list[set[int]] = [set() for _ in range(plan.tree.n_tips)]
    for a, b in edges:
        near[a].add(b)
        near[b].add(a)
    return near


def _convex_without(plan: Plan, near: list[set[int]], group: set[Pair]) -> bool:
    """Whether all angles at the ends of some pairs stay at most 180 degrees without them."""
    gone: dict[int, set[int]] = {}
    for a, b in group:
        gone.setdefault(a, set()).add(b)
        gone.setdefault(b, set()).add(a)
    return all(_is_convex(plan, v, near[v] - gone[v]) for v in gone)


def _is_convex(plan: Plan, v: int, around: set[int]) -> bool:
    """Whether every angle at a tip that lies inside the sheet is at most 180 degrees."""
    ways = plan.points[sorted(around)] - plan.points[v]
    ways = ways / np.hypot(ways[:, 0], ways[:, 1])[:, None]
    ways = ways[np.argsort(np.arctan2(ways[:, 1], ways[:, 0]))]
    after = np.roll(ways, -1, axis=0)
    cross = ways[:, 0] * after[:, 1] - ways[:, 1] * after[:, 0]
    dot = (ways * after).sum(axis=1)
    open_ = (cross < -UNBENT) | ((np.abs(cross) <= UNBENT) & (dot > 0))
    (x, y) = plan.points[v]
    room = SAME_POINT * plan.sheet.diagonal
    inside = room < x < plan.sheet.width - room and room < y < plan.sheet.height - room
    # a tip on the border has one angle that is outside the sheet
    return int(open_.sum()) <= (0 if inside else 1) and len(around) > 1


def bent(plan: Plan, loop: Loop) -> bool:
    """Whether a loop has a corner of more than 180 degrees."""
    p = plan.points[list(loop)]
    one = p - np.roll(p, 1, axis=0)
    two = np.roll(one, -1, axis=0)
    cross = one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]
    length = np.hypot(one[:, 0], one[:, 1]) * np.hypot(two[:, 0], two[:, 1])
    return bool((cross < -UNBENT * length).any())
