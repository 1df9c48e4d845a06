"""Page arithmetic against plain facts: windows cover, overlap and line up."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from packer.drawing.writers.tiling import tile
from packer.errors import OptionError
from packer.units import PAPERS_MM

SIDES = st.floats(30, 1500)
PAPERS = st.sampled_from(sorted(PAPERS_MM.values()))


@given(SIDES, SIDES, PAPERS, st.floats(0, 20), st.floats(0, 25), st.floats(0, 30))
def test_windows_cover_the_sheet_and_overlap_as_asked(w, h, page, margin, overlap, foot):
    try:
        tiling = tile(w, h, page, margin=margin, overlap=overlap, foot=foot)
    except OptionError:
        return
    boxes = {place: tiling.window(*place) for place in tiling.pages}
    assert min(b[0] for b in boxes.values()) <= 0
    assert min(b[1] for b in boxes.values()) <= 0
    assert max(b[2] for b in boxes.values()) >= w
    assert max(b[3] for b in boxes.values()) >= h
    for (row, column), (left, bottom, right, top) in boxes.items():
        assert right - left == pytest.approx(tiling.page_width - 2 * margin)
        assert top - bottom == pytest.approx(tiling.page_height - 2 * margin - foot)
        if (row, column + 1) in boxes:
            assert right - boxes[row, column + 1][0] == pytest.approx(overlap, abs=1e-9)
        if (row + 1, column) in boxes:
            assert boxes[row + 1, column][3] - bottom == pytest.approx(overlap, abs=1e-9)


@given(SIDES, SIDES, PAPERS)
def test_no_fewer_pages_would_do(w, h, page):
    """By counting: k windows of length s with overlap o reach k (s - o) + o and no further."""
    tiling = tile(w, h, page, margin=5, overlap=10)

    def fewest(length, window):
        return next(k for k in range(1, 1000) if k * (window - 10) + 10 >= length + 1 - 1e-6)

    sizes = [(page[0] - 10, page[1] - 10), (page[1] - 10, page[0] - 10)]
    best = min(fewest(w, x) * fewest(h, y) for x, y in sizes)
    assert tiling.columns * tiling.rows == best


@given(SIDES, SIDES, PAPERS)
def test_neighbours_meet_on_the_same_line(w, h, page):
    tiling = tile(w, h, page)
    for row, column in tiling.pages:
        joins = tiling.joins(row, column)
        assert ("right" in joins) == (column < tiling.columns - 1)
        assert ("bottom" in joins) == (row < tiling.rows - 1)
        if "right" in joins:
            assert tiling.joins(row, column + 1)["left"] == pytest.approx(
                joins["right"], abs=1e-9
            )
        if "bottom" in joins:
            assert tiling.joins(row + 1, column)["top"] == pytest.approx(
                joins["bottom"], abs=1e-9
            )


def test_names_are_a_letter_and_a_number_from_the_upper_left():
    tiling = tile(8000, 13000, (841, 1189), margin=0, overlap=0)
    assert tiling.name(0, 0) == "A1"
    assert tiling.name(1, 2) == "B3"
    assert [tiling.name(row, 0) for row in (25, 26, 27, 52)] == ["Z1", "AA1", "AB1", "BA1"]
    assert tiling.window(0, 0)[3] > tiling.window(1, 0)[3]


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"margin": -1}, "--margin: -1 mm is no margin"),
        ({"overlap": -0.5}, "--overlap: -0.5 mm is no overlap"),
        ({"overlap": math.nan}, "--overlap: nan mm is no overlap"),
        ({"margin": math.inf}, "--margin: inf mm is no margin"),
        ({"margin": 100}, "--on: a page of 210 x 297 mm has no room"),
        ({"overlap": 99}, "--on: a page of 210 x 297 mm has no room"),
        ({"foot": 280}, "--on: a page of 210 x 297 mm has no room"),
    ],
)
def test_lengths_that_leave_no_page_are_refused(options, words):
    with pytest.raises(OptionError) as refused:
        tile(350, 350, (210, 297), **options)
    assert str(refused.value).startswith(words)


def test_far_too_many_pages_are_refused():
    with pytest.raises(OptionError, match="pages would be needed, and 400 are the most"):
        tile(35_000, 35_000, (210, 297))
