"""An independent judge of layer orders: cut the folded paper by a line and look at the stack.

Along a cut every face is an interval and every crease joins two of them. In one dimension it is
plain to see whether the strip passes through itself: the faces over a point must be in one
order, no face may lie between the two that meet at a fold, and two folds at one point may not
be interleaved (Demaine & O'Rourke, Geometric Folding Algorithms, 2007, ch. 11: one-dimensional
flat foldings). Nothing of the package's search is used: only points, faces, folded positions and
the order claimed.
"""

from __future__ import annotations

from itertools import combinations, pairwise

import numpy as np


def cut(pattern, form, start, way):
    """Intervals of each face along a line, and the edges they end at: (face, s0, s1, e0, e1)."""
    edge_of = {}
    for k, (a, b) in enumerate(pattern.edges.tolist()):
        edge_of[a, b] = edge_of[b, a] = k
    normal = np.array([-way[1], way[0]])
    off = (form.positions - start) @ normal
    along = (form.positions - start) @ way
    found = []
    for face, loop in enumerate(pattern.faces):
        crossed = []
        for a, b in zip(loop, (*loop[1:], loop[0]), strict=True):
            if (off[a] > 0) != (off[b] > 0):
                t = off[a] / (off[a] - off[b])
                crossed.append((along[a] + t * (along[b] - along[a]), edge_of[a, b]))
        crossed.sort()
        for (s0, e0), (s1, e1) in zip(crossed[::2], crossed[1::2], strict=True):
            found.append((face, s0, s1, e0, e1))
    return found


def faults(pattern, form, above, start, way, room=1e-7):
    """Count how often the strip along one line passes through itself; `above` is (f, f) signs."""
    pieces = cut(pattern, form, start, way)
    return (
        _broken_orders(pieces, above, room)
        + _pierced(pattern, form, pieces, above, room)
        + _interleaved(pattern, form, pieces, above, room)
    )


def _broken_orders(pieces, above, room):
    ends = sorted({s for piece in pieces for s in piece[1:3]})
    found = 0
    for low, high in pairwise(ends):
        if high - low < room:
            continue
        middle = (low + high) / 2
        stack = [p[0] for p in pieces if p[1] < middle < p[2]]
        # In one order the layers have 0, 1, 2 ... others above them.
        counts = sorted(sum(above[other, face] > 0 for other in stack) for face in stack)
        found += counts != list(range(len(stack)))
    return found


def _ends(pattern, form, pieces):
    """Each crease met by the cut once: (s, folded, near face, far face, side)."""
    by_edge = {}
    for face, s0, s1, e0, e1 in pieces:
        by_edge.setdefault(e0, []).append((s0, face, +1))
        by_edge.setdefault(e1, []).append((s1, face, -1))
    found = []
    for edge, rows in by_edge.items():
        if len(rows) == 2:
            (s, f, f_side), (_, g, g_side) = rows
            assert form.folded[edge] == (f_side == g_side)
            found.append((s, bool(form.folded[edge]), f, g, f_side))
        else:
            assert pattern.roles[edge] == "border"
    return found


def _pierced(pattern, form, pieces, above, room):
    found = 0
    for s, _, f, g, _ in _ends(pattern, form, pieces):
        for face, s0, s1, _, _ in pieces:
            if s0 + room < s < s1 - room and face not in (f, g):
                found += above[face, f] != above[face, g] or above[face, f] == 0
    return found


def _interleaved(pattern, form, pieces, above, room):
    found = 0
    for (s, folded, f, g, side), (t, other, h, k, at) in combinations(
        _ends(pattern, form, pieces), 2
    ):
        if abs(s - t) > room or {f, g} & {h, k}:
            continue
        if folded and other and side == at:
            inside = sum(above[f, x] != above[g, x] for x in (h, k))
            found += inside == 1
        elif not folded and not other:
            near, far = (f, h), (g, k)
            if side != at:
                near, far = (f, k), (g, h)
            found += above[near] != above[far]
    return found


def random_cuts(pattern, form, above, count, seed=0):
    """Cut along random lines through the folded form; return the faults found."""
    rng = np.random.default_rng(seed)
    low, high = form.positions.min(axis=0), form.positions.max(axis=0)
    found = 0
    for k in range(count):
        start = rng.uniform(low, high)
        angle = rng.uniform(0, np.pi) if k % 3 else 1e-3 * rng.normal()
        way = np.array([np.cos(angle), np.sin(angle)])
        found += faults(pattern, form, above, start, way)
    return found
