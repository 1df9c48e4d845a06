"""Stages of a collapse: what folds flat, one after another, while the rest waits open or in halves.

A flat state is judged by what flat paper is: every face is moved as a rigid body, faces that meet
at a crease that is not folded move as one, and those that meet at a folded one are reflections of
each other in it. Its layer order is judged by cutting it (`tests.folded.cutting`).
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from packer.creases.completion.complete import crease_pattern
from packer.creases.plane_graph import loop_areas
from packer.folded import stages as module
from packer.folded.checks import folds_flat
from packer.folded.flat_states import UP, Parts, _coloured, flat_state, pieces, turned_over
from packer.folded.form import fold, root_of
from packer.folded.halving import halved_pattern
from packer.folded.layers import flat_base
from packer.folded.regions import polygons_of
from packer.folded.stage_order import layer_order
from packer.folded.stages import stages
from packer.model.figure import Figure, Flap
from packer.model.packing import Packing
from packer.model.problem import pose
from packer.model.sheet import Sheet
from packer.search.options import SearchOptions
from packer.search.pack import pack
from packer.search.stopping import MaxStarts
from tests.creases.molecules.test_classic_bases import BIRD, FISH, FROG, KITE, base
from tests.folded import textbook
from tests.folded.cutting import random_cuts
from tests.strategies import random_figure


def row(cells):
    """Equal flaps at the corners of a row of squares: as many waterbombs beside each other."""
    tips = tuple((float(x), float(y)) for x in range(cells + 1) for y in (0, 1))
    flaps = tuple(Flap(f"f{k}", "hub", 0.5) for k in range(len(tips)))
    return crease_pattern(Packing(pose(Figure("row", flaps), Sheet(cells, 1)), tips))


@cache
def packed(seed, flaps):
    """A random figure with rivers, as packed by one start."""
    options = SearchOptions(stop=MaxStarts(1), workers=1)
    return crease_pattern(pack(random_figure(seed, flaps), Sheet(), options=options, proof=0.0))


PATTERNS = {
    "kite": lambda: base(*KITE),
    "fish": lambda: base(*FISH),
    "bird": lambda: base(*BIRD),
    "frog": lambda: base(*FROG),
    "river": textbook.river,
    "row": lambda: row(3),
    "random 8": lambda: packed(2, 8),
    "random 7": lambda: packed(4, 7),
}


@pytest.fixture(params=PATTERNS)
def pattern(request):
    return PATTERNS[request.param]()


def test_cuts_divide_the_sheet_into_a_tree_of_regions(pattern):
    parts = Parts.of(pattern).regions
    assert len(np.unique(parts.of_face)) == parts.count == len(parts.cuts) + 1
    assert len({tuple(sorted(pair)) for pair in parts.beside.tolist()}) == len(parts.cuts)
    tips = [pattern.tips[name] for name in pattern.tree.flaps]
    for cut, (a, b) in zip(parts.cuts, parts.beside.tolist(), strict=True):
        assert a != b
        start, end = pattern.points[[tips[k] for k in cut.tips]]
        way = end - start
        rows = pattern.points[pattern.edges[list(cut.edges)]].reshape(-1, 2) - start
        assert np.abs(rows[:, 0] * way[1] - rows[:, 1] * way[0]).max() < 1e-9
        run = np.diff(pattern.points[pattern.edges[list(cut.edges)]], axis=1)
        assert np.hypot(*run.reshape(-1, 2).T).sum() == pytest.approx(np.hypot(*way))
    # a molecule lies in one region
    for polygon in np.unique(polygons_of(pattern)):
        assert len(np.unique(parts.of_face[polygons_of(pattern) == polygon])) == 1


def test_each_square_of_a_row_is_a_polygon_and_a_region():
    """Tips at the corners of unit squares: active paths and cuts are the sides of the squares."""
    pattern = row(3)
    # the first face on the left of all its edges: none of them may be passed over
    edges = pattern.edges.copy()
    turned = pattern.edge_faces[:, 1] == 0
    edges[turned] = edges[turned, ::-1]
    pattern = replace(pattern, edges=edges)
    areas = np.abs(loop_areas(pattern.points, pattern.faces))
    for of_face in (polygons_of(pattern), Parts.of(pattern).regions.of_face):
        assert np.bincount(of_face, areas) == pytest.approx([1.0, 1.0, 1.0])


def test_every_stage_ends_flat(pattern):
    """By rigid motions and reflections, with nothing of the fold asked but where faces lie."""
    made, given = stages(pattern), pattern
    folded = sorted(k for stage in made for k in stage.polygons)
    assert folded == list(range(int(polygons_of(pattern).max()) + 1))
    halved = halved_pattern(pattern, polygons_of(pattern))
    turned = np.zeros(len(halved.pattern.edges), dtype=bool)
    for stage in made:
        form, pattern = stage.form, stage.pattern
        turned ^= stage.moving
        assert (form.folded == turned).all()
        for transform, loop in zip(form.transforms, pattern.faces, strict=True):
            turn = transform[:, :2]
            assert np.abs(turn @ turn.T - np.eye(2)).max() < 1e-9
            laid = pattern.points[list(loop)] @ turn.T + transform[:, 2]
            assert np.abs(laid - form.positions[list(loop)]).max() < 1e-9
        signs = np.linalg.det(form.transforms[:, :, :2]) > 0
        inner = pattern.edge_faces.min(axis=1) >= 0
        left, right = pattern.edge_faces[inner].T
        assert ((signs[left] != signs[right]) == form.folded[inner]).all()
        open_ = form.transforms[stage.still_open]
        assert np.abs(open_ - np.eye(2, 3)).max(initial=0.0) < 1e-9
    last = made[-1].form
    assert not made[-1].still_open.any()
    whole = fold(given, root_of(given))
    assert (last.folded == (whole.folded[halved.edge_of] & (halved.edge_of >= 0))).all()
    assert np.abs(last.positions[: len(given.points)] - whole.positions).max() < 1e-12


def test_every_flat_state_has_a_layer_order(pattern):
    base_ = flat_base(pattern)
    for stage in stages(base_.pattern, base_.order):
        assert stage.order is not None
        rank = stage.order.of_faces
        above = np.sign(rank[:, None] - rank)
        assert random_cuts(stage.pattern, stage.form, above, 15) == 0


def test_a_row_of_waterbombs_comes_together_one_by_one():
    """The ends of a row are leaves of its tree; the middle holds the most and comes last."""
    pattern = row(4)
    made = stages(pattern)
    assert [len(stage.polygons) for stage in made] == [1, 1, 1, 1]
    # a waterbomb (textbook): two diagonals, and beside open paper the cut folds as well
    area = loop_areas(pattern.points, pattern.faces)
    assert [round(area[stage.still_open].sum()) for stage in made] == [3, 2, 1, 0]


def kept(base_, order):
    """How many of a base's mountains and valleys an order gives, by the definition of a valley."""
    pattern, rank = base_.pattern, order.of_faces
    left, right = pattern.edge_faces.T
    flipped = np.linalg.det(base_.form.transforms[:, :, :2]) < 0
    valley = (rank[right] > rank[left]) != flipped[left]
    letters = np.array(pattern.folds)
    return int(((letters == "V") & valley | (letters == "M") & ~valley).sum())


@pytest.mark.parametrize("make", [textbook.fish, textbook.bird, lambda: row(2)])
def test_folds_that_are_known_are_wishes(make):
    base_ = flat_base(make())
    pattern, form = base_.pattern, base_.form
    unknown = ["U" if fold_ in {"M", "V"} else fold_ for fold_ in pattern.folds]
    wished = kept(base_, layer_order(pattern, form))
    assert kept(base_, base_.order) == sum(fold_ in {"M", "V"} for fold_ in pattern.folds)
    assert wished > kept(base_, layer_order(pattern.with_folds(unknown), form))


def test_an_order_is_not_looked_for_without_end():
    pattern = base(*BIRD)
    assert layer_order(pattern, fold(pattern, root_of(pattern)), conflicts=0) is None


@pytest.mark.parametrize("name", ["row", "frog", "random 8"])
def test_narrow_polygons_come_with_their_neighbours(name, monkeypatch):
    pattern = PATTERNS[name]()
    polygon_of = polygons_of(pattern)
    count = int(polygon_of.max()) + 1
    areas = np.bincount(polygon_of, loop_areas(pattern.points, pattern.faces), count)
    widths = 2 * areas / [around(pattern, polygon_of, k) for k in range(count)]
    monkeypatch.setattr(module, "NARROW", 0.0)
    apart = stages(pattern)
    narrow = float(np.median(widths)) * 1.001
    monkeypatch.setattr(
        module, "NARROW", narrow / min(pattern.sheet.width, pattern.sheet.height)
    )
    made = stages(pattern)
    assert len(made) <= len(apart)
    for stage in made:
        own = [*stage.polygons, *stage.halved]
        assert widths[own].max() >= narrow or len(made) == 1
    # nothing is lost: what moved in all of them moves in one, and each ends as one of those apart
    before = np.zeros(len(made[0].moving), dtype=bool)
    for stage in made:
        assert (stage.moving == (stage.form.folded != before)).all()
        assert any((stage.form.folded == one.form.folded).all() for one in apart)
        before = stage.form.folded
    folded = sorted(k for stage in made for k in stage.polygons)
    assert folded == sorted(k for stage in apart for k in stage.polygons) == list(range(count))


def around(pattern, polygon_of, polygon):
    """The length around a polygon, edge by edge."""
    total = 0.0
    for (a, b), sides in zip(pattern.edges, pattern.edge_faces, strict=True):
        own = sum(face >= 0 and polygon_of[face] == polygon for face in sides)
        if own == 1:
            total += float(np.hypot(*(pattern.points[a] - pattern.points[b])))
    return total


def test_branches_in_an_odd_ring_cannot_all_be_turned_over():
    """Two-colouring: a ring of three has none, a ring of four has one (Koenig 1936)."""
    ring = {k: [(k - 1) % 3, (k + 1) % 3] for k in range(3)}
    assert _coloured({(0, k): [(0, j) for j in near] for k, near in ring.items()}) is None
    ring = {k: [(k - 1) % 4, (k + 1) % 4] for k in range(4)}
    signs = _coloured({(0, k): [(0, j) for j in near] for k, near in ring.items()})
    assert [signs[0, k] for k in range(4)] == [1, -1, 1, -1]
    # a path that runs on below its top keeps its sense there
    assert _coloured({(0, UP): [(0, 1)], (0, 1): [(0, UP)]}) == {(0, UP): -1, (0, 1): 1}


def test_what_cannot_lie_straight_is_refused(monkeypatch):
    parts = Parts.of(row(3))
    monkeypatch.setattr("packer.folded.flat_states.turned_over", lambda *_: None)
    with pytest.raises(ValueError, match="straight at once"):
        flat_state(parts, frozenset({0}), frozenset())


def test_polygons_side_by_side_are_one_piece():
    pattern = row(4)
    parts = Parts.of(pattern)
    middles = [pattern.points[list(loop), 0].mean() for loop in pattern.faces]
    in_row = list(dict.fromkeys(parts.polygon_of[np.argsort(middles, kind="stable")].tolist()))
    joined = pieces(parts, {in_row[0], in_row[1], in_row[3]})
    assert sorted(map(len, joined)) == [1, 2]
    assert {in_row[0], in_row[1]} in joined
    assert turned_over(parts, {in_row[0]}, {in_row[0]}) is not None


def test_the_lines_of_a_bird_base_are_book_folds():
    pattern = PATTERNS["bird"]()
    made = halved_pattern(pattern, polygons_of(pattern))
    assert len(made.lines) == 4
    for edges in made.lines.values():
        ends = made.pattern.points[made.pattern.edges[sorted(edges)]].reshape(-1, 2)
        assert np.ptp(ends, axis=0).min() < 1e-12  # upright or level
        assert np.ptp(ends, axis=0).max() == pytest.approx(0.5, abs=1e-12)


def test_a_corner_left_open_at_an_inner_tip_does_not_fold_flat():
    # Kawasaki's theorem at the centre of the preliminary base, one of its book folds left out
    pattern = PATTERNS["bird"]()
    parts = Parts.of(pattern)
    halved = frozenset(parts.halved.lines)
    form = flat_state(parts, frozenset(), halved - {min(halved)})
    assert not folds_flat(parts.halved.pattern, form)
    form = flat_state(parts, frozenset(), halved)
    assert folds_flat(parts.halved.pattern, form)
    assert layer_order(parts.halved.pattern, form) is not None
