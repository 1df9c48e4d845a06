"""Cut the sheet into convex polygons along sides, active paths and as few diagonals as will do."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from packer.creases.plane_graph import Loop, trace_faces
from packer.units import ALIKE, NO_TURN, SAME_POINT, UNBENT

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.creases.tip_layout import TipLayout

Pair = tuple[int, int]


def convex_partition(
    layout: TipLayout, active: float, wanted: frozenset[Pair] = frozenset()
) -> tuple[Loop, ...]:
    """Return counter-clockwise convex loops of tips that cover the sheet.

    Sides of the sheet and active paths are always used; the rest is triangulated greedily by
    least relative slack, and then every inactive diagonal whose ends stay convex without it is
    dropped, largest slack first. Mirror images are used and dropped together.

    Parameters
    ----------
    layout
        A layout with a tip in every corner of the sheet.
    active
        Slack, in sheet units, below which a path is active.
    wanted
        Pairs i < j that are not dropped, where they are diagonals.
    """
    edges = triangulation(layout, active, wanted)
    near = _neighbours(layout, edges)
    kept = set(edges)
    loose = [
        e
        for e in edges
        if layout.slack[e] > active
        and not _on_border(layout, e)
        and not wanted & {e, _image(layout, e)}
    ]
    order = sorted(loose, key=lambda e: (-round(_relative(layout, e), ALIKE), e))
    for edge in order:
        group = {edge, _image(layout, edge)}
        if group <= kept and _convex_without(layout, near, group):
            kept -= group
            for a, b in group:
                near[a].remove(b)
                near[b].remove(a)
    return trace_faces(layout.points, np.array(sorted(kept), dtype=np.intp))


def sides_of(polygons: tuple[Loop, ...]) -> set[Pair]:
    """Return the sides of loops as pairs i < j."""
    return {
        (min(a, b), max(a, b))
        for loop in polygons
        for a, b in zip(loop, (*loop[1:], loop[0]), strict=True)
    }


def triangulation(
    layout: TipLayout, active: float, wanted: frozenset[Pair] = frozenset()
) -> list[Pair]:
    """Return a largest set of pairs of tips that do not cross: borders, active paths, the rest.

    Greedy by least relative slack; mirror images are taken together.

    Parameters
    ----------
    layout
        A layout with a tip in every corner of the sheet.
    active
        Slack, in sheet units, below which a path is active.
    wanted
        Pairs i < j to take before others that are not active.
    """
    i, j = np.triu_indices(layout.tree.n_tips, 1)
    clear = _unblocked(layout, i, j)
    i, j = i[clear], j[clear]
    image = np.sort(layout.mirror[np.stack([i, j])], axis=0)
    slack = layout.slack[i, j]
    relative = np.round(slack / layout.gaps[i, j], ALIKE)
    rank = np.where(_borders(layout, i, j), -2.0, np.where(slack <= active, -1.0, relative))
    for pair in {pair for one in wanted for pair in (one, _image(layout, one))}:
        rank[(i == pair[0]) & (j == pair[1]) & (rank > 0)] = -0.5
    order = np.lexsort((j, i, np.round(layout.gaps[i, j], ALIKE), rank))
    turns = _turns(layout)
    number = np.full(layout.slack.shape, -1)
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


def _turns(layout: TipLayout) -> NDArray[np.int8]:
    """(tips, tips, tips) on which side of the line through two tips a third one lies."""
    x, y = layout.points.T
    dx, dy = x[None] - x[:, None], y[None] - y[:, None]
    area = dx[:, :, None] * dy[:, None, :] - dy[:, :, None] * dx[:, None, :]
    area[np.abs(area) <= NO_TURN * layout.sheet.diagonal**2] = 0.0
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
    crossed: NDArray[np.bool_] = (here[i] * here[j] < 0) & (there[:, p] * there[:, q] < 0)
    return crossed


def _relative(layout: TipLayout, edge: Pair) -> float:
    return float(layout.slack[edge] / layout.gaps[edge])


def _image(layout: TipLayout, edge: Pair) -> Pair:
    a, b = layout.mirror[list(edge)].tolist()
    return (a, b) if a < b else (b, a)


def _on_border(layout: TipLayout, edge: Pair) -> bool:
    i, j = np.array([edge]).T
    return bool(_borders(layout, i, j)[0])


def _borders(layout: TipLayout, i: NDArray[np.intp], j: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Whether both tips of a pair lie on one side of the sheet."""
    size = np.array([layout.sheet.width, layout.sheet.height])
    tolerance = SAME_POINT * layout.sheet.diagonal
    low, high = layout.points <= tolerance, layout.points >= size - tolerance
    return np.asarray(((low[i] & low[j]) | (high[i] & high[j])).any(axis=1))


def _unblocked(
    layout: TipLayout, i: NDArray[np.intp], j: NDArray[np.intp]
) -> NDArray[np.bool_]:
    """Whether no third tip lies on the segment between two."""
    p, ways = layout.points[i], layout.points[j] - layout.points[i]
    length = layout.gaps[i, j]
    to = layout.points[None] - p[:, None]
    along = (to * ways[:, None]).sum(axis=2) / length[:, None] ** 2
    across = (
        np.abs(to[..., 0] * ways[:, None, 1] - to[..., 1] * ways[:, None, 0]) / length[:, None]
    )
    tolerance = SAME_POINT * layout.sheet.diagonal
    blocked = (across <= 10 * tolerance) & (along > SAME_POINT) & (along < 1 - SAME_POINT)
    k = np.arange(len(i))
    blocked[k, i] = blocked[k, j] = False
    clear: NDArray[np.bool_] = ~blocked.any(axis=1)
    return clear


def _neighbours(layout: TipLayout, edges: list[Pair]) -> list[set[int]]:
    near: list[set[int]] = [set() for _ in range(layout.tree.n_tips)]
    for a, b in edges:
        near[a].add(b)
        near[b].add(a)
    return near


def _convex_without(layout: TipLayout, near: list[set[int]], group: set[Pair]) -> bool:
    """Whether all angles at the ends of some pairs stay at most 180 degrees without them."""
    gone: dict[int, set[int]] = {}
    for a, b in group:
        gone.setdefault(a, set()).add(b)
        gone.setdefault(b, set()).add(a)
    return all(_is_convex(layout, v, near[v] - gone[v]) for v in gone)


def _is_convex(layout: TipLayout, v: int, around: set[int]) -> bool:
    """Whether every angle at a tip that lies inside the sheet is at most 180 degrees."""
    ways = layout.points[sorted(around)] - layout.points[v]
    ways = ways / np.hypot(ways[:, 0], ways[:, 1])[:, None]
    ways = ways[np.argsort(np.arctan2(ways[:, 1], ways[:, 0]))]
    after = np.roll(ways, -1, axis=0)
    cross = ways[:, 0] * after[:, 1] - ways[:, 1] * after[:, 0]
    dot = (ways * after).sum(axis=1)
    open_ = (cross < -UNBENT) | ((np.abs(cross) <= UNBENT) & (dot > 0))
    (x, y) = layout.points[v]
    tolerance = SAME_POINT * layout.sheet.diagonal
    inside = (
        tolerance < x < layout.sheet.width - tolerance
        and tolerance < y < layout.sheet.height - tolerance
    )
    # a tip on the border has one angle that is outside the sheet
    return int(open_.sum()) <= (0 if inside else 1) and len(around) > 1


def has_reflex_corner(layout: TipLayout, loop: Loop) -> bool:
    """Whether a loop has a corner of more than 180 degrees."""
    p = layout.points[list(loop)]
    one = p - np.roll(p, 1, axis=0)
    two = np.roll(one, -1, axis=0)
    cross = one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]
    length = np.hypot(one[:, 0], one[:, 1]) * np.hypot(two[:, 0], two[:, 1])
    return bool((cross < -UNBENT * length).any())
