"""Dashes fitted to lines: against the rule by which SVG lays dashes, and alike in every writer."""

from __future__ import annotations

import io
import math
import xml.etree.ElementTree as ET
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from matplotlib.image import imread

from packer.drawing.grid_drawing import crease_role_drawing
from packer.drawing.marks.dashes import MOST_PERIODS, dashes, fitted, length_of
from packer.drawing.marks.strokes import Drawing, Path
from packer.drawing.marks.styles import MOUNTAIN, STYLES, VALLEY
from packer.drawing.writers.png import png_bytes
from packer.drawing.writers.svg import svg_text
from packer.drawing.writers.tiled_pdf import plan_pages, planned_pdf
from packer.grid.grid_creases import grid_creases
from tests.drawing import pdf
from tests.drawing.desk import SVG
from tests.drawing.test_straight_runs import on_a_grid, with_random_folds

LENGTHS = st.floats(0.05, 2000.0)
PATTERNS = st.sampled_from(
    sorted({style.dash for style in STYLES.values() if style.dash}, key=sum)
)
A4 = (210.0, 297.0)


def laid_by_svg(dash, offset, length):
    """Strokes as SVG 2, 13.5.6, lays them: the pattern again and again, begun at the offset."""
    strokes, at, k = [], -offset, 0
    while at < length - 1e-9 * length:
        end = at + dash[k % len(dash)]
        if k % 2 == 0 and end > 0:
            strokes.append((max(at, 0.0), min(end, length)))
        at, k = end, k + 1
    return strokes


def along(strokes, path):
    return [
        (math.dist(path.points[0], stroke[0]), math.dist(path.points[0], stroke[-1]))
        for stroke in strokes
    ]


@given(PATTERNS, LENGTHS, st.floats(0.0, 6.3))
@example(MOUNTAIN, 3.1, 0.0)
@example(VALLEY, 2.5, 1.0)
def test_strokes_are_those_of_svg_and_the_same_from_both_ends(dash, length, angle):
    end = (length * math.cos(angle), length * math.sin(angle))
    path = Path("mountain", ((0.0, 0.0), end))
    strokes = np.array(along(dashes(path, dash), path))
    lengths = fitted(dash, length)
    expected = laid_by_svg(lengths, lengths[0] / 2, length)
    np.testing.assert_allclose(strokes, expected, atol=1e-6 * length)
    turned = length - strokes[::-1, ::-1]
    np.testing.assert_allclose(strokes, turned, atol=1e-6 * length)
    assert strokes[0, 0] == 0.0
    assert strokes[-1, 1] == pytest.approx(length)


@given(PATTERNS, LENGTHS)
def test_a_whole_number_of_periods_fits_as_close_to_the_style_as_can_be(dash, length):
    lengths = fitted(dash, length)
    count = length / sum(lengths)
    assert count == pytest.approx(round(count), rel=1e-9)
    assert 1 <= round(count) <= MOST_PERIODS
    np.testing.assert_allclose(np.array(lengths) / lengths[0], np.array(dash) / dash[0])
    if 0.5 * sum(dash) < length < MOST_PERIODS * sum(dash):
        assert abs(count - length / sum(dash)) <= 0.5 + 1e-9


def test_a_line_of_a_kilometre_has_no_more_strokes_than_can_be_drawn():
    path = Path("mountain", ((0.0, 0.0), (1e6, 0.0)))
    assert len(dashes(path, MOUNTAIN)) == 2 * MOST_PERIODS + 1


def test_a_line_of_no_length_has_no_strokes():
    assert dashes(Path("mountain", ((1.0, 1.0), (1.0, 1.0))), MOUNTAIN) == []


@pytest.mark.parametrize(
    "path",
    [
        Path("axis", ((0, 0), (10, 0), (10, 7), (3, 7))),
        Path("axis", ((0, 0), (10, 0), (10, 7)), closed=True),
        Path("axis", ((0, 0), (10, 0), (10, 7)), bulges=(0.3, 0.0)),
    ],
)
def test_dashes_go_round_corners_and_along_arcs(path):
    """Their lengths add up to the share of strokes, to what five degrees of an arc leave out."""
    dash = (2.0, 1.0)
    drawn = sum(math.dist(a, b) for stroke in dashes(path, dash) for a, b in pairwise(stroke))
    assert drawn == pytest.approx(2 / 3 * length_of(path), rel=1e-3)


@pytest.mark.parametrize("seed", range(4))
def test_every_crease_of_a_grid_shows_a_whole_period(seed):
    """Of a mountain a dot between two gaps, of a valley a gap, on an edge of one cell too."""
    packing = on_a_grid(seed)
    pattern = with_random_folds(grid_creases(packing), seed)
    drawing = crease_role_drawing(pattern, packing, 3.1 / packing.cell)
    shortest = {}
    for mark in drawing.marks:
        dash = STYLES[mark.kind].dash if isinstance(mark, Path) else ()
        if dash in {MOUNTAIN, VALLEY}:
            strokes = along(dashes(mark, dash), mark)
            count, left = divmod(len(strokes) - 1, len(dash) // 2)
            assert count >= 1
            assert left == 0
            shortest[dash] = min(shortest.get(dash, math.inf), length_of(mark))
            gaps = [b - a for (_, a), (b, _) in pairwise(strokes)]
            assert min(gaps) > 0.15 * length_of(mark) / count
    assert max(shortest.values()) < 3.2  # lines of one cell of both folds were among them


def test_svg_has_the_dashes_of_each_line():
    lines = tuple(Path("mountain", ((5.0, y), (5.0 + 3.1 * y, y))) for y in (1.0, 2.0, 9.0))
    root = ET.fromstring(svg_text(Drawing(100, 10, (("mountains", lines),))))
    for line, path in zip(lines, root.iter(f"{SVG}path"), strict=True):
        dash = [float(word) for word in path.get("stroke-dasharray").split()]
        offset = float(path.get("stroke-dashoffset"))
        expected = along(dashes(line, MOUNTAIN), line)
        laid = laid_by_svg(dash, offset, length_of(line))
        np.testing.assert_allclose(laid, expected, atol=0.01)


def test_dashes_of_a_line_over_two_pages_lie_upon_each_other_where_these_join():
    """So that pages are joined crease upon crease, and dash upon dash."""
    path = Path("mountain", ((7.0, 60.0), (391.0, 63.0)))
    plan = plan_pages(Drawing(400, 120, (("lines", (path,)),)), A4)
    tiling = plan.tiling
    shown = []
    for place, page in zip(
        tiling.pages, pdf.pages(planned_pdf(plan, "two.pdf"))[1:], strict=True
    ):
        left, bottom, right, top = tiling.window(*place)
        shift = left - tiling.margin, bottom - tiling.margin - tiling.foot
        strokes = np.array([points + shift for points in pdf.lines(page) if len(points) == 2])
        low, high = strokes.min(axis=1), strokes.max(axis=1)
        steep = (high - low)[:, 1] / np.maximum((high - low)[:, 0], 1e-9)
        own = (np.abs(steep - 3 / 384) < 1e-3) & (low > (left, bottom)).all(axis=1)
        shown.append(strokes[own & (high < (right, top)).all(axis=1)])
    expected = np.array(dashes(path, MOUNTAIN))
    seen = [
        {int(np.abs(expected - stroke).max(axis=(1, 2)).argmin()) for stroke in strokes}
        for strokes in shown
    ]
    for strokes in shown:
        for stroke in strokes:
            assert np.abs(expected - stroke).max(axis=(1, 2)).min() < 0.01
    assert len(seen) > 1
    for one, other in pairwise(seen):
        assert len(one & other) >= 2  # those in what the pages share are on both


def test_dashes_of_a_drawing_are_seen_in_its_picture():
    """A row of dots across a line of 10 mm has ink where a stroke is and none in the gaps."""
    path = Path("mountain", ((0.0, 1.0), (10.0, 1.0)))
    data = png_bytes(Drawing(10.0, 2.0, (("line", (path,)),), margin=0.0), dpi=25.4 * 40)
    row = imread(io.BytesIO(data))[40, :, :3].min(axis=1) < 0.5
    middles = (np.arange(len(row)) + 0.5) / 40
    on = np.zeros(len(row), dtype=bool)
    for low, high in laid_by_svg(MOUNTAIN, 1.5, 10.0):
        on |= (middles > low) & (middles < high)
    assert (row != on).mean() < 0.02
