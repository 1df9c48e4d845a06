"""SVG: well formed, true millimetres, named groups, the same bytes, any name."""

import xml.etree.ElementTree as ET

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packer.drawing.figure_drawing import figure_drawing
from packer.drawing.marks.strokes import Drawing, Label, Path
from packer.drawing.packing_drawing import GROUPS, packing_drawing
from packer.drawing.writers.svg import svg_text
from packer.model.sheet import Sheet
from tests.drawing.desk import SVG, fish, groups, numbers, preliminary
from tests.strategies import WILD_NAMES, figures, packings


def test_a_sheet_with_a_unit_is_drawn_in_true_millimetres():
    root = ET.fromstring(svg_text(packing_drawing(preliminary(35.0, "cm"))))
    assert (root.get("width"), root.get("height")) == ("354mm", "354mm")
    assert root.get("viewBox") == "-2 -2 354 354"
    (frame,) = groups(svg_text(packing_drawing(preliminary(35.0, "cm"))))["sheet"]
    assert sorted(set(numbers(frame.get("d")))) == [0.0, 350.0]


def test_a_ratio_is_drawn_two_hundred_millimetres_wide():
    root = ET.fromstring(svg_text(packing_drawing(preliminary(1.0, ""))))
    assert root.get("width") == "204mm"


def test_groups_are_named_and_carry_titles():
    text = svg_text(packing_drawing(fish()))
    found = groups(text)
    assert list(found) == [name.replace(" ", "-") for name in GROUPS]
    assert len(found["rivers"]) == 1
    assert len(found["discs"]) == len(found["tips"]) == 5
    assert len(found["names"]) == 6  # five flaps and a river
    titles = [title.text for title in found["discs"].iter(f"{SVG}title")]
    assert titles[0].startswith("nose: edge flap, length 1, ")
    assert titles[3].startswith("dot.left: loose middle flap, length 0.25, ")
    root = ET.fromstring(text)
    assert root[0].tag == f"{SVG}title"
    assert root[1].tag == f"{SVG}desc"
    assert root.get("aria-labelledby") == f"{root[0].get('id')} {root[1].get('id')}"


def test_a_whole_disc_has_its_true_radius():
    packing = preliminary(200.0)
    disc = groups(svg_text(packing_drawing(packing)))["discs"][0]
    arcs = disc.get("d").split("A")[1:]
    assert [float(arc.split()[0]) for arc in arcs] == [pytest.approx(100.0, abs=1e-4)]


def test_y_points_up_on_the_sheet_and_down_in_the_file():
    tip = groups(svg_text(packing_drawing(preliminary(100.0))))["tips"][0]
    assert (float(tip.get("cx")), float(tip.get("cy"))) == (0.0, 100.0)


@settings(max_examples=25, deadline=None)
@given(packings(max_flaps=6))
def test_every_packing_is_well_formed_and_the_same_twice(packing):
    text = svg_text(packing_drawing(packing))
    ET.fromstring(text)
    assert "nan" not in text
    assert "e-" not in text.split("<title")[0]
    assert svg_text(packing_drawing(packing)) == text


@settings(max_examples=30, deadline=None)
@given(figures(max_flaps=5, wild_names=True))
def test_any_name_is_written_and_read_back(figure):
    root = ET.fromstring(svg_text(figure_drawing(figure)))
    assert root.tag == f"{SVG}svg"


@given(WILD_NAMES | st.sampled_from(["<script>alert(1)</script>", "\"&'", "a\x00b\ud800"]))
def test_markup_in_names_stays_text(name):
    marks = (
        Label("name", (1, 1), name, 3),
        Path("sheet", ((0, 0), (1, 1)), part=name, title=name),
    )
    root = ET.fromstring(
        svg_text(Drawing(10, 10, ((name, marks),), title=name, description=name))
    )
    assert [e.tag for e in root.iter()] == [
        SVG + tag for tag in ("svg", "title", "desc", "g", "text", "path", "title")
    ]


def test_a_prefix_keeps_two_drawings_apart():
    a, b = (set(groups(svg_text(packing_drawing(fish()), prefix=p))) for p in ("a-", "b-"))
    assert not a & b


def test_it_is_small():
    """Under 1 kB a flap, rivers and names included."""
    assert len(svg_text(packing_drawing(fish()))) < 1000 * 7


def test_notebooks_show_figures_and_packings():
    packing = fish()
    for shown in (packing._repr_svg_(), packing.figure._repr_svg_()):
        assert ET.fromstring(shown).tag == f"{SVG}svg"


def test_a_sheet_of_inches_is_in_millimetres_too():
    root = ET.fromstring(svg_text(packing_drawing(preliminary(10.0, "in"))))
    assert Sheet(10, 10, "in").in_mm().width + 4 == pytest.approx(float(root.get("width")[:-2]))
