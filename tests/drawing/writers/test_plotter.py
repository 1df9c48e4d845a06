"""Plotter files: nothing doubled, nothing lost, layers by purpose, little travel; DXF read back."""

import itertools
import math
import xml.etree.ElementTree as ET

import ezdxf
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from packer.drawing.marks.lines import Line, line_drawing
from packer.drawing.marks.strokes import Area, Drawing, Label, Path
from packer.drawing.packing_drawing import packing_drawing
from packer.drawing.writers import plotter
from packer.drawing.writers.dxf import dxf_text
from packer.drawing.writers.plotter import PEN_STYLES, in_order, plotter_drawing, travel
from packer.drawing.writers.svg import svg_text
from tests.drawing.desk import SVG, chords, doubled, fish, groups, preliminary, strokes
from tests.strategies import packings


@settings(max_examples=12)
@given(packings(max_flaps=6))
def test_everything_is_drawn_once(packing):
    drawing = packing_drawing(packing, 200 / packing.sheet.width)
    pens = plotter_drawing(drawing)
    assert doubled(strokes(pens)) == 0
    drawn = sum(line.length for line in chords(line_drawing(drawing)))
    tips = packing.tree.n_tips * 2 * math.pi * 0.8
    assert sum(line.length for line in chords(pens)) == pytest.approx(drawn + tips, rel=2e-3)


def test_layers_are_purposes_and_nothing_is_filled():
    text = svg_text(plotter_drawing(packing_drawing(fish())), styles=PEN_STYLES)
    assert set(groups(text)) == {
        *("river-line", "disc-line", "sheet", "axis", "active-path", "tip", "loose-tip")
    }
    for element in ET.fromstring(text).iter():
        assert element.get("fill", "none") == "none"
        assert element.get("stroke-dasharray") is None
        assert element.tag != f"{SVG}text"


def test_lines_that_follow_on_are_drawn_without_lifting():
    sides = ((0, 0), (10, 0), (10, 10), (0, 10), (0, 0))
    paths = tuple(Path("border", pair) for pair in itertools.pairwise(sides))
    pens = plotter_drawing(
        Drawing(10, 10, (("all", (paths[2], paths[0], paths[3], paths[1])),))
    )
    ((name, (path,)),) = pens.groups
    assert name == "border"
    assert len(path.points) == 5
    assert travel(pens) == pytest.approx(0)


def test_a_gap_that_can_be_seen_is_not_drawn_through():
    """A tenth of a millimetre, the finest pen: a knife would cut what is to stay whole."""
    paths = (Path("border", ((0, 0), (10, 0))), Path("border", ((10.1, 0), (20, 0))))
    ((_, drawn),) = plotter_drawing(Drawing(20, 1, (("all", paths),))).groups
    assert len(drawn) == 2


def test_the_next_layer_begins_where_the_tool_is():
    """Ticks at both ends of a line that is drawn from left to right: the right one first."""
    line = Path("border", ((0.0, 0.0), (100.0, 0.0)))
    ticks = tuple(Path("active path", ((x, 1.0), (x, 2.0))) for x in (0.0, 100.0))
    drawing = Drawing(100, 2, (("first", (line,)), ("then", ticks)))
    assert travel(plotter_drawing(drawing)) == pytest.approx(1 + 100)


def test_arcs_keep_their_side_whichever_way_they_are_drawn():
    """A half circle entered at its far end: turned round, it still bulges where it did."""
    arc = Path("disc line", ((20.0, 0.0), (0.0, 0.0)), bulges=(1.0,))
    ((_, (drawn,)),) = plotter_drawing(Drawing(20, 10, (("all", (arc,)),))).groups
    assert drawn.points[0] == pytest.approx((0, 0), abs=1e-9)
    before, after = (
        shapely.union_all(chords(Drawing(20, 10, (("all", (path,)),)))) for path in (arc, drawn)
    )
    assert before.hausdorff_distance(after) < 1e-6
    assert before.length == pytest.approx(10 * math.pi, rel=1e-3)


def test_an_order_is_improved_where_the_nearest_is_a_trap():
    """Dots at 1, -1.2, 3.5 and -6: the nearest in turn zigzags over 17.4, the best is 13."""
    dots = [Line((x, 0.0), (x, 0.01)) for x in (1.0, -1.2, 3.5, -6.0)]
    here, total = (0.0, 0.0), 0.0
    for path in in_order(dots):
        total += math.dist(here, path.points[0])
        here = path.points[-1]
    assert total == pytest.approx(13, abs=0.1)


ENDS = st.tuples(*[st.integers(0, 50)] * 4).filter(lambda e: e[:2] != e[2:])


@settings(max_examples=25)
@given(st.lists(ENDS, min_size=2, max_size=5))
def test_short_orders_are_close_to_the_best_by_trying_all(ends):
    lines = [Line(e[:2], e[2:]) for e in ends]

    def way(points):
        return sum(math.dist(a, b) for a, b in points)

    best = math.inf
    for order in itertools.permutations(lines):
        for flips in itertools.product((False, True), repeat=len(lines)):
            here, total = (0, 0), 0.0
            for line, flip in zip(order, flips, strict=True):
                start, end = (line.end, line.start) if flip else (line.start, line.end)
                total += math.dist(here, start)
                here = end
            best = min(best, total)
    paths = in_order(lines)
    found = way(
        zip(
            [(0, 0), *(p.points[-1] for p in paths)], (p.points[0] for p in paths), strict=False
        )
    )
    assert best - 1e-9 <= found <= 1.5 * best + 1e-9


def test_travel_is_much_shorter_than_in_the_order_of_the_drawing():
    """A comb drawn from its two ends in turn: in the order given each way is a whole comb long."""
    teeth = [Path("border", ((x, 0.0), (x, 9.0))) for x in range(40)]
    mixed = [teeth[k // 2] if k % 2 else teeth[-1 - k // 2] for k in range(40)]
    drawing = Drawing(40, 10, (("all", tuple(mixed)),))
    assert travel(plotter_drawing(drawing)) == pytest.approx(39)
    assert travel(drawing) > 700


def test_words_are_left_out():
    drawing = Drawing(10, 10, (("all", (Label("name", (1, 1), "wing", 3),)),))
    assert plotter_drawing(drawing).groups == ()


def curves(space):
    """The lines of a DXF as shapely lines, by ezdxf's own flattening."""
    return [
        shapely.LineString([(p.x, p.y) for p in ezdxf.path.make_path(entity).flattening(0.001)])
        for entity in space
    ]


def read(text, tmp_path):
    path = tmp_path / "drawing.dxf"
    path.write_text(text, encoding="utf-8")
    return ezdxf.readfile(path)


def test_dxf_holds_true_millimetres_arcs_and_layers(tmp_path):
    pens = plotter_drawing(packing_drawing(preliminary(350)))
    document = read(dxf_text(pens), tmp_path)
    assert document.units == ezdxf.units.MM
    assert not document.audit().has_errors
    space = document.modelspace()
    assert {e.dxf.layer for e in space} == {name for name, _ in pens.groups}
    sheet = shapely.union_all(curves(space.query('*[layer=="sheet"]')))
    assert sheet.bounds == pytest.approx((0, 0, 350, 350), abs=1e-6)
    arcs = [
        part
        for entity in space.query('*[layer=="disc line"]')
        for part in entity.virtual_entities()
    ]
    assert {part.dxftype() for part in arcs} == {"ARC"}
    turns = [(a.dxf.end_angle - a.dxf.start_angle) % 360 for a in arcs]
    assert [a.dxf.radius for a in arcs] == pytest.approx([175] * 4, abs=1e-6)
    assert turns == pytest.approx([90] * 4, abs=1e-4)


def test_dxf_draws_what_the_svg_draws(tmp_path):
    pens = plotter_drawing(packing_drawing(fish()))
    space = read(dxf_text(pens), tmp_path).modelspace()
    ours, theirs = shapely.union_all(chords(pens)), shapely.union_all(curves(space))
    # chords of five degrees lie 0.001 of a radius inside their arcs
    assert ours.hausdorff_distance(theirs) < 0.3


def test_dxf_is_the_same_twice_and_takes_any_name(tmp_path):
    path = Path("border", ((0, 0), (1, 1)))
    drawing = Drawing(10, 10, (('a<b>/\\":;?*|=`,\x07', (path,)), ("", (path,))))
    text = dxf_text(drawing)
    assert text == dxf_text(drawing)
    assert not read(text, tmp_path).audit().has_errors


def test_lines_of_very_many_sides_are_put_in_order_as_wholes(monkeypatch):
    """Of 172,000 sides of the rivers of 1000 flaps the nearest were looked for in hours."""
    sizes, nearest = [], plotter._nearest

    def counted(ends, start):
        sizes.append(len(ends))
        return nearest(ends, start)

    monkeypatch.setattr(plotter, "_nearest", counted)
    monkeypatch.setattr(plotter, "MOST_SIDES", 1000)
    turns = np.linspace(0, 2 * np.pi, 300, endpoint=False)
    rings = [
        tuple(
            (x + 20 * c, 50 + 20 * s) for c, s in zip(np.cos(turns), np.sin(turns), strict=True)
        )
        for x in (25, 75, 125, 175)
    ]
    drawing = Drawing(200, 100, (("all", tuple(Area("river", (ring,)) for ring in rings)),))
    pens = plotter_drawing(drawing)
    assert sizes == [4]
    drawn = sum(
        math.dist(a, b) for path in pens.marks for a, b in itertools.pairwise(path.points)
    )
    assert drawn == pytest.approx(4 * 2 * math.pi * 20, rel=1e-4)
