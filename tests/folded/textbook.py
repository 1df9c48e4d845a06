"""Textbook bases written out by hand: each triangle of active paths is filled by a rabbit ear.

A triangle with three active sides takes one molecule: its angle bisectors are ridges, they meet
above the joint that the three paths share, and hinges rise from every joint along the sides
(Demaine & O'Rourke, Geometric Folding Algorithms, 2007, ch. 16). No code of the package's own
molecules is used here.
"""

from __future__ import annotations

import math

import numpy as np

from packer.creases.pattern import CreasePattern
from packer.model.figure import Figure, Flap, River
from packer.model.sheet import Sheet
from packer.model.tree import node_distances, tree_of

ROOT2 = math.sqrt(2)


def star(**lengths: float) -> Figure:
    return Figure("star", tuple(Flap(n, "hub", length) for n, length in lengths.items()))


class _Builder:
    """Collects vertices with height and place, and edges with a role."""

    def __init__(self, sheet, figure, tips):
        self.sheet, self.tree, self.tips = sheet, tree_of(figure), tips
        self.lengths = self.tree.lengths
        self.between = node_distances(self.tree, self.lengths)
        self.points, self.heights, self.places = [], [], []
        self.edges, self.faces = {}, []

    def vertex(self, point, height, place):
        for k, other in enumerate(self.points):
            if math.dist(other, point) < 1e-9:
                return k
        self.points.append(tuple(point))
        self.heights.append(height)
        self.places.append(place)
        return len(self.points) - 1

    def edge(self, a, b, role):
        key = (min(a, b), max(a, b))
        if role == "axial" and key in self.edges:
            return
        self.edges.setdefault(key, role)

    def place_of(self, node):
        edge = min(k for _, k in self.tree.neighbours[node])
        return edge, 0.0 if self.tree.ends[edge, 0] == node else float(self.lengths[edge])

    def nodes_between(self, i, j):
        """Nodes on the path from tip i to tip j with their distance from i, ends included."""
        d = self.between
        on = [n for n in range(self.tree.n_nodes) if abs(d[i, n] + d[n, j] - d[i, j]) < 1e-9]
        return sorted((float(d[i, n]), n) for n in on)

    def pattern(self):
        counts = {}
        for loop in self.faces:
            for a, b in zip(loop, (*loop[1:], loop[0]), strict=True):
                counts[min(a, b), max(a, b)] = counts.get((min(a, b), max(a, b)), 0) + 1
        roles = tuple("border" if counts[k] == 1 else r for k, r in self.edges.items())
        return CreasePattern(
            sheet=self.sheet,
            points=np.array(self.points),
            edges=np.array(list(self.edges)),
            roles=roles,
            folds=tuple("B" if r == "border" else "U" for r in roles),
            faces=tuple(self.faces),
            heights=np.array(self.heights),
            tree_points=tuple(self.places),
            tree=self.tree,
            lengths=self.lengths,
            tips={n: self._tip(n) for n in self.tree.flaps},
        )

    def _tip(self, name):
        return self.vertex(self.tips[name], 0.0, None)


def rabbit_ears(figure, tips, triangles, sheet=None):
    """Fill triangles of active paths, given as triples of flap names in ccw order."""
    built = _Builder(sheet or Sheet(), figure, tips)
    index = {n: k for k, n in enumerate(built.tree.flaps)}
    for names in triangles:
        _rabbit_ear(built, [index[n] for n in names], [np.array(tips[n]) for n in names])
    return built.pattern()


def _rabbit_ear(built, ids, corners):
    sides = [math.dist(corners[k - 2], corners[k - 1]) for k in range(3)]  # opposite corner k
    for k in range(3):
        assert math.isclose(sides[k], built.between[ids[k - 2], ids[k - 1]]), "side not active"
    centre = sum(s * c for s, c in zip(sides, corners, strict=True)) / sum(sides)
    (ux, uy), (vx, vy) = corners[1] - corners[0], corners[2] - corners[0]
    radius = abs(ux * vy - uy * vx) / sum(sides)
    median = next(
        n
        for n in range(built.tree.n_nodes)
        if all(
            abs(built.between[i, n] + built.between[n, j] - built.between[i, j]) < 1e-9
            for i in ids
            for j in ids
            if i != j
        )
    )
    top = built.vertex(centre, radius, built.place_of(median))
    for k in range(3):
        i, p = ids[k], corners[k]
        ahead, behind = corners[(k + 1) % 3] - p, corners[k - 1] - p
        ahead, behind = ahead / np.hypot(*ahead), behind / np.hypot(*behind)
        reach = built.between[i, median]
        bisector = (centre - p) / reach
        last = [built.vertex(p, 0.0, built.place_of(i))] * 3
        for s, node in built.nodes_between(i, ids[(k + 1) % 3])[1:]:
            if s > reach + 1e-9:
                break
            place = built.place_of(node)
            row = [
                built.vertex(p + s * ahead, 0.0, place),
                top
                if node == median
                else built.vertex(p + s * bisector, radius * s / reach, place),
                built.vertex(p + s * behind, 0.0, place),
            ]
            for n, role in enumerate(("axial", "ridge", "axial")):
                built.edge(last[n], row[n], role)
            built.edge(row[0], row[1], "hinge")
            built.edge(row[1], row[2], "hinge")
            for side in (0, 1):
                loop = (last[side], row[side], row[side + 1], last[side + 1])
                built.faces.append(tuple(dict.fromkeys(loop)))
            last = row


def fish():
    """Two long flaps on one diagonal's corners, two short ones on the other's."""
    long, short = ROOT2 / 2, 1 - ROOT2 / 2
    return rabbit_ears(
        star(a=long, b=short, c=long, d=short),
        {"a": (0, 0), "b": (1, 0), "c": (1, 1), "d": (0, 1)},
        [("a", "b", "c"), ("a", "c", "d")],
    )


def bird():
    """Four flaps of half the side at the corners and a short one in the middle."""
    return rabbit_ears(
        star(a=0.5, b=0.5, c=0.5, d=0.5, e=(ROOT2 - 1) / 2),
        {"a": (0, 0), "b": (1, 0), "c": (1, 1), "d": (0, 1), "e": (0.5, 0.5)},
        [("a", "b", "e"), ("b", "c", "e"), ("c", "d", "e"), ("d", "a", "e")],
    )


def frog():
    """Five long flaps at corners and centre, four short ones at the sides' middles."""
    long, short = ROOT2 / 4, (2 - ROOT2) / 4
    corners = {"a": (0, 0), "b": (1, 0), "c": (1, 1), "d": (0, 1)}
    sides = {"p": (0.5, 0), "q": (1, 0.5), "r": (0.5, 1), "s": (0, 0.5)}
    triangles = []
    for corner, after, before in zip("abcd", "pqrs", "spqr", strict=True):
        triangles += [(corner, after, "e"), (corner, "e", before)]
    return rabbit_ears(
        star(**dict.fromkeys("abcde", long), **dict.fromkeys("pqrs", short)),
        {**corners, **sides, "e": (0.5, 0.5)},
        triangles,
    )


def waterbomb(n=1):
    """A grid of n x n squares whose corners are equal flaps, each folded as a waterbomb."""
    side = 1 / n
    names = {(i, j): f"f{i}_{j}" for j in range(n + 1) for i in range(n + 1)}
    figure = star(**dict.fromkeys(names.values(), side / 2))
    tips = {name: (i * side, j * side) for (i, j), name in names.items()}
    built = _Builder(Sheet(), figure, tips)
    hub = built.place_of(built.tree.n_tips)
    for i in range(n):
        for j in range(n):
            centre = np.array([(i + 0.5) * side, (j + 0.5) * side])
            top = built.vertex(centre, side / 2, hub)
            corners = [names[i, j], names[i + 1, j], names[i + 1, j + 1], names[i, j + 1]]
            for a, b in zip(corners, corners[1:] + corners[:1], strict=True):
                p, q = np.array(tips[a]), np.array(tips[b])
                ka = built.vertex(p, 0.0, built.place_of(built.tree.flaps.index(a)))
                kb = built.vertex(q, 0.0, built.place_of(built.tree.flaps.index(b)))
                middle = built.vertex((p + q) / 2, 0.0, hub)
                built.edge(ka, middle, "axial")
                built.edge(middle, kb, "axial")
                built.edge(ka, top, "ridge")
                built.edge(middle, top, "hinge")
                built.faces += [(ka, middle, top), (middle, kb, top)]
    return built.pattern()


def river():
    """A fish base with a river that runs round one corner between two joints."""
    long, short, body = ROOT2 / 2, 1 - ROOT2 / 2, 0.2
    figure = Figure(
        "river",
        (
            Flap("a", "hip", long),
            Flap("b", "hip", short),
            Flap("c", "neck", long - body),
            Flap("d", "hip", short),
        ),
        (River("body", ("hip", "neck"), body),),
    )
    return rabbit_ears(
        figure,
        {"a": (0, 0), "b": (1, 0), "c": (1, 1), "d": (0, 1)},
        [("a", "b", "c"), ("a", "c", "d")],
    )


WINDMILL_TIPS = {
    "a": (0, 0),
    "b": (0, 0.5),
    "c": (0, 1),
    "d": (1, 0),
    "e": (1, 0.5),
    "f": (1, 1),
}
WINDMILL = (
    tuple(Flap(n, "right" if x else "left", 0.25) for n, (x, _) in WINDMILL_TIPS.items()),
    (River("body", ("left", "right"), 0.5),),
)


def windmill():
    """Three flaps of a quarter on each of two sides, and a river of half the square between.

    Its creases lie on the quarters of the square and on the diagonals of its corner squares (common
    practice among folders; the flaps here all lie along one line, as in the double boat). Each half of
    the sheet is a rectangle whose sides are active paths: it shrinks to a line of the river's length.
    """
    built = _Builder(Sheet(), Figure("windmill", *WINDMILL), WINDMILL_TIPS)
    tips = {point: built.place_of(k) for k, point in enumerate(WINDMILL_TIPS.values())}
    joints = {x: built.place_of(6 + k) for k, x in enumerate((0.25, 0.75))}

    def vertex(x, y):
        joint = joints[0.25 if x < 0.5 else 0.75]
        inside = 0.25 <= x <= 0.75 and y in {0.25, 0.75}
        return built.vertex((x, y), 0.25 * inside, tips.get((x, y), joint))

    for low, high in ((0, 0.5), (0.5, 1)):
        middle = (low + high) / 2
        for x, inner in ((0, 0.25), (1, 0.75)):
            top, edge = vertex(inner, middle), vertex(x, middle)
            built.edge(edge, top, "hinge")
            for y in (low, high):
                tip, foot = vertex(x, y), vertex(inner, y)
                built.edge(tip, foot, "axial")
                built.edge(tip, edge, "axial")
                built.edge(tip, top, "ridge")
                built.edge(foot, top, "hinge")
                corner = [(tip, foot, top), (tip, top, edge)]
                turned = (x == 0) == (y == low)
                built.faces += corner if turned else [loop[::-1] for loop in corner]
        left, right = vertex(0.25, middle), vertex(0.75, middle)
        built.edge(left, right, "ridge")
        for y in (low, high):
            feet = vertex(0.25, y), vertex(0.75, y)
            built.edge(*feet, "axial")
            loop = (*feet, right, left)
            built.faces.append(loop if y == low else loop[::-1])
    return built.pattern()
