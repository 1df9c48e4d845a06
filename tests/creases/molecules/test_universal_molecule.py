"""Universal molecules of random active polygons, against the facts that define them.

The polygons are made without the package's search: a random convex polygon, a random tree, and
edge lengths from a linear program that makes every side active and no diagonal too short. What
is asked of the creases is the theorem (Bowers & Streinu, Ann. Math. Artif. Intell. 74, 2015):
they cut the polygon into pieces, and the map (place on the tree, height) lays each down without
stretching. The pieces are found by shapely, distances in the tree by walking it.
"""

from __future__ import annotations

import math
from itertools import combinations

import numpy as np
import pytest
import shapely
from scipy.optimize import linprog

from packer.creases.molecules.universal_molecule import polygon, side, universal_molecule
from packer.creases.tree_metric import Metric
from packer.model.figure import Figure, Flap
from packer.model.tree import tree_of
from tests.strategies import random_figure

ROOM = 1e-10
NEAR = 1e-9
"""Two ends of creases this near are one point; what is dropped as too short is a tenth of it."""


def paths_of(tree):
    """(nodes, nodes, edges): whether the way between two nodes uses an edge, by walking."""
    found = np.zeros((tree.n_nodes, tree.n_nodes, len(tree.ends)))
    for start in range(tree.n_nodes):
        todo = [(start, -1, [])]
        while todo:
            node, before, used = todo.pop()
            found[start, node, used] = 1
            for edge, (a, b) in enumerate(tree.ends.tolist()):
                other = b if a == node else a
                if node in (a, b) and other != before:
                    todo.append((other, node, [*used, edge]))
    return found


def active_polygon(seed, corners):
    """A random tree, lengths, corners in order, and the tip at each: all sides active."""
    rng = np.random.default_rng([seed, corners])
    while True:
        angles = np.sort(rng.uniform(0, 2 * np.pi, corners))
        if np.diff(angles, append=angles[0] + 2 * np.pi).min() < 0.25:
            continue
        points = np.column_stack([np.cos(angles), rng.uniform(0.5, 1) * np.sin(angles)])
        tree = tree_of(random_figure(rng, corners))
        tips = rng.permutation(corners)
        paths = paths_of(tree)
        pairs = list(combinations(range(corners), 2))
        far = np.array([math.dist(points[i], points[j]) for i, j in pairs])
        used = np.array([paths[tips[i], tips[j]] for i, j in pairs])
        sides = np.array([j - i in (1, corners - 1) for i, j in pairs])
        goals = rng.normal(size=(3, len(tree.ends)))
        found = [
            linprog(
                goal,
                A_eq=used[sides],
                b_eq=far[sides],
                A_ub=used[~sides] if (~sides).any() else None,
                b_ub=0.98 * far[~sides] if (~sides).any() else None,
                bounds=(0.03, None),
            )
            for goal in goals
        ]
        if all(one.status == 0 for one in found):
            return tree, np.mean([one.x for one in found], axis=0), points, tips


class Folded:
    """A universal_molecule as a plane graph, with what each vertex claims of its folded place."""

    def __init__(self, tree, lengths, points, tips):
        metric = Metric(tree, lengths, ROOM)
        ring = polygon(points.tolist(), [metric.snapped(metric.home[k]) for k in tips])
        self.tree, self.lengths, self.points, self.tips = tree, lengths, points, tips
        self.nodes = paths_of(tree) @ lengths
        self.creases = universal_molecule(ring, metric)
        for k, corner in enumerate(ring):
            self.creases += side(corner, ring[(k + 1) % len(ring)], 0.0, "axial", metric)
        self.vertices = []
        self.edges = {}
        for piece in self.creases:
            a, b = self.index(piece.a), self.index(piece.b)
            if a != b:
                self.edges[min(a, b), max(a, b)] = piece.role

    def index(self, vertex):
        for k, other in enumerate(self.vertices):
            if math.dist(vertex[:2], other[:2]) < NEAR:
                assert abs(vertex.height - other.height) < 1e-7
                assert self.between(vertex.tree_point, other.tree_point) < 1e-7
                return k
        self.vertices.append(vertex)
        return len(self.vertices) - 1

    def between(self, a, b):
        """Distance in the tree of two places (edge, offset from the edge's first end)."""
        if a[0] == b[0]:
            return abs(a[1] - b[1])
        ways = [
            abs(a[1] - s * self.lengths[a[0]])
            + self.nodes[self.tree.ends[a[0], s], self.tree.ends[b[0], t]]
            + abs(b[1] - t * self.lengths[b[0]])
            for s in (0, 1)
            for t in (0, 1)
        ]
        return min(ways)

    def pieces(self):
        """The vertices of each piece that the creases cut out of the polygon."""
        at = [v[:2] for v in self.vertices]
        lines = [shapely.LineString([at[a], at[b]]) for a, b in self.edges]
        areas = list(shapely.polygonize(lines).geoms)
        assert sum(p.area for p in areas) == pytest.approx(
            shapely.Polygon(self.points).area, abs=1e-9
        )
        number = {tuple(p): k for k, p in enumerate(at)}
        return [[number[p] for p in piece.exterior.coords[:-1]] for piece in areas]

    def at(self, vertex):
        """The edges that meet at a vertex, as (role, direction)."""
        here = np.array(self.vertices[vertex][:2])
        found = []
        for (a, b), role in self.edges.items():
            if vertex in (a, b):
                way = np.array(self.vertices[b if a == vertex else a][:2]) - here
                found.append((role, math.atan2(way[1], way[0])))
        return found


CASES = [(seed, corners) for corners in (3, 4, 5, 6, 7) for seed in range(6)]


@pytest.fixture(scope="module", params=CASES, ids=lambda c: f"{c[1]} corners, seed {c[0]}")
def folded(request):
    return Folded(*active_polygon(*request.param))


def test_the_polygons_ask_for_every_kind_of_crease():
    roles = {s.role for case in CASES for s in Folded(*active_polygon(*case)).creases}
    assert roles == {"axial", "ridge", "hinge", "gusset"}


def test_every_piece_folds_without_stretching(folded):
    """Over its own part of the tree each piece keeps all its distances: so it folds flat."""
    for piece in folded.pieces():
        for a, b in combinations(piece, 2):
            v, w = folded.vertices[a], folded.vertices[b]
            along = folded.between(v.tree_point, w.tree_point)
            assert math.hypot(along, v.height - w.height) == pytest.approx(
                math.dist(v[:2], w[:2]), abs=1e-8
            )


def test_alternate_angles_add_up_to_half_a_turn_at_inner_vertices(folded):
    """Kawasaki's theorem, where every crease is folded: all but hinges are, hinges may be flat.

    Hinges of one vertex are left out two at a time in every way: one way must satisfy it.
    """
    ring = shapely.Polygon(folded.points).exterior
    for vertex, (x, y, *_) in enumerate(folded.vertices):
        if ring.distance(shapely.Point(x, y)) < NEAR:
            continue
        edges = folded.at(vertex)
        hinges = [k for k, (role, _) in enumerate(edges) if role == "hinge"]
        off = []
        for left_out in range(len(hinges) + 1):
            for flat in combinations(hinges, left_out):
                angles = sorted(way for k, (_, way) in enumerate(edges) if k not in flat)
                if len(angles) % 2 == 0 and angles:
                    wedges = np.diff(angles, append=angles[0] + 2 * math.pi)
                    off.append(abs(wedges[::2].sum() - math.pi))
        assert min(off) < 1e-5


def test_hinges_stand_square_on_the_axis(folded):
    """A hinge keeps its place on the tree, and at a side it is square to it."""
    corners = folded.points
    for piece in folded.creases:
        if piece.role != "hinge":
            continue
        assert folded.between(piece.a.tree_point, piece.b.tree_point) < 1e-9
        way = np.subtract(piece.b[:2], piece.a[:2])
        if piece.a.height > 0 or np.hypot(*way) < 1e-6:
            continue
        off = []
        for k, corner in enumerate(corners):
            along = corners[(k + 1) % len(corners)] - corner
            out = np.subtract(piece.a[:2], corner)
            if abs(along[0] * out[1] - along[1] * out[0]) < 1e-9:
                off.append(abs(along @ way) / np.hypot(*along) / np.hypot(*way))
        assert min(off) < 1e-6


def test_sides_lie_on_the_axis_and_nothing_lies_below(folded):
    ring = shapely.Polygon(folded.points).exterior
    for x, y, height, _ in folded.vertices:
        on_side = ring.distance(shapely.Point(x, y)) < NEAR
        assert (abs(height) < 1e-12) == on_side
        # Folding brings nothing further apart: at most as high as it is far from the sides.
        assert height <= ring.distance(shapely.Point(x, y)) + NEAR


def test_every_joint_on_a_side_sends_up_a_hinge(folded):
    """Foot by foot: along a side the joints of the path between its tips, at their distance."""
    feet = {folded.index(s.a) for s in folded.creases if s.role == "hinge" and s.a.height == 0}
    wanted = 0
    tips = folded.tips.tolist()
    for k, a in enumerate(tips):
        b = tips[(k + 1) % len(tips)]
        length = math.dist(folded.points[k], folded.points[(k + 1) % len(tips)])
        for joint in range(folded.tree.n_tips, folded.tree.n_nodes):
            from_a, to_b = folded.nodes[a, joint], folded.nodes[joint, b]
            if abs(from_a + to_b - length) < 1e-8:
                wanted += 1
                spot = folded.points[k] + from_a / length * (
                    folded.points[(k + 1) % len(tips)] - folded.points[k]
                )
                assert any(math.dist(folded.vertices[f][:2], spot) < 1e-8 for f in feet)
    assert len(feet) == wanted


@pytest.mark.parametrize("corners", [3, 4, 6, 9])
def test_a_star_round_a_circle_has_one_top_over_the_centre(corners):
    """Tangents from a corner are equal: a polygon round a circle is active for a star of flaps.

    Every corner's bisector ends at the centre, at the height of the circle's radius.
    """
    rng = np.random.default_rng(corners)
    turns = np.cumsum(rng.uniform(0.7, 1.3, corners))
    touch = turns / turns[-1] * 2 * np.pi
    half = np.diff(touch, append=touch[0] + 2 * np.pi) / 2
    middle = touch + half
    radius = 0.3
    points = radius / np.cos(half)[:, None] * np.column_stack([np.cos(middle), np.sin(middle)])
    lengths = radius * np.tan(half)
    star = Figure("star", tuple(Flap(f"f{k}", "hub", x) for k, x in enumerate(lengths)))
    folded = Folded(tree_of(star), lengths, points, np.arange(corners))
    (top,) = [v for v in folded.vertices if v.height > 1e-9]
    assert top[:3] == pytest.approx((0, 0, radius), abs=1e-12)
    roles = sorted(folded.edges.values())
    assert roles == ["axial"] * 2 * corners + ["hinge"] * corners + ["ridge"] * corners


@pytest.mark.parametrize(("seed", "corners"), [(0, 5), (1, 6)])
def test_turned_moved_and_mirrored_polygons_give_the_same_creases(seed, corners):
    tree, lengths, points, tips = active_polygon(seed, corners)
    one = Folded(tree, lengths, points, tips)
    turn = np.array([[0.6, -0.8], [0.8, 0.6]])
    other = Folded(tree, lengths, points @ turn.T + 3, tips)
    mirror = Folded(tree, lengths, (points * [-1, 1])[::-1], tips[::-1])
    heights = [sorted(round(v.height, 7) for v in f.vertices) for f in (one, other, mirror)]
    assert heights[0] == heights[1] == heights[2]
    roles = [sorted(f.edges.values()) for f in (one, other, mirror)]
    assert roles[0] == roles[1] == roles[2]


def test_a_side_longer_than_its_path_fits_nothing():
    """The judge can say no."""
    star = Figure("star", tuple(Flap(n, "hub", 0.3) for n in "abc"))
    points = np.array([(0.0, 0.0), (1.0, 0.0), (0.4, 0.8)])
    with pytest.raises(AssertionError):  # ends that lie together disagree over the tree
        Folded(tree_of(star), np.full(3, 0.3), points, np.arange(3))
