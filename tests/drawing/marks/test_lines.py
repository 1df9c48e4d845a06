"""Lines drawn once: against lengths known by arithmetic, and shapely's union of random ones."""

import math

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from packer.drawing.grid_drawing import grid_lines
from packer.drawing.marks.lines import Arc, Line, line_drawing, strokes_of, waypoints
from packer.drawing.marks.strokes import Area, Drawing, Path
from packer.drawing.packing_drawing import packing_drawing
from tests.drawing.desk import chords, doubled, fish, preliminary, strokes
from tests.strategies import packings


def drawing(*marks):
    return Drawing(100, 100, (("all", marks),))


def total(drawn):
    return sum(line.length for line in chords(drawn))


CELLS = st.integers(0, 6)


@given(st.lists(st.tuples(CELLS, CELLS, CELLS, CELLS), min_size=1, max_size=12))
def test_lines_on_a_grid_are_as_long_as_their_union(ends):
    """Whole-number ends make collinear overlaps common; shapely's union counts each once."""
    paths = [Path("border", ((10 * a, 10 * b), (10 * c, 10 * d))) for a, b, c, d in ends]
    union = shapely.union_all([shapely.LineString(path.points) for path in paths])
    assert total(line_drawing(drawing(*paths))) == pytest.approx(union.length, abs=1e-6)


@given(st.lists(st.tuples(st.integers(0, 12), st.integers(1, 11)), min_size=1, max_size=6))
def test_arcs_of_one_circle_are_as_long_as_their_union(spans):
    """Arcs of whole hours: the hours covered are counted on fingers."""
    paths, hours = [], set()
    for first, length in spans:
        a, b = (2 * math.pi * hour / 12 for hour in (first, first + length))
        points = tuple((50 + 30 * math.cos(t), 50 + 30 * math.sin(t)) for t in (a, b))
        paths.append(Path("border", points, bulges=(math.tan((b - a) / 4),)))
        hours |= {hour % 12 for hour in range(first, first + length)}
    drawn = line_drawing(drawing(*paths))
    sides = [s for p in drawn.marks for s in strokes_of(p.points, p.bulges, p.closed)]
    assert sum(s.length for s in sides) == pytest.approx(2 * math.pi * 30 * len(hours) / 12)


def test_the_edge_of_the_sheet_is_drawn_once():
    """Four quarter discs of half a side: 4 sides and a whole circle's length of arcs."""
    drawn = line_drawing(packing_drawing(preliminary(100.0)))
    outlines = chords(drawn, {"sheet", "disc line", "river line"})
    expected = 400 + 2 * math.pi * 50
    assert sum(line.length for line in outlines) == pytest.approx(expected, rel=1e-3)
    paths = [
        mark for mark in drawn.marks if isinstance(mark, Path) and mark.kind == "active path"
    ]
    assert paths == []  # they run along the edge, which is there already


def test_a_square_beside_another_shares_its_side():
    left = ((0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0))
    right = tuple((x + 10, y) for x, y in left)
    drawn = line_drawing(drawing(Area("disc", (left,)), Area("disc", (right,))))
    assert total(drawn) == pytest.approx(70)


def test_a_square_is_seen_on_the_lines_of_a_grid():
    """All four sides of 20; and with them no more than the 9 lines each way, 100 long."""
    square = ((10.0, 10.0), (30.0, 10.0), (30.0, 30.0), (10.0, 30.0))
    drawn = line_drawing(drawing(Area("disc", (square,)), *grid_lines((10, 10), 10.0, 4)))
    assert sum(line.length for line in chords(drawn, {"disc line"})) == pytest.approx(80)
    assert total(drawn) == pytest.approx(1800)


@settings(max_examples=12, deadline=None)
@given(packings(max_flaps=6))
def test_no_packing_has_a_doubled_line(packing):
    drawn = packing_drawing(packing, 200 / packing.sheet.width)
    assert doubled(strokes(line_drawing(drawn))) == 0


def test_the_measure_of_doubled_lines_finds_them():
    assert doubled([Line((0, 0), (10, 0)), Line((2, 0), (7, 0))]) > 8
    arc = Arc((0, 0), 10, 0, 3)
    assert doubled([arc, arc.part(0.2, 0.4)]) > 8


def test_nothing_is_lost_of_a_river():
    packing = fish()
    before = [
        point
        for mark in packing_drawing(packing).marks
        if isinstance(mark, Area) and mark.kind != "paper"
        for ring, bulges in zip(mark.rings, mark.bulges, strict=True)
        for stroke in strokes_of(ring, bulges, True)
        for point in waypoints(stroke)
    ]
    after = shapely.union_all(chords(line_drawing(packing_drawing(packing))))
    assert len(before) > 300
    assert max(after.distance(shapely.Point(point)) for point in before) < 0.2


def test_strokes_know_their_ends():
    arc = Arc((1, 2), 3, 0.5, 1.5)
    assert arc.part(0, 0.5).end == pytest.approx(arc.part(0.5, 1).start)
    assert Line((0, 0), (3, 4)).part(0.2, 1).length == pytest.approx(4)
