"""The sheet: sizes as typed, named papers (ISO 216, ANSI/ASME Y14.1), refusals."""

from __future__ import annotations

import pytest

from packer.errors import SheetError
from packer.model.sheet import Sheet, parse_sheet


@pytest.mark.parametrize(
    ("text", "sheet"),
    [
        ("1x1", Sheet(1, 1)),
        ("2x1", Sheet(2, 1)),
        ("300x200mm", Sheet(300, 200, "mm")),
        ("350mm", Sheet(350, 350, "mm")),
        ("8.5 x 11 in", Sheet(8.5, 11, "in")),
        ("A4", Sheet(210, 297, "mm")),  # ISO 216
        ("a4 landscape", Sheet(297, 210, "mm")),
        ("letter", Sheet(215.9, 279.4, "mm")),  # ANSI/ASME Y14.1, size A
    ],
)
def test_a_sheet_is_read_as_typed(text, sheet):
    assert parse_sheet(text) == sheet


@pytest.mark.parametrize(
    "text", ["", "x", "A11", "0x1", "-1x2", "nanx1", "1xinf", "1x1ly", "1x2x3"]
)
def test_what_is_no_sheet_is_refused_with_a_remedy(text):
    with pytest.raises(SheetError, match=r"write|unknown unit"):
        parse_sheet(text)


def test_iso_papers_halve_into_the_next():
    a3, a4 = parse_sheet("A3"), parse_sheet("A4")
    assert (a3.width, a3.height / 2) == pytest.approx((a4.height, a4.width), abs=1)


def test_a_ratio_has_no_millimetres():
    with pytest.raises(SheetError, match="no unit"):
        Sheet(2, 1).in_mm()
    assert Sheet(2, 1, "cm").in_mm() == Sheet(20, 10, "mm")


@pytest.mark.parametrize(
    ("unit", "inch"),  # ISO 31-1: 25.4 mm; 72 points of a PDF (ISO 32000-1, 8.3.2.3)
    [("mm", 25.4), ("cm", 2.54), ("m", 0.0254), ("in", 1), ("pt", 72)],
)
def test_an_inch_is_an_inch_in_every_unit(unit, inch):
    made = Sheet(inch, 2 * inch, unit).in_mm()
    assert (made.width, made.height) == pytest.approx((25.4, 50.8), rel=1e-12)
