"""The construction of layer orders, against a slow reference and against mutations of its results."""

from __future__ import annotations

import itertools
from pathlib import Path

import numpy as np
import pytest
import shapely
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import lil_matrix

import packer.drawing.base_drawing as drawn
from packer import Sheet
from packer.creases.completion import complete
from packer.creases.completion.complete import crease_pattern
from packer.creases.settling.settle import settle
from packer.drawing.base_drawing import base_drawing
from packer.drawing.marks.strokes import Area, Label
from packer.drawing.sides_drawing import sides_drawing
from packer.files.figure_toml import read_figure
from packer.files.fold_json import fold_text, read_base, read_fold
from packer.folded.checks import findings
from packer.folded.layer_count import layer_count, section
from packer.folded.layers import base_of_ranks, flat_base
from packer.folded.ordering.construct import constructed
from packer.folded.ordering.mirror import mirror_of
from packer.folded.ordering.mirrored import MirroredSearch
from packer.folded.ordering.mirrored_layers import MirroredLayers
from packer.folded.ordering.rings import Molecules
from packer.folded.ordering.search import put_in, without_order
from packer.folded.paper_sides import paper_sides, shown_paper
from packer.grid.grid_creases import grid_creases
from packer.grid.grid_problem import GridRequest
from packer.grid.pack_grid import pack_grid
from packer.model.figure import Figure, Flap
from packer.model.problem import pose
from packer.search.options import SearchOptions
from packer.search.pack import pack
from packer.search.stopping import MaxStarts
from tests.battery.test_battery import FIGURE
from tests.conftest import SAMPLES
from tests.folded.by_cp_sat import ask_alike, conditions
from tests.folded.pentagon import CORNERS, pentagon
from tests.folded.slow_order import faults, overlapping
from tests.folded.textbook import bird, fish, frog, river, waterbomb
from tests.strategies import random_figure

BASES = (fish, bird, frog, river, waterbomb)
PATTERNS = Path(__file__).parent / "patterns"


def packed(seed, flaps, symmetry="none"):
    figure = random_figure(seed, flaps, symmetry=symmetry, pairs=symmetry != "none")
    options = SearchOptions(stop=MaxStarts(1), workers=1)
    return crease_pattern(pack(figure, Sheet(), options=options, proof=0.0))


@pytest.fixture(scope="module", name="patterns")
def _patterns():
    """Random figures, free and mirrored, with rivers and gussets."""
    return [packed(1, 5), packed(2, 8), packed(3, 5, "book"), packed(4, 7)]


def test_the_slow_reference_finds_no_fault(patterns):
    for pattern in [make() for make in BASES] + patterns:
        base = flat_base(pattern)
        assert base.order is not None
        assert faults(base.pattern, base.form, base.order.of_faces) == 0


def test_two_faces_exchanged_are_noticed(patterns):
    """By the twin and by the reader of files: neighbours in the order that overlap and touch."""
    seen = twin = file = 0
    for pattern in [fish(), bird()]:
        base = flat_base(pattern)
        overlap = overlapping(base.order.layers)
        at = np.argsort(base.order.rank)
        for low, high in itertools.pairwise(at):
            if overlap[low, high]:
                rank = base.order.rank.copy()
                rank[[low, high]] = rank[[high, low]]
                faces = rank[base.order.layers.layer_of]
                seen += 1
                twin += faults(base.pattern, base.form, faces) > 0
                file += base_of_ranks(base.pattern, faces).order is None
    assert seen > 20
    assert file == seen  # a swap also turns a mountain into a valley, if nothing crosses
    assert twin > 0.5 * seen


@pytest.mark.parametrize("count", [1, 2])
def test_molecules_taken_out_can_be_put_in_again(patterns, count):
    """One, or two that share a gap; the others keep their order."""
    for pattern in patterns[1:]:
        base = flat_base(pattern)
        molecules = Molecules(pattern, base.form.root)
        whole = np.argsort(base.order.rank).tolist()
        for first in range(min(4, len(molecules.all))):
            beside = next(
                k for k in molecules.joined_by_gap.values() if first in k and len(k) > 1
            )
            group = {first, *[k for k in beside if k != first][: count - 1]}
            new = set().union(*(molecules.all[k].layers for k in group))
            rest = [layer for layer in whole if layer not in new]
            rank = put_in(molecules.crossings, rest)
            assert [len(rows) for rows in molecules.crossings.faults(rank)] == [0, 0]
            assert len(rest) == len(whole) - len(new)


def test_creases_unlike_their_mirror_image_are_counted(patterns):
    """Those of a mirrored figure; of a classic base that only happens to lie so nothing is asked."""
    for pattern in (patterns[2], read_fold(PATTERNS / "mirrored_175.fold")):
        base = flat_base(pattern)
        mirror = mirror_of(pattern)
        folds = np.array(base.pattern.folds)
        assert base.mirrored.unlike == (folds != folds[mirror.edges]).sum()
        x = pattern.sheet.width - pattern.points[:, 0]
        images = pattern.points[mirror.vertices]
        on_line = [np.column_stack([x, pattern.points[:, 1]]), pattern.points[:, ::-1]]
        assert min(np.abs(images - line).max() for line in on_line) < 1e-6
    assert mirror_of(frog()) is None


def on_line(pattern, base):
    """Pairs of creases on the mirror line that lie across each other's layers, in the folded plane."""
    layers, mirror = base.order.layers, mirror_of(pattern)
    left, right = layers.layer_of[pattern.edge_faces].T
    image = mirror.of_sets(layers.layer_of)
    edges = np.flatnonzero(base.form.folded & (image[left] == right))
    lines = shapely.linestrings(base.form.positions[pattern.edges[edges]])
    inner = shapely.buffer(layers.regions, -1e-6)
    across = shapely.length(shapely.intersection(lines[:, None], inner[left[edges]])) > 1e-3
    return [(edges[a], edges[b]) for a, b in np.argwhere(np.triu(across & across.T, 1))]


def test_folds_are_mirrored_even_where_no_order_is():
    """A random figure of 6 flaps: creases on the line that cross, so that no order is its own image.

    Neither may have a layer of the other between its own two, so one pair lies wholly above the
    other, and in the image of the order below it. The folds can be mirrored all the same.
    """
    pattern = read_fold(PATTERNS / "mirrored_6.fold")
    base = flat_base(pattern)
    layers, rank, mirror = base.order.layers, base.order.rank, mirror_of(pattern)
    pairs = on_line(pattern, base)
    assert pairs
    for edges in pairs:
        one, two = layers.layer_of[pattern.edge_faces[list(edges)]]
        assert len({bool(rank[a] < rank[b]) for a in one for b in two}) == 1
    folds = np.array(base.pattern.folds)
    assert (folds == folds[mirror.edges]).all()
    assert base.mirrored.unlike == 0
    assert faults(base.pattern, base.form, base.order.of_faces) == 0


def test_of_creases_unlike_their_image_a_search_shows_that_they_must_be():
    """Random figure 175: all but two pairs of creases are alike."""
    pattern = read_fold(PATTERNS / "mirrored_175.fold")
    made = constructed(pattern)
    assert (made.unlike, made.shown) == (4, 4)
    search = MirroredSearch(MirroredLayers(made.molecules, mirror_of(pattern)))
    assert search.all_alike(np.argsort(made.rank).tolist()).impossible
    base = flat_base(pattern)
    assert faults(base.pattern, base.form, base.order.of_faces) == 0
    folds = np.array(base.pattern.folds)
    assert (folds != folds[mirror_of(pattern).edges]).sum() == 4
    assert "none of them" in str(base.mirrored)


def test_a_general_solver_finds_as_well_that_not_all_creases_can_be_alike():
    """CP-SAT (OR-tools) on the conditions of all pairs and triples of layers, written out.

    That they are no more than must hold is seen on the order found: all hold of it, if its creases
    need not be alike.
    """
    cp_model = pytest.importorskip("ortools.sat.python.cp_model")
    pattern = read_fold(PATTERNS / "mirrored_175.fold")
    made = constructed(pattern)
    model = cp_model.CpModel()
    under = conditions(model, made.molecules)
    found = model.clone()
    for (a, b), literal in under.items():
        found.add(
            found.get_bool_var_from_proto_index(literal.index)
            == int(made.rank[a] < made.rank[b])
        )
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    assert solver.solve(found) == cp_model.OPTIMAL
    ask_alike(model, under, made.molecules, mirror_of(pattern))
    assert solver.solve(model) == cp_model.INFEASIBLE


@pytest.mark.parametrize("name", ["random_91", "random_166"])
def test_molecules_that_no_tour_takes_in_are_put_in(name):
    """Random figures of 12 and 19 flaps, as creased: some molecules of each are beyond every tour."""
    pattern = read_fold(PATTERNS / f"{name}.fold")
    base = flat_base(pattern)
    assert base.order is not None
    assert base.repaired >= 2
    assert faults(base.pattern, base.form, base.order.of_faces) == 0


def test_layers_of_the_classic_bases():
    """Counted on the textbook bases: a corner flap has 4 layers, the frog's middle flap 16."""
    count = layer_count(frog())
    assert {part.most for part in count.parts if part.name in "abcd"} == {4}
    assert next(part.most for part in count.parts if part.name == "e") == 16
    assert count.thickest == ("hub", 48)
    assert layer_count(bird()).joints == {"hub": 24}
    assert layer_count(waterbomb()).joints == {"hub": 8}


def test_a_grid_has_an_order():
    """A star on whole cells: strips of paper between axial creases, among them closed ones."""
    figure = Figure("star", tuple(Flap(f"f{k}", "hub", 2) for k in range(5)))
    pattern = grid_creases(pack_grid(figure, grid=GridRequest(unit=1.0)))
    base = flat_base(pattern)
    assert base.order is not None
    assert findings(base.pattern, base.form) == []
    assert faults(base.pattern, base.form, base.order.of_faces) == 0


def test_a_grid_whose_first_tour_pierces_a_layer_is_begun_elsewhere():
    """Five equal flaps on four cells: the tour from the best gap does not hold."""
    pattern = grid_creases(pack_grid(pose(read_figure(SAMPLES / "sea_star.toml"))))
    base = flat_base(pattern)
    assert base.status == "valid layer order"
    assert not findings(base.pattern, base.form)
    assert faults(base.pattern, base.form, base.order.of_faces) == 0


def test_a_section_has_as_many_pages_as_layers():
    base = flat_base(bird())
    assert len(section(base, bird().tree.n_tips)) == 24


def test_raw_edges_add_up_to_the_sheet_and_shown_sides_to_one():
    """A bird base shows one side of its paper on its two outer flaps; the others lie inside."""
    for make, perimeter in ((bird, 4.0), (fish, 4.0), (frog, 4.0)):
        sides = paper_sides(flat_base(make()))
        assert sum(side.raw_edge for side in sides) == pytest.approx(perimeter)
        assert {round(side.front + side.back, 9) for side in sides} <= {0.0, 1.0}
    assert sorted(side.back for side in paper_sides(flat_base(bird()))) == [0, 0, 0, 1, 1]


def test_what_shows_lies_on_the_sheet_where_its_face_does():
    """A waterbomb has eight layers of one shape, all flaps to one side: two of them show."""
    pattern = waterbomb()
    papers = shown_paper(flat_base(pattern))
    assert sum(paper.region.area for paper in papers) == pytest.approx(2 / 8)
    for paper in papers:
        face = shapely.Polygon(pattern.points[list(pattern.faces[paper.face])])
        assert face.buffer(1e-9).contains(paper.region)


def test_what_shows_in_slivers_is_drawn_whole(tmp_path):
    """A pattern on which GEOS's union on a grid fails: regions do not overlap, so areas add up."""
    path = tmp_path / "animal.toml"
    path.write_text(FIGURE, encoding="utf-8")
    options = SearchOptions(stop=MaxStarts(1), workers=1)
    packing = pack(read_figure(path), options=options, proof=0.0)
    base = flat_base(settle(packing, tries=1).pattern)
    shown = sum(paper.region.area for paper in shown_paper(base))
    marks = [mark for _, group in sides_drawing(base, 1.0).groups for mark in group]
    areas = [mark for mark in marks if isinstance(mark, Area)]
    drawn = sum(shapely.Polygon(mark.rings[0], mark.rings[1:]).area for mark in areas)
    assert drawn == pytest.approx(shown, rel=1e-6)


def test_the_order_survives_the_file(tmp_path, patterns):
    base = flat_base(patterns[1])
    path = tmp_path / "a.fold"
    path.write_text(fold_text(base), encoding="utf-8")
    again = read_base(path)
    assert (again.order.of_faces == base.order.of_faces).all()
    text = path.read_text(encoding="utf-8").replace('"packer:faceRanks":[', '"packer:x":[')
    path.write_text(text, encoding="utf-8")
    assert read_base(path).order is None


def test_a_section_of_many_layers_says_how_many_it_leaves_out(monkeypatch):
    """Those drawn and those left out: the fish has one joint, so they are all its faces."""
    base = flat_base(fish())
    monkeypatch.setattr(drawn, "MOST_PAGES", 6)
    _, marks = base_drawing(base).groups[-1]
    words = [mark.text for mark in marks if isinstance(mark, Label)]
    (left_out,) = [int(text.split()[0]) for text in words if text.endswith(" more between")]
    (title,) = [text for text in words if text.endswith(" layers cut")]
    pages = [mark for mark in marks if isinstance(mark, Area)]
    assert len(pages) == 6
    assert title.endswith(f": {len(pages) + left_out} layers cut")
    assert len(pages) + left_out == len(base.pattern.faces)


def test_the_base_is_drawn_with_both_sides_of_the_paper():
    drawing = base_drawing(flat_base(fish()), ("#ffffff", "#000000"))
    assert drawing.colours == {"front": "#ffffff", "back": "#000000"}
    assert {"front", "back"} <= {mark.part for mark in drawing.marks if hasattr(mark, "part")}
    names = [name for name, _ in drawing.groups]
    assert names[1] == "what shows of the sheet; raw edges of parts heavy"
    assert names[2].startswith("fanned out, heights drawn at ")
    assert names[3:] == ["layers just beyond each joint"]
    two = base_drawing(flat_base(fish()), columns=2)
    assert (
        two.height < 0.7 * drawing.height
    )  # nearly halved, since its views are of like heights
    assert two.width > 2 * drawing.width
    assert len(list(two.marks)) == len(list(drawing.marks))
    undecided = fish()
    assert base_drawing(base_of_ranks(undecided, None)) is None


def orders_exist(crossings, own):
    """Whether some layers have an order, as a mixed-integer program (HiGHS, by scipy): the slow twin.

    An unknown for each two layers says which is below; any three are transitive; a layer across a
    crease is on one side of both its layers; of four layers at two creases on one line an even
    number of the four pairs across is in one order.
    """
    n, place = len(own), {x: k for k, x in enumerate(own)}
    rows, low, high = [], [], []

    def add(terms, least, most):
        row = {}
        for a, b, sign in terms:
            key, turned = (min(a, b), max(a, b)), a > b
            row[key] = row.get(key, 0.0) + (-sign if turned else sign)
            least, most = least - sign * turned, most - sign * turned
        rows.append(row)
        low.append(least)
        high.append(most)

    for a, b, c in itertools.combinations(range(n), 3):
        add([(a, b, 1), (b, c, 1), (a, c, -1)], 0, 1)
    sides = crossings.creases[:, 1:].tolist()
    mine = [k for k, pair in enumerate(sides) if place.keys() >= set(pair)]
    asked = np.array([(k, x) for k in mine for x in own if x not in sides[k]])
    for k, x in asked[crossings.across(*asked.T)].tolist():
        a, b = (place[y] for y in sides[k])
        add([(a, place[x], 1), (b, place[x], -1)], 0, 0)
    halves = 0
    for one, two in crossings.tacos.tolist():
        four = [*sides[one], *sides[two]]
        if len(set(four)) == 4 and place.keys() >= set(four):
            a, b, c, d = (place[y] for y in four)
            add([(a, c, 1), (a, d, 1), (b, c, 1), (b, d, 1)], 0, 0)
            rows[-1]["half", halves] = -2.0
            halves += 1
    columns = {
        key: k for k, key in enumerate(dict.fromkeys(key for row in rows for key in row))
    }
    matrix = lil_matrix((len(rows), len(columns)))
    for k, row in enumerate(rows):
        for key, factor in row.items():
            matrix[k, columns[key]] = factor
    most = [2.0 if key[0] == "half" else 1.0 for key in columns]
    found = milp(
        np.zeros(len(columns)),
        constraints=LinearConstraint(matrix.tocsr(), low, high),
        integrality=np.ones(len(columns)),
        bounds=Bounds(0, most),
    )
    assert found.status in {0, 2}  # solved, or proven to have no solution
    return found.status == 0


def test_a_polygon_without_an_order_is_told_from_one_with_one(monkeypatch):
    """A pentagon of 30 layers from one joint, of 26 from another, by search and by HiGHS."""
    monkeypatch.setattr(complete, "polygon_without_order", lambda _: ())
    monkeypatch.setattr(complete, "FINE_EDGE", 0.0)
    pattern = crease_pattern(pentagon("ade"))
    corners = {pattern.tips[name] for name in CORNERS}
    told = {}
    for joint in ("j", "m"):
        root = pattern.tree.n_tips + pattern.tree.joints.index(joint)
        molecules = Molecules(pattern, root)
        of_face = molecules.of_face.tolist()
        inside = {
            k: set().union(*(set(pattern.faces[f]) for f, x in enumerate(of_face) if x == k))
            for k in set(of_face)
        }
        (k,) = (k for k, vertices in inside.items() if corners <= vertices)
        told[joint] = without_order(molecules, k)
        own = sorted(molecules.all[k].layers)
        assert told[joint] == (not orders_exist(molecules.crossings, own))
    assert told == {"j": True, "m": False}
