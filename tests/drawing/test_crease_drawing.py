"""Drawings of creases and folded forms: what they show, where, and how it is told apart."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import replace

import numpy as np
import pytest
import shapely

from packer.drawing.crease_drawing import crease_drawing
from packer.drawing.folded_drawing import folded_drawing
from packer.drawing.marks.labels import label_box
from packer.drawing.marks.strokes import Area, Label, Path
from packer.drawing.marks.styles import ROLES, STYLES, line_kind
from packer.drawing.plates.crease_plate import NUMBERS_COLUMN, crease_plate
from packer.drawing.writers.svg import svg_text
from packer.folded.form import fold
from packer.folded.layers import FlatBase, flat_base
from tests.folded.textbook import bird, frog, river, windmill


@pytest.fixture(scope="module", name="base")
def _base():
    return flat_base(bird())


def lines(drawing):
    return [m for m in drawing.marks if isinstance(m, Path) and not m.closed]


@pytest.mark.parametrize("look", ["role", "fold"])
def test_every_crease_is_drawn_once_at_true_size(base, look):
    """The lengths drawn add up to those of the pattern, in mm."""
    pattern = base.pattern
    drawing = crease_drawing(pattern, 150.0, look)
    assert (drawing.width, drawing.height) == (150, 150)
    drawn = sum(np.hypot(*np.subtract(*path.points)) for path in lines(drawing))
    ends = pattern.points[pattern.edges]
    lengths = np.hypot(*(ends[:, 0] - ends[:, 1]).T)
    inner = np.array([role != "border" for role in pattern.roles])
    assert drawn == pytest.approx(150 * lengths[inner].sum(), rel=1e-9)


def test_creases_that_run_on_straight_are_one_line(base):
    assert len(lines(crease_drawing(base.pattern))) < base.pattern.creases


def test_groups_are_by_role_and_fold(base):
    names = [name for name, _ in crease_drawing(base.pattern).groups]
    assert {"ridge valley", "axial mountain", "border", "tips", "fillers", "names"} <= set(
        names
    )


def test_mountain_and_valley_differ_by_dash_in_both_looks(base):
    for kinds in (("mountain", "valley"), ("ridge mountain", "ridge valley")):
        dashes = {STYLES[kind].dash for kind in kinds}
        assert len(dashes) == 2
        assert () not in dashes
    roles = ("axial", "ridge", "hinge", "gusset")
    assert len({STYLES[f"{role} valley"].line for role in roles}) == len(roles)


def test_the_svg_is_valid_and_the_same_each_time(base):
    pattern = replace(base.pattern, title='<script>"&')
    text = svg_text(crease_drawing(pattern))
    assert text == svg_text(crease_drawing(pattern))
    assert "<script" not in text
    assert "script&gt;" in text
    ET.fromstring(text)


def test_the_folded_form_is_drawn_layer_by_layer_with_a_bar_for_each_part():
    base = flat_base(river())
    drawing = folded_drawing(base, 100.0)
    groups = dict(drawing.groups)
    layers = groups["layers"]
    assert len(layers) == len(base.pattern.faces)
    area = sum(abs(shoelace(mark.rings[0])) for mark in layers)
    assert area == pytest.approx(100.0**2)  # every bit of the sheet is in one layer
    for mark in groups["bars"]:
        assert isinstance(mark, Area)
        xs = [x for x, _ in mark.rings[0]]
        index = base.pattern.tree.names.index(mark.part)
        assert max(xs) - min(xs) == pytest.approx(100 * base.pattern.lengths[index])
    assert 0 < STYLES["layer"].opacity < 0.2


def test_bars_stand_below_the_folded_form_in_lanes_of_their_own():
    drawing = folded_drawing(flat_base(river()), 100.0)
    groups = dict(drawing.groups)
    lowest = min(y for mark in groups["layers"] for _, y in mark.rings[0])
    spans = sorted(
        (min(y for _, y in mark.rings[0]), max(y for _, y in mark.rings[0]))
        for mark in groups["bars"]
    )
    assert spans[0][0] >= 0
    assert spans[-1][1] < lowest
    high = max(y for mark in groups["layers"] for _, y in mark.rings[0])
    assert high == pytest.approx(drawing.height)
    names = shapely.union_all([shapely.Polygon(label_box(mark)) for mark in groups["names"]])
    assert shapely.box(0, 0, drawing.width, drawing.height).contains(names)
    assert names.bounds[2] > drawing.width - 8  # and no wider than they ask for


def test_the_windmill_is_drawn_with_the_proportions_of_the_textbook():
    """From one of its joints, as in `tests.folded.test_form`: 3/4 of the side long, 1/4 high."""
    base = FlatBase(windmill(), fold(windmill(), 6), None)
    drawing = folded_drawing(base, 100.0)
    groups = dict(drawing.groups)
    lines = {mark.title: np.array(mark.points) for mark in groups["axis"]}
    foot = lines["the axis"][0, 1]
    np.testing.assert_allclose(lines["the axis"], [(0, foot), (75, foot)], atol=1e-9)
    assert drawing.height == pytest.approx(foot + 25)
    assert sorted(p[0, 0] for p in lines.values()) == pytest.approx([0, 0, 50])
    assert "75 mm long and 25 mm high" in drawing.description
    ends = sorted((min(xs), max(xs)) for xs in _along(groups["bars"]))
    np.testing.assert_allclose(ends, [(0, 25)] * 3 + [(0, 50)] + [(50, 75)] * 3, atol=1e-9)


def _along(bars):
    return [[x for x, _ in mark.rings[0]] for mark in bars]


def shoelace(ring):
    x, y = np.array(ring).T
    return 0.5 * (x @ np.roll(y, -1) - y @ np.roll(x, -1))


def test_parts_have_the_colours_they_are_given(base):
    colours = dict.fromkeys(base.pattern.tree.names, "#123456")
    assert folded_drawing(base, colours=colours).colours["a"] == "#123456"


def test_the_plate_holds_both_and_the_numbers(base):
    plate = crease_plate(base, "fold", ["creases: 20"])
    names = {name for name, _ in plate.groups}
    assert {"creases: border", "folded form: layers", "numbers", "key"} <= names
    ET.fromstring(svg_text(plate))


def test_numbers_of_a_plate_stay_on_the_page(base):
    """At 0.66 of its height a letter of the plate's font is wide (DejaVu Sans, generously)."""
    line = "smallest feature: 0.00808, 0.81 % of the side, at (0.002044, 0.8329), " * 2
    plate = crease_plate(base, "role", [line])
    *rows, caption = dict(plate.groups)["numbers"]
    assert caption.text.startswith("folded form")
    assert " ".join(row.text.strip() for row in rows) == line.strip()
    assert all(row.at[0] + 0.66 * row.size * len(row.text) <= plate.width for row in rows)
    assert all(row.at[1] > 0 for row in rows)


def test_names_lie_on_the_sheet_and_not_over_each_other():
    drawing = crease_drawing(frog(), 120.0)
    boxes = [shapely.Polygon(label_box(mark)) for mark in dict(drawing.groups)["names"]]
    assert len(boxes) == 9
    assert shapely.box(0, 0, 120, 120).contains(shapely.union_all(boxes))
    assert shapely.union_all(boxes).area == pytest.approx(sum(box.area for box in boxes))


@pytest.mark.parametrize("pattern", [bird, frog, river, windmill])
def test_no_label_of_a_plate_leaves_the_page_or_touches_another(pattern):
    base = FlatBase(pattern(), fold(pattern()), None)
    plate = crease_plate(base, "role", ["a line of numbers, long enough to be broken " * 3])
    boxes = [
        shapely.Polygon(label_box(mark)) for mark in plate.marks if isinstance(mark, Label)
    ]
    assert shapely.covers(shapely.box(0, 0, plate.width, plate.height), boxes).all()
    assert shapely.union_all(boxes).area == pytest.approx(sum(box.area for box in boxes))


def test_fillers_of_one_joint_share_a_lane_and_a_name():
    pattern = replace(frog(), fillers=tuple("pqrs"), part_of={})
    drawing = folded_drawing(FlatBase(pattern, fold(pattern), None), 100.0)
    groups = dict(drawing.groups)
    dashed = [mark for mark in groups["bars"] if mark.kind == "filler bar"]
    assert len(dashed) == 4
    assert len({mark.points for mark in dashed}) == 1
    assert [mark.text for mark in groups["names"]] == [*"abcde", "4 fillers"]


@pytest.mark.parametrize("look", ["role", "fold"])
def test_the_key_of_a_plate_explains_every_line(look):
    plate = crease_plate(flat_base(river()), look)
    groups = dict(plate.groups)
    drawn = {
        mark.kind
        for name, marks in groups.items()
        if name.startswith("creases: ")
        for mark in marks
        if isinstance(mark, Path)
    } - {"border", "leader"}
    explained = {mark.kind for mark in groups["key"] if isinstance(mark, Path)}
    assert drawn <= explained
    texts = [mark.text for mark in groups["key"] if isinstance(mark, Label)]
    assert len(texts) == len(set(texts))
    assert any("flat hinge" in text for text in texts) == ("flat hinge" in drawn)
    assert "flat hinge" in drawn


def test_one_kind_of_line_has_one_name():
    """What the flat base leaves unfolded is a flat hinge: in styles, ids and keys alike."""
    assert line_kind("hinge", "F") == "flat hinge"
    assert all("unfolded" not in kind for kind in STYLES)
    assert all(line_kind(role, fold) in STYLES for role in ROLES for fold in "MVFU")


def test_the_folded_form_fills_its_column(base):
    plate = crease_plate(base, "role", ["creases: 20"])
    layers = [m for m in dict(plate.groups)["folded form: layers"] if isinstance(m, Area)]
    xs = [x for mark in layers for ring in mark.rings for x, _ in ring]
    assert max(xs) - min(xs) > 0.5 * NUMBERS_COLUMN
