"""The universal molecule: the creases that fill one convex polygon of active paths.

All sides move inwards at unit speed. A corner moves along its bisector, and its tree point
moves towards its neighbours' at the rate at which the sides shorten there, the cotangent of
half the angle; so sides stay active. The sweep pauses at each event: a side vanishes, a diagonal
becomes active (the polygon is split along it), or a corner's tree point reaches a node. Corners trace the ridges, tree nodes on the sides trace the hinges, splits are gussets.

Tree points are kept, not a trimmed tree: corners around a polygon need not follow the order in
which the tree could be drawn.

Source: the universal molecule of the tree method, SoCG 1996; proved correct in Bowers and
Streinu, Ann. Math. Artif. Intell. 74 (2015); Demaine and O'Rourke 2007, ch. 16.
"""

from __future__ import annotations

import itertools
import math
from functools import lru_cache
from typing import TYPE_CHECKING, Final, NamedTuple

from packer.errors import PatternError
from packer.units import PARALLEL, SHUT, TOUCHES

if TYPE_CHECKING:
    from packer.creases.pattern import Role
    from packer.creases.tree_metric import Metric, TreePoint

NO_SLACK: Final = 2
"""Slack of a diagonal, in units of `Metric.tolerance`, up to which it is active: each of its two
tree points may have been moved onto a node by one tolerance."""

NO_DETOUR: Final = 4
"""Difference of two paths over the tree, in tolerances, that counts as none: twice `NO_SLACK`."""

NO_WIDTH: Final = 5
"""Width of a polygon, in tolerances, at which it is a segment; rounding has added up over the
events before."""

MOST_EVENTS: Final = 2000
"""Events after which a polygon is given up. Each event splits a polygon, merges corners or
passes a node, so a sound polygon has a few times as many events as corners."""


class Vertex(NamedTuple):
    """An end of a crease.

    Attributes
    ----------
    x, y
        Position on the sheet.
    height
        Distance from the axis in the folded form, in sheet units.
    tree_point
        Where it lies over the tree.
    """

    x: float
    y: float
    height: float
    tree_point: TreePoint


class CreasePiece(NamedTuple):
    """A straight crease between two neighbouring vertices.

    Attributes
    ----------
    a, b
        Its ends.
    role
        Its role in the uniaxial base.
    """

    a: Vertex
    b: Vertex
    role: Role


class Corner(NamedTuple):
    """A corner of a shrinking polygon.

    Attributes
    ----------
    x, y
        Position on the sheet.
    tree_point
        Where it lies over the tree.
    dx, dy
        Unit vector along the side that follows it; fixed while the polygon shrinks.
    """

    x: float
    y: float
    tree_point: TreePoint
    dx: float
    dy: float


def polygon(points: list[tuple[float, float]], tree_points: list[TreePoint]) -> list[Corner]:
    """Return the corners of a counter-clockwise polygon.

    Parameters
    ----------
    points
        Positions of the corners on the sheet.
    tree_points
        Where each lies over the tree.
    """
    corners = []
    for k, ((x, y), tree_point) in enumerate(zip(points, tree_points, strict=True)):
        x2, y2 = points[(k + 1) % len(points)]
        length = math.hypot(x2 - x, y2 - y)
        corners.append(Corner(x, y, tree_point, (x2 - x) / length, (y2 - y) / length))
    return corners


def universal_molecule(corners: list[Corner], metric: Metric) -> list[CreasePiece]:
    """Return the creases inside a convex polygon whose sides are all active paths.

    Parameters
    ----------
    corners
        Counter-clockwise, from `polygon`; all sides active, no inner path shorter than its
        tree distance.
    metric
        The tree; its `tolerance` is the length below which a crease is dropped.

    Raises
    ------
    PatternError
        Where the sweep does not end: the polygon does not satisfy the conditions above.
    """
    pieces: list[CreasePiece] = []
    todo = [(corners, 0.0)]
    for _ in range(MOST_EVENTS):
        if not todo:
            return pieces
        ring, height = todo.pop()
        ring = _cleaned(ring, metric)
        if len(ring) < 3 or _is_flat(ring, metric):
            pieces += _spine(ring, height, metric)
            continue
        pair = _active_diagonal(ring, metric)
        if pair is not None:
            pieces += side(ring[pair[0]], ring[pair[1]], height, "gusset", metric)
            todo += [(part, height) for part in _split(ring, *pair, metric.tolerance)]
            continue
        ring, rise, traced = _rise(ring, height, metric)
        pieces += traced
        todo.append((ring, height + rise))
    x, y = corners[0][:2]
    raise PatternError(
        f"the universal_molecule at ({x:.4g}, {y:.4g}) did not close; complete it again"
    )


def side(a: Corner, b: Corner, height: float, role: Role, metric: Metric) -> list[CreasePiece]:
    """Return the crease between two corners at one height, broken at the tree nodes on it."""
    total = math.hypot(b.x - a.x, b.y - a.y)
    vertices = [_at(a, height)]
    if total > metric.tolerance:
        for node, way in metric.nodes_between(a.tree_point, b.tree_point):
            t = way / total
            tree_point = metric.home[node]
            vertices.append(
                Vertex(a.x + t * (b.x - a.x), a.y + t * (b.y - a.y), height, tree_point)
            )
    vertices.append(_at(b, height))
    return [CreasePiece(p, q, role) for p, q in itertools.pairwise(vertices)]


def _at(corner: Corner, height: float) -> Vertex:
    return Vertex(corner.x, corner.y, height, corner.tree_point)


def _cleaned(ring: list[Corner], metric: Metric) -> list[Corner]:
    """Merge corners whose side has vanished; drop straight corners that no longer fold."""
    kept: list[Corner] = []
    for corner in ring:
        if kept and _apart(kept[-1], corner) <= metric.tolerance:
            kept[-1] = kept[-1]._replace(dx=corner.dx, dy=corner.dy)
        else:
            kept.append(corner)
    while len(kept) > 1 and _apart(kept[-1], kept[0]) <= metric.tolerance:
        kept.pop()
    k = 0
    while len(kept) > 3 and k < len(kept):
        a, b, c = kept[k - 1], kept[k], kept[(k + 1) % len(kept)]
        straight = abs(a.dx * b.dy - a.dy * b.dx) <= PARALLEL and a.dx * b.dx + a.dy * b.dy > 0
        if straight and abs(_detour(a, b, c, metric)) <= NO_DETOUR * metric.tolerance:
            kept.pop(k)
        else:
            k += 1
    return kept


def _detour(a: Corner, b: Corner, c: Corner, metric: Metric) -> float:
    """Return how much longer the path over the tree from a to c is through b."""
    through = metric.between(a.tree_point, b.tree_point) + metric.between(
        b.tree_point, c.tree_point
    )
    return through - metric.between(a.tree_point, c.tree_point)


def _apart(a: Corner, b: Corner) -> float:
    return math.hypot(b.x - a.x, b.y - a.y)


def _is_flat(ring: list[Corner], metric: Metric) -> bool:
    """Whether the polygon has shrunk to a segment that is covered twice."""
    x0, y0 = ring[0][:2]
    far = max(ring, key=lambda c: math.hypot(c.x - x0, c.y - y0))
    dx, dy = far.x - x0, far.y - y0
    length = math.hypot(dx, dy)
    across = max(abs((c.x - x0) * dy - (c.y - y0) * dx) for c in ring) / length
    return across <= NO_WIDTH * metric.tolerance


def _spine(ring: list[Corner], height: float, metric: Metric) -> list[CreasePiece]:
    """Return the ridge along which two opposite sides met, broken at the vertices of both."""
    if len(ring) < 2:
        return []
    vertices = []
    for a, b in zip(ring, [*ring[1:], ring[0]], strict=True):
        vertices += [v for s in side(a, b, height, "ridge", metric) for v in (s.a, s.b)]
    first = ring[0]
    far = max(ring, key=lambda c: _apart(first, c))
    dx, dy = far.x - first.x, far.y - first.y
    vertices.sort(key=lambda v: (v.x - first.x) * dx + (v.y - first.y) * dy)
    return [
        CreasePiece(p, q, "ridge")
        for p, q in itertools.pairwise(vertices)
        if math.hypot(q.x - p.x, q.y - p.y) > metric.tolerance
    ]


def _split(ring: list[Corner], i: int, j: int, tolerance: float) -> list[list[Corner]]:
    """Cut a polygon along the diagonal i < j, or at the point where two corners meet."""
    a, b = ring[i], ring[j]
    length = _apart(a, b)
    if length <= tolerance:
        return [ring[i:j], [*ring[:i], *ring[j:]]]
    dx, dy = (b.x - a.x) / length, (b.y - a.y) / length
    return [
        [*ring[i:j], b._replace(dx=-dx, dy=-dy)],
        [*ring[:i], a._replace(dx=dx, dy=dy), *ring[j:]],
    ]


@lru_cache(maxsize=64)
def _diagonals(count: int) -> list[tuple[int, int]]:
    return [
        (i, j)
        for i in range(count - 2)
        for j in range(i + 2, count)
        if not (i == 0 and j == count - 1)
    ]


def _active_diagonal(ring: list[Corner], metric: Metric) -> tuple[int, int] | None:
    """Return the diagonal of least slack, if it is active."""
    least, active = NO_SLACK * metric.tolerance, None
    for i, j in _diagonals(len(ring)):
        slack = _apart(ring[i], ring[j]) - metric.between(
            ring[i].tree_point, ring[j].tree_point
        )
        if slack <= least:
            least, active = slack, (i, j)
    return active


class _Motion(NamedTuple):
    """How a corner moves while all sides move inwards at unit speed.

    Attributes
    ----------
    vx, vy
        Velocity on the sheet.
    rate
        Speed of its tree point.
    way
        Edge of the tree and sign with which the tree point moves, as of `Metric.leave`.
    """

    vx: float
    vy: float
    rate: float
    way: tuple[int, int]


def _motions(ring: list[Corner], metric: Metric) -> list[_Motion]:
    motions = []
    for k, b in enumerate(ring):
        a, c = ring[k - 1], ring[(k + 1) % len(ring)]
        # inner normals of a counter-clockwise polygon lie to the left of its sides
        share = 1 + a.dx * b.dx + a.dy * b.dy
        if share <= SHUT:
            raise PatternError(f"a polygon folds shut at ({b.x:.4g}, {b.y:.4g})")
        vx, vy = -(a.dy + b.dy) / share, (a.dx + b.dx) / share
        rate = vx * b.dx + vy * b.dy
        way = metric.leave(b.tree_point, c.tree_point) if rate > PARALLEL else (-1, 0)
        motions.append(_Motion(vx, vy, rate if way[0] >= 0 else 0.0, way))
    return motions


def _rise(
    ring: list[Corner], height: float, metric: Metric
) -> tuple[list[Corner], float, list[CreasePiece]]:
    """Move all sides inwards to the next event; return the new ring, the rise and the creases."""
    motions = _motions(ring, metric)
    rise = _next_event(ring, motions, metric)
    top = height + rise
    moved = []
    for corner, m in zip(ring, motions, strict=True):
        tree_point = metric.along(corner.tree_point, m.way, m.rate * rise)
        moved.append(
            Corner(
                corner.x + m.vx * rise, corner.y + m.vy * rise, tree_point, corner.dx, corner.dy
            )
        )
    pieces = [
        CreasePiece(_at(a, height), _at(b, top), "ridge")
        for a, b in zip(ring, moved, strict=True)
    ]
    for k, a in enumerate(ring):
        b = ring[(k + 1) % len(ring)]
        ends = moved[k], moved[(k + 1) % len(ring)]
        for node, way in metric.nodes_between(a.tree_point, b.tree_point):
            tree_point = metric.home[node]
            x, y = a.x + way * a.dx, a.y + way * a.dy
            foot = Vertex(x, y, height, tree_point)
            head = Vertex(x - rise * a.dy, y + rise * a.dx, top, tree_point)
            for end in ends:
                # both sides of a ridge must end their hinges on the very same point of it
                if end.tree_point == tree_point:
                    head = _at(end, top)
            pieces.append(CreasePiece(foot, head, "hinge"))
    return moved, rise, pieces


def _next_event(ring: list[Corner], motions: list[_Motion], metric: Metric) -> float:
    """Return how far the sides can move inwards before the next event."""
    n = len(ring)
    rises = []
    for k, m in enumerate(motions):
        closing = m.rate + motions[(k + 1) % n].rate
        if closing > 0:
            rises.append(_apart(ring[k], ring[(k + 1) % n]) / closing)
        if m.rate > 0:
            rises.append(metric.ahead(ring[k].tree_point, m.way) / m.rate)
    for i, j in _diagonals(n):
        when = _meets(ring[i], ring[j], motions[i], motions[j], metric)
        if when is not None:
            rises.append(when)
    if not rises:
        raise PatternError("a polygon of the pattern does not shrink; complete it again")
    return min(rises)


def _meets(a: Corner, b: Corner, m: _Motion, n: _Motion, metric: Metric) -> float | None:
    """Return the rise at which the path between two corners becomes active; None for never."""
    px, py, vx, vy = b.x - a.x, b.y - a.y, n.vx - m.vx, n.vy - m.vy
    far = metric.between(a.tree_point, b.tree_point)
    shrink = m.rate * _facing(a, b, m, metric) + n.rate * _facing(b, a, n, metric)
    # |p + h v|^2 = (far - h shrink)^2
    two = vx * vx + vy * vy - shrink * shrink
    one = px * vx + py * vy + far * shrink
    zero = (math.hypot(px, py) - far) * (math.hypot(px, py) + far)
    root = one * one - two * zero
    if abs(root) <= TOUCHES * one * one:
        root = 0.0
    if root < 0:
        return None
    root = math.sqrt(root)
    if one < 0:
        rises = [zero / (root - one), (root - one) / two if two else math.inf]
    elif two < 0:
        rises = [(-one - root) / two]
    else:
        return None
    return min(
        (h for h in rises if h > 0 and far - h * shrink > -metric.tolerance), default=None
    )


def _facing(a: Corner, b: Corner, m: _Motion, metric: Metric) -> int:
    """+1 where a's tree point moves towards b's, -1 where it moves away."""
    return 1 if metric.leave(a.tree_point, b.tree_point) == m.way else -1
