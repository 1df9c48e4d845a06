"""A plain reference of the layer order's referees: every crease against every face, one by one.

Faces are taken as they are, not joined to layers, and nothing of the package's geometry is used but
points, faces, folded positions and the ranks claimed. The conditions are those of Justin (1994) in
the words of Akitaya, Demaine and Ku (2017).
"""

from __future__ import annotations

import numpy as np

ROOM = 1e-6
"""Share of the diagonal below which things only touch: ten times the package's own."""


def overlapping(layers):
    """Return (n, n) whether two layers cover a part of the plane together; false on the diagonal."""
    cover = layers.cover.astype(float)
    return (cover.T @ cover > 0) & ~np.eye(cover.shape[1], dtype=bool)


def faults(pattern, form, rank):
    """Count taco-tortillas and taco-tacos that ranks of faces break."""
    room = ROOM * pattern.sheet.diagonal
    at = form.positions
    shapes = [upright(at[list(loop)]) for loop in pattern.faces]
    edges = [
        (at[a], at[b], f, g, bool(form.folded[k]))
        for k, ((a, b), (f, g)) in enumerate(
            zip(pattern.edges.tolist(), pattern.edge_faces.tolist(), strict=True)
        )
        if f >= 0 and g >= 0
    ]
    found = 0
    for p, q, f, g, _ in edges:
        low, high = sorted((rank[f], rank[g]))
        for h, shape in enumerate(shapes):
            if h not in (f, g) and low < rank[h] < high:
                found += inside(p, q, shape) > room
    folded = [edge for edge in edges if edge[4]]
    for k, one in enumerate(folded):
        for other in folded[:k]:
            if {one[2], one[3]} & {other[2], other[3]}:
                continue
            a, b = sorted((rank[one[2]], rank[one[3]]))
            c, d = sorted((rank[other[2]], rank[other[3]]))
            if (a < c < b < d or c < a < d < b) and share_a_side(one, other, shapes, room):
                found += 1
    return found


def upright(ring):
    """The ring of a face counter-clockwise."""
    x, y = ring.T
    area = (x * np.roll(y, -1) - np.roll(x, -1) * y).sum()
    return ring if area > 0 else ring[::-1]


def inside(p, q, ring):
    """Length of a segment within a convex ring, its very border left out."""
    start, end = 0.0, 1.0
    length = np.hypot(*(q - p))
    for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True):
        side = b - a
        left = np.array([-side[1], side[0]]) / np.hypot(*side)
        u, v = (p - a) @ left - ROOM / 4, (q - a) @ left - ROOM / 4
        if u <= 0 and v <= 0:
            return 0.0
        if u < 0:
            start = max(start, u / (u - v))
        elif v < 0:
            end = min(end, u / (u - v))
    return max(0.0, end - start) * length


def share_a_side(one, other, shapes, room):
    """Whether two creases lie on one line along some length, their faces on the same side."""
    p, q = one[0], one[1]
    length = np.hypot(*(q - p))
    way = (q - p) / length
    normal = np.array([-way[1], way[0]])
    ends = [other[0] - p, other[1] - p]
    if max(abs(e @ normal) for e in ends) > room / 4:
        return False
    along = sorted(e @ way for e in ends)
    if min(along[1], length) - max(along[0], 0) < room:
        return False
    sides = [np.sign((shapes[edge[2]].mean(axis=0) - p) @ normal) for edge in (one, other)]
    return bool(sides[0] == sides[1])
