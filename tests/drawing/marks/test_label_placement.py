"""Labels never touch: near what they name, beside it with a leader line, or left out."""

from __future__ import annotations

from itertools import combinations

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from matplotlib.font_manager import findfont
from matplotlib.ft2font import FT2Font

from packer.drawing.figure_drawing import figure_drawing
from packer.drawing.marks.label_placement import Naming, place_labels
from packer.drawing.marks.labels import label_box, text_width
from packer.drawing.marks.names import MOST_NUMBERED, numbers_of
from packer.drawing.marks.strokes import Disc, Label, Path
from packer.drawing.packing_drawing import packing_drawing
from packer.drawing.plates.packing_plate import gallery_plate, packing_plate
from packer.files.figure_toml import parse_figure, read_figure
from packer.model.packing import Packing
from packer.model.problem import pose
from packer.model.tree import tree_of
from tests.benchmarks.large_figures import on_a_grid, star
from tests.conftest import SAMPLES
from tests.drawing.desk import fish


def touching(marks):
    """Return the texts of labels whose boxes overlap."""
    labels = [mark for mark in marks if isinstance(mark, Label)]
    boxes = [shapely.Polygon(label_box(label)) for label in labels]
    return [
        (labels[i].text, labels[j].text)
        for i, j in combinations(range(len(boxes)), 2)
        if boxes[i].intersection(boxes[j]).area > 1e-9
    ]


def dots(*points):
    """Return one naming a point, each wanting to stand on its own point."""
    return [
        Naming([(Label("name", point, f"label {k}", 3.0),)], (point,))
        for k, point in enumerate(points)
    ]


def test_labels_that_want_one_place_get_leader_lines():
    marks = place_labels(dots((50, 50), (51, 50), (50, 51)), [], (0, 0, 100, 100))
    assert touching(marks) == []
    assert sum(isinstance(mark, Label) for mark in marks) == 3
    leaders = [mark for mark in marks if isinstance(mark, Path)]
    assert len(leaders) == 2
    for leader in leaders:  # from what it names, and across no label
        assert leader.points[0] in {(50, 50), (51, 50), (50, 51)}
        line = shapely.LineString(leader.points)
        others = [m for m in marks if isinstance(m, Label)]
        assert sum(line.intersects(shapely.Polygon(label_box(m))) for m in others) <= 1


@given(
    st.lists(
        st.tuples(st.integers(0, 60), st.integers(0, 60)), min_size=2, max_size=14, unique=True
    )
)
@settings(max_examples=25, deadline=None)
def test_no_two_labels_touch_whatever_the_points(points):
    marks = place_labels(dots(*points), [], (-20, -20, 80, 80))
    assert touching(marks) == []


@pytest.mark.parametrize("path", sorted(SAMPLES.glob("*.toml")), ids=lambda p: p.stem)
def test_a_stick_figure_names_every_part_with_its_length(path):
    figure = read_figure(path)
    drawing = figure_drawing(figure)
    names = dict(drawing.groups)["names"]
    assert touching(names) == []
    texts = {mark.text for mark in names if isinstance(mark, Label)}
    tree = tree_of(figure)
    lengths = dict(zip(tree.written, tree.lengths.tolist(), strict=True))
    assert texts == {f"{name}  {length:.4g}" for name, length in lengths.items()}


def test_a_packing_names_flaps_and_rivers():
    packing = fish()
    names = dict(packing_drawing(packing).groups)["names"]
    assert touching(names) == []
    named = {mark.part for mark in names if isinstance(mark, Label)}
    assert set(packing.tree.flaps) <= named
    assert named & set(packing.tree.rivers)


def test_a_large_figure_is_numbered_and_listed_with_its_lengths():
    """The lobster's 80 tips on a lattice: nothing but the drawing is tried here."""
    problem = pose(read_figure(SAMPLES / "spiny_lobster.toml"), symmetry="none")
    tips = [(0.05 + k % 9 / 10, 0.05 + k // 9 / 10) for k in range(problem.tree.n_tips)]
    packing = Packing(problem, tuple(tips))
    plate = packing_plate(packing)
    numbers = numbers_of(packing.tree)
    assert len(numbers) == len(set(packing.tree.written))
    for group, marks in plate.groups:
        if group.endswith("names"):
            assert touching(marks) == []
            texts = {mark.text for mark in marks if isinstance(mark, Label)}
            assert texts <= {str(k) for k in numbers.values()}
            assert len(texts) >= packing.tree.n_tips / 2
    listed = [mark.text for mark in dict(plate.groups)["list"]]
    assert "whip  2.2" in listed
    assert min(m.size for m in plate.marks if m.__class__ is Label) >= 2.0


def test_names_in_a_gallery_can_be_read():
    plate = gallery_plate([fish(), fish()])
    names = [m for group, marks in plate.groups if group.endswith("names") for m in marks]
    assert touching(names) == []
    assert min(mark.size for mark in names if isinstance(mark, Label)) >= 2.0


def test_widths_of_letters_are_those_of_a_wide_face():
    """At least those of DejaVu Sans, which is among the widest faces (matplotlib brings it)."""
    font = FT2Font(findfont("DejaVu Sans"))
    font.set_size(100, 72)
    for text in ("hind_toe.left", "claw_arm  1.8", "swimmer_5", "WWW mmm", "12"):
        true = sum(font.load_char(ord(c)).linearHoriAdvance for c in text) / 6553600
        assert true * 0.97 <= text_width(text, 1.0) <= true * 1.1


def test_names_that_would_cover_the_sheet_are_left_out():
    """100 names of three letters of 2 mm cover 8 mm2 each, and on 20 mm a flap has 4."""
    packing = on_a_grid(parse_figure(star(100), "star"))

    def named(mm):
        drawing = packing_drawing(packing, mm / packing.sheet.width)
        return sum(isinstance(mark, Label) for mark in drawing.marks)

    assert named(20) == 0
    assert named(200) > 80


def test_more_parts_than_a_list_holds_go_without_numbers_and_a_figure_without_names():
    """Of 401 flaps the list would be larger than the pictures, and no name beside them could be read."""
    few, many = (parse_figure(star(n), "star") for n in (MOST_NUMBERED, MOST_NUMBERED + 1))
    assert len(numbers_of(tree_of(few))) == MOST_NUMBERED
    assert numbers_of(tree_of(many)) == {}
    drawing = figure_drawing(many)
    (note,) = (mark for mark in drawing.marks if isinstance(mark, Label))
    assert note.text.startswith("names of 401 parts left out; point at a stroke of the SVG")
    x, y = label_box(note).T
    assert min(x) >= 0
    assert max(x) <= drawing.width
    assert max(y) < min(p[1] for m in drawing.marks if isinstance(m, Path) for p in m.points)
    # as the titles say which are in an SVG: of each stroke the name and the length
    titles = {m.title for m in drawing.marks if isinstance(m, Path)}
    assert {f"f{k}: flap, length 1" for k in range(401)} <= titles
    # dots are smaller, so that strokes are seen between them
    assert max(m.radius for m in drawing.marks if isinstance(m, Disc)) < 0.9
