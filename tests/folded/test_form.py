"""Folding by reflections, against theorems and a slow reference, and planted faults that must show."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely

from packer.folded.checks import findings, kawasaki_errors
from packer.folded.form import apply, depths, fold
from packer.folded.overlaps import layers_of
from packer.folded.readback import read_tree
from packer.model.tree import node_distances
from packer.units import LAYER_TOLERANCE
from tests.folded.textbook import bird, fish, frog, river, waterbomb, windmill

BASES = {"fish": fish, "bird": bird, "frog": frog, "river": river, "waterbomb": waterbomb}


@pytest.fixture(params=BASES, name="pattern")
def _pattern(request):
    return BASES[request.param]()


def test_textbook_bases_fold_without_findings(pattern):
    assert findings(pattern, fold(pattern)) == []


def test_every_root_folds(pattern):
    for root in range(pattern.tree.n_nodes):
        assert findings(pattern, fold(pattern, root)) == []


@pytest.mark.parametrize(
    ("base", "length", "height"),
    [
        # long flaps of sqrt(1/8), half of the diagonal's half; all tips have an angle of pi/8, since the
        # triangles that the base is made of have angles of pi/4, halved by their ridges [P]
        (frog, math.sqrt(1 / 8), math.sqrt(1 / 8) * math.tan(math.pi / 8)),
        # flaps of a quarter, a body of half the side, and paper a quarter of the side above the axis [P];
        # common practice says the same of the windmill
        (windmill, 3 / 4, 1 / 4),
    ],
)
def test_frog_and_windmill_have_the_proportions_of_the_textbook(base, length, height):
    """From the joint that most flaps hang on to the farthest tip, and above the axis."""
    pattern = base()
    form = fold(pattern, pattern.tree.n_tips)
    assert findings(pattern, form) == []
    np.testing.assert_allclose(form.positions.min(axis=0), 0, atol=1e-12)
    np.testing.assert_allclose(form.positions.max(axis=0), (length, height), atol=1e-12)
    short = {frog: (2 - math.sqrt(2)) / 4, windmill: 1 / 4}[base]
    depths = [form.positions[vertex, 0] for vertex in pattern.tips.values()]
    assert sorted(depths)[:3] == pytest.approx([short] * 3, abs=1e-12)


def test_faces_keep_their_shape(pattern):
    form = fold(pattern)
    for face, loop in enumerate(pattern.faces):
        laid = apply(form.transforms[face], pattern.points[list(loop)])
        np.testing.assert_allclose(laid, form.positions[list(loop)], atol=1e-12)
    ends = pattern.points[pattern.edges], form.positions[pattern.edges]
    before, after = (np.hypot(*(p[:, 0] - p[:, 1]).T) for p in ends)
    np.testing.assert_allclose(before, after, atol=1e-12)


def test_tips_come_to_their_tree_distance(pattern):
    form = fold(pattern)
    tips = [pattern.tips[name] for name in pattern.tree.flaps]
    wanted = node_distances(pattern.tree, pattern.lengths)[form.root, : len(tips)]
    np.testing.assert_allclose(form.positions[tips, 0], wanted, atol=1e-12)
    np.testing.assert_allclose(depths(pattern, form.root)[tips], wanted, atol=1e-12)


def test_tree_is_read_off_the_paper_without_the_claimed_places(pattern):
    read = read_tree(pattern, fold(pattern))
    n = pattern.tree.n_tips
    assert not read.by_places
    np.testing.assert_allclose(
        read.distances, node_distances(pattern.tree, pattern.lengths)[:n, :n], atol=1e-12
    )
    assert set(read.strands.values()) == {1}


def kawasaki_twin(pattern, vertex, folded):
    """Alternate angles by the plain definition: sort, subtract, add every other one."""
    around = []
    for k, (a, b) in enumerate(pattern.edges.tolist()):
        if folded[k] and vertex in (a, b):
            x, y = pattern.points[b if a == vertex else a] - pattern.points[vertex]
            around.append(math.degrees(math.atan2(y, x)) % 360)
    around.sort()
    if len(around) % 2:
        return math.inf
    wedges = [(around[k] - around[k - 1]) % 360 for k in range(len(around))]
    return abs(math.radians(sum(wedges[::2]) - 180)) if wedges else 0.0


def test_kawasaki_agrees_with_a_plain_reference(pattern):
    moved = pattern.points + np.where(
        pattern.on_border[:, None],
        0,
        np.random.default_rng(1).normal(0, 1e-3, (len(pattern.points), 2)),
    )
    for case in (pattern, replace(pattern, points=moved)):
        form = fold(case)
        errors = kawasaki_errors(case, form)
        for vertex in np.flatnonzero(~case.on_border).tolist():
            assert errors[vertex] == pytest.approx(
                kawasaki_twin(case, vertex, form.folded), abs=1e-9
            )


def reflections_twin(pattern, form):
    """Fold breadth-first with complex numbers: z -> a z + b or a conj(z) + b for each face."""
    z = pattern.points @ np.array([1, 1j])
    start = pattern.faces[0]
    laid = form.positions @ np.array([1, 1j])
    flipped = bool(form.flipped[0])
    p, q = (np.conj(z[k]) if flipped else z[k] for k in start[:2])
    a = (laid[start[1]] - laid[start[0]]) / (q - p)
    maps = {0: (a, laid[start[0]] - a * p, flipped)}
    todo = [0]
    for face in todo:
        a, b, back = maps[face]
        for edge, sides in enumerate(pattern.edge_faces.tolist()):
            if face not in sides or -1 in sides:
                continue
            other = sides[1 - sides.index(face)]
            if other in maps:
                continue
            if form.folded[edge]:
                s, t = z[pattern.edges[edge]]
                w = (t - s) / np.conj(t - s)  # mirror: z -> w conj(z - s) + s
                shift = s - w * np.conj(s)
                if back:
                    maps[other] = (a * np.conj(w), a * np.conj(shift) + b, False)
                else:
                    maps[other] = (a * w, a * shift + b, True)
            else:
                maps[other] = (a, b, back)
            todo.append(other)
    return {f: (a * (np.conj(z) if back else z) + b) for f, (a, b, back) in maps.items()}


def test_folding_agrees_with_a_breadth_first_twin(pattern):
    form = fold(pattern)
    twin = reflections_twin(pattern, form)
    assert len(twin) == len(pattern.faces)
    for face, loop in enumerate(pattern.faces):
        found = form.positions[list(loop)] @ np.array([1, 1j])
        np.testing.assert_allclose(twin[face][list(loop)], found, atol=1e-12)


def test_layer_counts_agree_with_a_plain_overlay(pattern):
    form = fold(pattern)
    layers = layers_of(pattern, form)
    faces = [shapely.Polygon(form.positions[list(loop)]) for loop in pattern.faces]
    rng = np.random.default_rng(2)
    low, high = form.positions.min(axis=0), form.positions.max(axis=0)
    for point in shapely.points(rng.uniform(low, high, (60, 2))):
        if min(shapely.distance(point, shapely.boundary(faces))) < 1e-6:
            continue
        wanted = sum(face.contains(point) for face in faces)
        cell = [k for k, c in enumerate(layers.cells) if c.contains(point)]
        assert wanted == (layers.cover[cell[0]].sum() if cell else 0)


def test_area_is_shared_by_the_layers(pattern):
    layers = layers_of(pattern, fold(pattern))
    piled = (shapely.area(layers.cells) * layers.cover.sum(axis=1)).sum()
    # Cells are cut on a grid; each outline may shift by one step of it along its length.
    step = LAYER_TOLERANCE / 100 * pattern.sheet.diagonal
    room = step * shapely.length(layers.regions).sum()
    assert piled == pytest.approx(pattern.sheet.area, abs=room)


# --- planted faults


@pytest.mark.parametrize("by", [1e-2, 1e-4, 1e-7])
def test_a_moved_vertex_is_noticed(pattern, by):
    for vertex in np.flatnonzero(~pattern.on_border).tolist():
        points = pattern.points.copy()
        points[vertex] += by * np.array([0.6, 0.8])
        moved = replace(pattern, points=points)
        found = findings(moved, fold(moved))
        assert any(f"vertex {vertex} " in f.place for f in found), vertex
        # The waterbomb's only vertex is as it were balanced: there the angles change by the
        # square of a small move.
        if by > 1e-3 or len(pattern.faces) > 8:
            assert {"Kawasaki", "closing"} <= {f.check for f in found}


def test_a_dropped_crease_is_noticed(pattern):
    for edge, (left, right) in enumerate(pattern.edge_faces.tolist()):
        if left < 0 or right < 0:
            continue
        dropped = without(pattern, edge)
        found = findings(dropped, fold(dropped))
        assert found, f"edge {edge}, {pattern.roles[edge]}"


def without(pattern, edge):
    """Leave out one crease and join the faces at its sides."""
    left, right = pattern.edge_faces[edge].tolist()
    a, b = pattern.edges[edge].tolist()
    one, other = pattern.faces[left], pattern.faces[right]
    i, j = one.index(b), other.index(a)
    ring = (*one[i:], *one[:i])[:-1] + (*other[j:], *other[:j])[:-1]
    faces = [f for k, f in enumerate(pattern.faces) if k not in (left, right)]
    keep = [k for k in range(len(pattern.edges)) if k != edge]
    return replace(
        pattern,
        edges=pattern.edges[keep],
        roles=tuple(pattern.roles[k] for k in keep),
        folds=tuple(pattern.folds[k] for k in keep),
        faces=(*faces, ring),
    )


def test_wrong_heights_places_and_lengths_are_noticed(pattern):
    inner = int(np.flatnonzero(~pattern.on_border)[0])
    heights = pattern.heights.copy()
    heights[inner] += 1e-6
    wrong = replace(pattern, heights=heights)
    assert "height" in {f.check for f in findings(wrong, fold(wrong))}
    lengths = pattern.lengths.copy()
    lengths[0] += 1e-6
    wrong = replace(pattern, lengths=lengths)
    checks = {f.check for f in findings(wrong, fold(wrong))}
    assert {"tips", "tree read back"} <= checks


def test_a_tip_named_elsewhere_is_noticed():
    pattern = river()
    tips = dict(pattern.tips)
    tips["a"], tips["b"] = tips["b"], tips["a"]
    wrong = replace(pattern, tips=tips)
    checks = {f.check for f in findings(wrong, fold(wrong))}
    assert {"tips", "tree read back"} <= checks


def test_a_finding_names_place_and_amount():
    pattern = bird()
    points = pattern.points.copy()
    vertex = int(np.flatnonzero(~pattern.on_border)[0])
    points[vertex] += 1e-3
    wrong = replace(pattern, points=points)
    text = str(findings(wrong, fold(wrong))[0])
    assert "Kawasaki: vertex" in text
    assert "radians" in text
