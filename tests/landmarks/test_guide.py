"""Guides of textbook bases and of a packed figure, recomputed from what is written."""

from __future__ import annotations

import json
import math
from collections import Counter
from types import SimpleNamespace

import numpy as np
import pytest
import shapely

from packer.drawing import guide_panels
from packer.drawing.guide_panels import panels
from packer.drawing.marks.strokes import Label, Path
from packer.drawing.precrease_drawing import MEASURE_MM, _measures, level_drawing
from packer.drawing.stage_drawing import stage_drawing
from packer.files.fold_json import fold_text
from packer.files.guide_json import guide_text
from packer.folded.form import fold
from packer.folded.layers import FlatBase, flat_base
from packer.grid.grid_creases import grid_creases
from packer.grid.pack_grid import pack_grid
from packer.landmarks.fold_guide import fold_guide
from packer.model.figure import Figure, Flap
from packer.model.problem import pose
from packer.model.sheet import Sheet
from packer.search.options import SearchOptions
from packer.search.stopping import MaxEffort
from tests.creases.molecules import test_classic_bases as bases
from tests.folded import textbook
from tests.landmarks.recomputed_guide import faults

ROOT2 = math.sqrt(2)


def written(pattern, mm=350.0, within=0.5):
    base = flat_base(pattern)
    guide = fold_guide(base, mm, within)
    return guide, json.loads(guide_text(guide)), json.loads(fold_text(base))


@pytest.mark.parametrize(
    ("made", "creases"),
    [
        # the kite's two tips are corners; the fish's four too
        (bases.KITE, 0),
        (bases.FISH, 0),
        # the bird's inner tip is the centre: two diagonals or two book folds
        (bases.BIRD, 2),
        # the frog's tips besides are the middles of the sides: two book folds make them all
        (bases.FROG, 2),
        (bases.WATERBOMB, 0),
    ],
    ids=["kite", "fish", "bird", "frog", "waterbomb"],
)
def test_landmarks_of_the_textbook_bases_are_none_but_diagonals_and_halves(made, creases):
    # S. Randlett, The Art of Origami, 1961: the bases begin with book and diagonal folds alone
    _, record, base = written(bases.base(*made))
    assert faults(record, base) == []
    own = [t for name, t in record["tips"].items() if name.startswith("f")]
    assert max(t["distance"] for t in own) < 1e-9
    if made is not bases.KITE:  # whose pattern has fillers
        assert len(record["steps"]) == creases
    for step in record["steps"][:creases]:
        assert step["alignment"] in {1, 2, 3}
        a, b, c = step["line"]
        angle = math.degrees(math.atan2(b, a)) % 45
        assert min(angle, 45 - angle) < 1e-9
        assert abs(a * 0.5 + b * 0.5 - c) < 1e-12


def test_the_fish_base_comes_together_as_two_rabbit_ears():
    # textbook: one rabbit ear on each side of the diagonal, one after the other (Randlett 1961;
    # R. Harbin, Paper Magic, 1956), the other half of the sheet lying open meanwhile
    guide, _, _ = written(bases.base(*bases.FISH))
    assert [len(stage.polygons) for stage in guide.stages] == [1, 1]
    first = guide.stages[0]
    assert int(first.still_open.sum()) * 2 == len(guide.pattern.faces)
    # a rabbit ear: three ridges and a hinge, all at one point
    assert first.together == 4
    assert guide.most_together < guide.before
    assert all(stage.order is not None for stage in guide.stages)


@pytest.mark.parametrize(
    ("made", "lines"), [(bases.BIRD, 8), (bases.FROG, 16)], ids=["bird", "frog"]
)
def test_bases_with_an_inner_tip_come_over_the_preliminary_base(made, lines):
    # textbooks (Randlett 1961; Harbin 1956): the bird base begins with the preliminary base, book
    # folds and diagonals that all meet in the centre, here with its front and back folded in half
    # too; the frog base with its four squash folds after that. Then every polygon comes by itself:
    # a petal fold is two of them
    guide, record, base = written(bases.base(*made))
    first, *rest = guide.stages
    assert first.polygons == ()
    assert len(first.halved) == len(rest) == lines // 2
    assert all(len(stage.polygons) == 1 for stage in rest)
    centre = guide.pattern.tips["f4"]
    at_centre = [e for e in first.pattern.edges_at[centre] if first.form.folded[e]]
    assert len(at_centre) == lines
    ends = first.pattern.points[first.pattern.edges[first.form.folded]]
    turn = (ends[:, 0, 0] - 0.5) * (ends[:, 1, 1] - 0.5)
    turn -= (ends[:, 0, 1] - 0.5) * (ends[:, 1, 0] - 0.5)
    assert np.abs(turn).max() < 1e-12  # no crease but those through the centre
    assert guide.most_together <= guide.before / 2
    assert faults(record, base) == []


def test_creases_that_move_in_a_stage_are_drawn_once_and_straight_on_as_one_line():
    """As long as the union of their edges; no two lines of a kind go on from each other (shapely)."""
    guide, _, _ = written(bases.base(*bases.FROG))
    for number, stage in enumerate(guide.stages):
        lines = dict(stage_drawing(guide, number, 100.0).groups)["moving"]
        edges = stage.pattern.points[stage.pattern.edges[stage.moving]]
        union = shapely.union_all(shapely.linestrings(100.0 * edges))
        drawn = shapely.linestrings([mark.points for mark in lines])
        assert shapely.length(drawn).sum() == pytest.approx(union.length)
        assert len(lines) <= len(edges)
        for k, one in enumerate(drawn):
            for other, mark in zip(drawn[:k], lines[:k], strict=True):
                both = shapely.union(one, other)
                meet = mark.kind == lines[k].kind and shapely.distance(one, other) < 1e-9
                assert not meet or shapely.convex_hull(both).area > 1e-6


def test_a_guide_on_a_grid_rests_on_crossings_of_its_division():
    flaps = tuple(Flap(f"arm {k}", "disc", 1) for k in range(5))
    options = SearchOptions(stop=MaxEffort(1))
    packing = pack_grid(pose(Figure("star", flaps)), options=options)
    guide, record, base = written(grid_creases(packing))
    assert record["onGrid"]
    assert faults(record, base) == []
    assert guide.stages[-1].order is not None
    # a division of the sides wants no line but its own, and every crease can be made on it
    assert not guide.collapse
    assert not record["unmarked"]
    wrong = json.loads(json.dumps(record))
    level = next(k for k, step in enumerate(wrong["steps"]) if abs(step["line"][0]) < 1e-9)
    wrong["steps"][level]["line"][2] += 1e-3
    assert faults(wrong, base) != []


@pytest.mark.parametrize(
    ("made", "first", "then"),
    [
        # the diagonal, then kite folds onto it; the other end of the square has them too, as fillers
        (bases.KITE, {45}, {22.5: 2, 67.5: 2, 135: 2}),
        # the diagonal, kite folds from both its ends, and the rabbit ears' third lines
        (bases.FISH, {45}, {22.5: 2, 67.5: 2, 135: 2}),
        # both diagonals, both book folds, and the kite folds of the petals from all corners
        (bases.BIRD, {45, 135}, {0: 1, 90: 1, 22.5: 2, 67.5: 2, 112.5: 2, 157.5: 2}),
        # diagonals and book folds, the squash folds' lines through the centre, one of each slope,
        # and two of each and four of the diagonals' for the petals
        (bases.FROG, {0, 45, 90, 135}, {22.5: 3, 67.5: 3, 112.5: 3, 157.5: 3, 45: 4, 135: 4}),
    ],
    ids=["kite", "fish", "bird", "frog"],
)
def test_pre_creasing_of_the_bases_is_the_textbook_one(made, first, then):
    # the sequences of S. Randlett, The Art of Origami, 1961, and R. Harbin, Paper Magic, 1956 (from
    # memory): angles of 45 degrees are halved again and again, nothing is measured
    guide, record, _ = written(bases.base(*made))
    rows = [row for row in record["precreasing"] if row["role"] not in {"border", "hinge"}]
    axial = {angle_of(row) for row in rows if row["role"] == "axial" and row["level"] == 1}
    assert axial == first
    ridges = [row for row in rows if row["role"] == "ridge"]
    assert Counter(map(angle_of, ridges)) == then
    assert {row["alignment"] for row in ridges} == {3}
    assert max(row["level"] for row in ridges) == 2
    assert not guide.collapse
    if made is not bases.KITE:  # hinges of its fillers are measured
        assert max(row["level"] for row in record["precreasing"]) == 3
        assert not any(row["measured"] for row in record["precreasing"])


def angle_of(row):
    a, b, _ = row["line"]
    return round(math.degrees(math.atan2(-a, b)) % 180, 6) % 180


def test_a_page_tells_what_the_mark_of_a_tip_may_miss_by():
    guide, record, _ = written(bases.base(*bases.BIRD))
    # the centre, of two lines that lay a side or corner onto another: by hand half a millimetre each
    # over two, and what the turning of a crease adds half a side away, at most as much again
    (told,) = {
        line.partition("±")[2].partition(" mm")[0]
        for title, rows in panels(guide)
        for panel in rows
        for line in panel.lines
        if title == "Landmarks" and "the tip of f4" in line
    }
    assert 0.5 / math.sqrt(2) / 2 < float(told) < 0.5 * math.sqrt(2)
    assert float(told) == pytest.approx(350 * record["tips"]["f4"]["error"], abs=0.05)


def test_a_decided_fish_is_told_by_the_side_it_is_creased_from():
    base = flat_base(textbook.fish())
    assert base.order is not None
    guide = fold_guide(base, 350.0, 0.5)
    record = json.loads(guide_text(guide))
    told = {
        e: f for r in record["precreasing"] for e, f in zip(r["edges"], r["folds"], strict=True)
    }
    assert [told[e] for e in range(len(told))] == list(base.pattern.folds)
    assert faults(record, json.loads(fold_text(base))) == []


def test_a_wrong_guide_is_found_out():
    _, record, base = written(bases.base(*bases.BIRD))
    ridge = next(k for k, row in enumerate(record["precreasing"]) if row["role"] == "ridge")
    for path, value in [
        (("steps", 0, "alignment"), 4),
        (("steps", 0, "line", 2), 0.4),
        (("tips", "f4", "distance"), 0.1),
        (("precreasing", ridge, "alignment"), 1),
        (("precreasing", ridge, "level"), 1),
        (("stages", 0, "folded", 0), -1),
    ]:
        wrong = json.loads(json.dumps(record))
        entry = wrong
        for key in path[:-1]:
            entry = entry[key]
        entry[path[-1]] = value
        assert faults(wrong, base) != []


def test_a_small_sheet_leaves_what_nobody_measures_to_the_collapse():
    pattern = textbook.river()
    assert np.isfinite(pattern.points).all()
    guide = fold_guide(FlatBase(pattern, fold(pattern), None), 60.0, 0.5)
    assert sum(map(len, guide.levels)) + len(guide.collapse) > 0


def test_a_measured_length_stands_beside_the_middle_of_its_line():
    """So that it is read for that line: the farthest place tried lies (7, 5) mm off."""
    pattern = textbook.river()
    guide = fold_guide(FlatBase(pattern, fold(pattern), None), 350.0, 0.5)
    level = next(
        k
        for k, row in enumerate(guide.levels)
        if any(guide.precreases[n].measured for n in row)
    )
    drawings = [level_drawing(guide, level, back, 150.0) for back in (False, True)]
    marks = [mark for drawing in drawings for mark in dict(drawing.groups)["measures"]]
    (line,) = [
        mark.points for mark in marks if isinstance(mark, Path) and mark.kind == "measure"
    ]
    (label,) = [mark for mark in marks if isinstance(mark, Label)]
    assert math.dist(label.at, np.mean(line, axis=0)) <= math.hypot(7, 5)
    assert float(label.text) == pytest.approx(math.dist(*line) * 350 / 150, abs=0.05)


@pytest.mark.parametrize("x", [0.02, 0.5, 0.98])
def test_a_measured_length_stands_on_the_paper(x):
    """What stands beyond an edge would be cut off."""
    line = SimpleNamespace(start=0, vertex=1)
    pattern = SimpleNamespace(
        sheet=Sheet(1, 1), points=np.array([[x, 0.2], [x, 0.6]]), edges=np.array([[0, 1]])
    )
    guide = SimpleNamespace(
        pattern=pattern, precreases=(SimpleNamespace(measured=(line,)),), mm=200.0
    )
    (label,) = [mark for mark in _measures(guide, [0], 100.0) if isinstance(mark, Label)]
    assert label.text == "80.0"
    assert MEASURE_MM < label.at[0] < 100 - MEASURE_MM


def test_tips_to_measure_are_listed_whole_and_introduced_once(monkeypatch):
    names = [f"tip {k}" for k in range(guide_panels.MOST_ROWS + 2)]
    monkeypatch.setattr(guide_panels, "measured", lambda made, name, mm: "by the ruler")
    monkeypatch.setattr(guide_panels, "checks", lambda guide: [])
    landmarks = SimpleNamespace(steps=(), unmarked=names)
    guide = SimpleNamespace(landmarks=landmarks, on_grid=False, mm=200.0)
    first, second = guide_panels._landmarks(guide)
    assert first.lines[0].startswith("Dot them")
    rows = [*first.lines[1:], *second.lines]
    assert rows == [f"{name}: by the ruler." for name in names]


def test_a_crease_and_its_mirror_image_are_one_panel(monkeypatch):
    """The second of four is the image of the first; the others have none."""
    monkeypatch.setattr(guide_panels, "instruction", lambda made, number: f"fold {number}")
    monkeypatch.setattr(guide_panels, "marks_listed", lambda made, mm, numbers: "")
    monkeypatch.setattr(guide_panels, "image_of", lambda made, number: {0: 1}.get(number))
    monkeypatch.setattr(guide_panels, "checks", lambda guide: [])
    steps = tuple(SimpleNamespace(image=image) for image in (-1, 0, -1, -1))
    landmarks = SimpleNamespace(steps=steps, unmarked=())
    guide = SimpleNamespace(landmarks=landmarks, on_grid=False, mm=200.0)
    assert [panel.heading for panel in guide_panels._landmarks(guide)] == ["1 and 2", "3", "4"]
