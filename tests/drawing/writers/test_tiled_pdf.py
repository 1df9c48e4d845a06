"""Fold sheets measured with pypdf: true to 0.01 mm on every page and across joins."""

import math

import numpy as np
import pytest
import shapely

from packer.drawing.marks.labels import label_box
from packer.drawing.marks.lines import line_drawing
from packer.drawing.marks.strokes import Area, Disc, Drawing, Label, Path, mirrored, only
from packer.drawing.packing_drawing import packing_drawing
from packer.drawing.writers.page_marks import join_marks
from packer.drawing.writers.tiled_pdf import FOOT_MM, HEAD_MM, plan_pages, tiled_pdf, whole_pdf
from packer.drawing.writers.tiling import MARGIN_MM
from packer.errors import OptionError
from packer.model.packing import Packing
from packer.model.problem import pose
from packer.model.sheet import parse_sheet
from packer.units import PAPERS_MM
from tests.drawing import pdf
from tests.drawing.desk import fish, preliminary, strokes

A4 = (210.0, 297.0)
"""ISO 216, Table 1: trimmed size of A4 in mm. In a PDF a unit is 1/72 inch (ISO 32000-1, 8.3.2.3), and an
inch 25.4 mm."""
NAME = "crab.print.pdf"


def corner_of_sheet(found, pages):
    """Where two lines 350 mm apart in truth meet on a page: the sheet's corner."""
    ends = [
        p
        for line in found
        if len(line) == 2 and np.hypot(*np.ptp(line, axis=0)) > 110
        for p in line
    ]
    inside = [p for p in ends if MARGIN_MM < p[0] < pages[0] - MARGIN_MM]
    for k, p in enumerate(inside):
        for q in inside[:k]:
            if np.hypot(*(p - q)) < 0.01 and p[1] > FOOT_MM + MARGIN_MM:
                return p
    raise AssertionError("no corner on this page")


def test_pages_are_the_paper_and_their_rulers_true():
    found = pdf.pages(tiled_pdf(packing_drawing(preliminary(350)), A4, NAME))
    assert len(found) == 5
    for page in found:
        assert pdf.size(page) == pytest.approx(A4, abs=0.01)
        lines = pdf.lines(page)
        assert any(side == pytest.approx(20, abs=0.01) for side, *_ in pdf.squares(lines))
        assert any(length == pytest.approx(100, abs=0.01) for length in pdf.lengths(lines))
        ticks = sorted(
            p[0, 0] for p in lines if len(p) == 2 and 1.9 < abs(np.ptp(p[:, 1])) < 4.1
        )
        steps = np.diff(ticks)
        assert (np.abs(steps - 10) < 0.01).sum() >= 10
    side = max(side for side, *_ in pdf.squares(pdf.lines(found[0])))
    assert side == pytest.approx(100, abs=0.01)


def test_a_sheet_of_350_mm_measures_350_mm_when_its_pages_are_joined():
    """Lay the pages together by their diamonds alone, as hands do, and measure corner to corner."""
    drawing = only(packing_drawing(preliminary(350)), ["sheet"])
    first, second, third, fourth = (
        pdf.lines(page) for page in pdf.pages(tiled_pdf(drawing, A4, NAME))[1:]
    )
    at = {"A1": first, "A2": second, "B1": third, "B2": fourth}
    corners = {name: corner_of_sheet(lines, A4) for name, lines in at.items()}
    marks = {name: np.array(pdf.diamonds(lines)) for name, lines in at.items()}
    assert all(len(rows) == 4 for rows in marks.values())

    def upright(name, right):  # the diamonds of the join at the left or right of a page
        rows = marks[name]
        extreme = rows[:, 0].max() if right else rows[:, 0].min()
        return rows[np.abs(rows[:, 0] - extreme) < 0.01]

    def level(name, top):
        rows = marks[name]
        extreme = rows[:, 1].max() if top else rows[:, 1].min()
        return rows[np.abs(rows[:, 1] - extreme) < 0.01]

    across = np.sort(upright("A1", True), axis=0) - np.sort(upright("A2", False), axis=0)
    assert np.ptp(across, axis=0) == pytest.approx([0, 0], abs=0.01)
    width = corners["A2"] + across[0] - corners["A1"]
    assert width == pytest.approx([350, 0], abs=0.01)
    down = np.sort(level("A1", False), axis=0) - np.sort(level("B1", True), axis=0)
    height = corners["A1"] - (corners["B1"] + down[0])
    assert height == pytest.approx([0, 350], abs=0.01)
    other = corners["B2"] + across[0] + down[0] - corners["A1"]
    assert math.hypot(*other) == pytest.approx(350 * math.sqrt(2), abs=0.01)


@pytest.mark.parametrize("paper", ["A4", "A3", "Letter", "A5"])
@pytest.mark.parametrize("overlap", [0.0, 10.0, 17.5])
def test_line_ends_lie_where_the_window_says(paper, overlap):
    line = Path("active path", ((20.0, 30.0), (60.0, 75.0)))
    drawing = Drawing(350, 280, (("lines", (line,)),))
    size = PAPERS_MM[paper]
    plan = plan_pages(drawing, size, overlap=overlap)
    tiling, blank = plan.tiling, plan.blank
    shown = [place for place in tiling.pages if tiling.name(*place) not in blank]
    found = pdf.pages(tiled_pdf(drawing, size, NAME, overlap=overlap))
    assert len(found) == len(shown) + 1
    seen = 0
    for place, page in zip(shown, found[1:], strict=True):
        left, bottom, *_ = tiling.window(*place)
        shift = np.array([MARGIN_MM - left, MARGIN_MM + FOOT_MM - bottom])
        ends = np.array(line.points) + shift
        seen += pdf.has_line(pdf.lines(page), *ends)
    assert seen >= 1


def test_blank_pages_are_left_out_and_said_so():
    corner = Path("border", ((5.0, 5.0), (40.0, 40.0)))
    drawing = Drawing(600, 600, (("lines", (corner,)),), title="corner")
    plan = plan_pages(drawing, A4)
    tiling, blank = plan.tiling, plan.blank
    names = [tiling.name(*place) for place in tiling.pages]
    assert set(names) - blank == {f"{'ABCDEFG'[tiling.rows - 1]}1"}
    found = pdf.pages(tiled_pdf(drawing, A4, NAME))
    assert len(found) == 2
    text = found[0].extract_text()
    assert text.count("blank") == len(blank)


def test_every_page_says_what_it_is():
    found = pdf.pages(tiled_pdf(packing_drawing(fish(350)), A4, NAME))
    for page, name in zip(found[1:], ["A1", "A2", "B1", "B2"], strict=True):
        text = page.extract_text()
        assert text.splitlines().count(name) == 1
        assert NAME in text
        assert "Print at 100 %" in text
    for number, page in enumerate(found, 1):
        assert f"page {number} of 5" in page.extract_text()
    words = found[0].extract_text()
    for word in ("Assembly map", "Common practice", "maker's manual", "A1", "B2"):
        assert word in words


def test_pages_at_a_join_name_each_other():
    found = pdf.pages(tiled_pdf(packing_drawing(fish(350)), A4, NAME))
    assert "A2 comes over this" in found[1].extract_text()
    assert "cut, then lay over A1" in found[2].extract_text()
    assert "cut, then lay over A1" in found[3].extract_text()


def test_the_same_drawing_gives_the_same_bytes():
    drawing = packing_drawing(fish(350))
    assert tiled_pdf(drawing, A4, NAME) == tiled_pdf(drawing, A4, NAME)
    assert whole_pdf(drawing, NAME) == whole_pdf(drawing, NAME)


def test_one_large_page_is_true_too():
    drawing = only(packing_drawing(preliminary(350)), ["sheet"])
    (page,) = pdf.pages(whole_pdf(drawing, NAME, margin=10))
    assert pdf.size(page)[0] == pytest.approx(370, abs=0.01)
    assert 370 + FOOT_MM + HEAD_MM < pdf.size(page)[1] < 370 + FOOT_MM + HEAD_MM + 20
    found = pdf.lines(page)
    low = 10 + FOOT_MM
    assert pdf.has_line(found, (10, low), (360, low))
    assert pdf.has_line(found, (360, low), (360, low + 350))


@pytest.mark.parametrize(
    ("paper", "width", "height"),
    [("A3", 297, 420), ("A4", 210, 297), ("A5", 148, 210)],  # ISO 216, Table 1, in mm
)
def test_paper_of_iso_216_is_printed_at_its_size(paper, width, height):
    """The page box of such a page, and the outline of such a sheet on a larger page."""
    tiles = tiled_pdf(
        only(packing_drawing(preliminary(100)), ["sheet"]), PAPERS_MM[paper], NAME
    )
    for page in pdf.pages(tiles):
        assert pdf.size(page) == pytest.approx((width, height), abs=0.01)
    sheet = parse_sheet(paper)
    corners = ((0, 0), (width, 0), (width, height), (0, height))
    drawing = only(
        packing_drawing(Packing(pose(preliminary().figure, sheet), corners)), ["sheet"]
    )
    (page,) = pdf.pages(whole_pdf(drawing, NAME, margin=10))
    found, low = pdf.lines(page), 10 + FOOT_MM
    assert pdf.has_line(found, (10, low), (10 + width, low))
    assert pdf.has_line(found, (10, low), (10, low + height))


def bar_within(page, low=0.0):
    """Check that the foot of a page lies between its margins; return the bar's length."""
    width, _ = pdf.size(page)
    foot = [p for p in pdf.lines(page) if p[:, 1].max() < low + MARGIN_MM + FOOT_MM - 1]
    assert any(side == pytest.approx(20, abs=0.01) for side, *_ in pdf.squares(foot))
    for points in foot:
        assert points[:, 0].min() >= MARGIN_MM - 0.01
        assert points[:, 0].max() <= width - MARGIN_MM + 0.01
    text = page.extract_text()
    told = float(text.split("the bar is ")[1].split(" mm")[0])
    return told if any(n == pytest.approx(told, abs=0.01) for n in pdf.lengths(foot)) else 0.0


@pytest.mark.parametrize("paper", [(105.0, 148.0), (120.0, 120.0)])
def test_rulers_of_small_pages_stay_on_the_paper(paper):
    """A bar that runs into the edge that printers leave white cannot be measured."""
    found = pdf.pages(
        tiled_pdf(only(packing_drawing(preliminary(150)), ["sheet"]), paper, NAME)
    )
    for page in found:
        assert bar_within(page)
    first = pdf.lines(found[0])
    words = found[0].extract_text()
    (told,) = [
        float(w.split(" mm wide")[0]) for w in words.splitlines() if "wide and high" in w
    ]
    (foot,) = [y for side, _, y in pdf.squares(first) if side == pytest.approx(told, abs=0.01)]
    key = [
        p[0, 1]
        for p in first
        if len(p) == 2 and np.ptp(p, axis=0) == pytest.approx([10, 0], abs=0.01)
    ]
    assert foot > max(key) > MARGIN_MM + FOOT_MM


@pytest.mark.parametrize("side", [20, 60, 200])
def test_rulers_of_one_page_stay_on_the_paper(side):
    (page,) = pdf.pages(whole_pdf(only(packing_drawing(preliminary(side)), ["sheet"]), NAME))
    assert bar_within(page, 10 - MARGIN_MM)


def test_a_page_with_the_rim_of_a_tip_is_not_blank():
    """A tip's disc reaches over the edge of a window that its middle lies beyond."""
    tiling = plan_pages(Drawing(600, 100, ()), A4).tiling
    right = tiling.window(0, 0)[2]
    drawing = Drawing(600, 100, (("tips", (Disc("tip", (right + 0.5, 50.0), 0.8),)),))
    blank = plan_pages(drawing, A4).blank
    assert not {"A1", "A2"} & blank
    assert "A3" in blank or tiling.columns == 2


@pytest.mark.parametrize("overlap", [3.0, 4.0, 10.0])
def test_notes_on_joins_stay_in_what_both_pages_show(overlap):
    tiling = plan_pages(Drawing(350, 350, ()), A4, overlap=overlap).tiling
    joins = tiling.joins(0, 0)
    for note in (m for m in join_marks(tiling, 0, 0) if isinstance(m, Label)):
        box = label_box(note)
        axis, place = (0, joins["right"]) if note.angle else (1, joins["bottom"])
        assert np.abs(box[:, axis] - place).max() <= overlap / 2 + 1e-9


def test_mirrored_sheets_mirror_lines_and_keep_words_readable():
    marks = (Path("border", ((10.0, 20.0), (50.0, 20.0))), Label("name", (30, 50), "wing", 4))
    drawing = mirrored(Drawing(180, 180, (("all", marks),), title="wing"))
    (page,) = pdf.pages(whole_pdf(drawing, NAME, margin=10))
    assert pdf.has_line(pdf.lines(page), (180, 30 + FOOT_MM), (140, 30 + FOOT_MM))
    assert "wing" in page.extract_text()
    assert drawing.title == "wing, mirrored"


def test_mirroring_twice_changes_no_line():
    drawing = packing_drawing(fish())
    again = mirrored(mirrored(drawing))
    for before, after in zip(
        strokes(line_drawing(drawing)), strokes(line_drawing(again)), strict=True
    ):
        assert after.start == pytest.approx(before.start, abs=1e-9)
        assert after.end == pytest.approx(before.end, abs=1e-9)
    for before, after in zip(drawing.marks, again.marks, strict=True):
        if isinstance(before, Label):
            assert (after.anchor, after.angle) == (before.anchor, before.angle)


def test_names_in_any_script_do_not_stop_the_print():
    drawing = packing_drawing(preliminary(120, names=("$x_1$", "蟹", "<b>", "a\x07b")))
    assert len(pdf.pages(tiled_pdf(drawing, A4, "蟹 $x$.print.pdf"))) == 2


def test_a_page_without_room_is_refused():
    with pytest.raises(OptionError, match="no room"):
        tiled_pdf(packing_drawing(fish()), (30, 60), NAME)


def test_notes_on_joins_keep_clear_of_names():
    tiling = plan_pages(packing_drawing(preliminary(350)), A4).tiling
    notes = [m for m in join_marks(tiling, 0, 0) if isinstance(m, Label)]
    names = [Label("name", note.at, "in the way", 4.0) for note in notes]
    moved = [m for m in join_marks(tiling, 0, 0, names) if isinstance(m, Label)]
    assert [m.text for m in moved] == [m.text for m in notes] != []
    for note in moved:
        assert not any(
            shapely.Polygon(label_box(note)).intersects(shapely.Polygon(label_box(name)))
            for name in names
        )


def test_lines_of_one_look_are_painted_at_once():
    """A large figure has thousands of lines of one look, and a page takes as long as it paints paths."""
    turns = np.linspace(0, 2 * math.pi, 400, endpoint=False)
    ring = tuple((50 + 20 * math.cos(t), 120 + 20 * math.sin(t)) for t in turns)
    rungs = [Path("river line", ((10, 40 + k / 3), (90, 41 + k / 3))) for k in range(300)]
    drawing = Drawing(100, 150, (("lines", (Area("river", (ring,)), *rungs)),))
    page = pdf.pages(tiled_pdf(drawing, A4, NAME))[1]
    painted = sum(line.count(b" S\n") + (line == b"S\n") for line in content_of(page))
    assert painted < 60  # the foot's ruler and the frame among them
    found = pdf.lines(page)
    whole = max(found, key=len)
    assert len(whole) == len(ring) + 1  # no point of a line is left out as too fine to see
    shift = whole[0] - ring[0]
    for rung in rungs:
        assert pdf.has_line(found, *(np.array(end) + shift for end in rung.points))


def content_of(page):
    """The lines of a page's content, unpacked."""
    return page.get_contents().get_data().splitlines(keepends=True)
