"""Papers and stock: ISO 216's own arithmetic, fits by hand."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from packer.errors import OptionError
from packer.model.sheet import Sheet
from packer.planning.paper import PAPERS, Paper, named_paper, paper_of_weight
from packer.planning.stock import STOCK, Stock, stock_for


def test_a_paper_is_known_by_name_by_caliper_or_by_weight():
    assert named_paper("Thin Kraft").caliper == 50
    assert paper_of_weight(40, 1.5).mm == pytest.approx(0.06)
    assert Paper("own", 72).mm == pytest.approx(0.072)


def test_calipers_of_the_table_have_usual_bulks():
    # common practice: caliper in um is 0.8 to 1.5 times the weight; soft hand papers reach 2.3
    for paper in PAPERS.values():
        assert paper.source
        if paper.weight:
            assert 0.75 <= paper.caliper / paper.weight <= 2.3, paper


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda: named_paper("kraft"), 'did you mean "thin kraft"'),
        (lambda: Paper("x", 0), "no caliper"),
        (lambda: Paper("x", math.nan), "no caliper"),
        (lambda: paper_of_weight(-1), "no weight"),
        (lambda: paper_of_weight(40, math.inf), "no bulk"),
    ],
)
def test_wrong_papers_are_told(make, said):
    with pytest.raises(OptionError, match=said):
        make()


def test_a_sheet_is_cut_upright_or_turned():
    a4 = Stock("A4", 210, 297)
    assert a4.waste(Sheet(297, 210, "mm")) == 0
    assert a4.waste(Sheet(21, 14.85, "cm")) == pytest.approx(0.5)
    assert a4.waste(Sheet(211, 100, "mm")) == pytest.approx(1 - 211 * 100 / 210 / 297)  # turned
    assert a4.waste(Sheet(211, 211, "mm")) is None


def test_a_square_from_a_page_of_ratio_root_two_wastes_its_known_share():
    # ISO 216: the ratio is root 2, so the largest square leaves 1 - 1/root 2
    a4 = Stock("A4", 210, 297)
    square = a4.largest(1.0)
    assert (square.width, square.height) == (210, 210)
    assert a4.waste(square) == pytest.approx(1 - 1 / math.sqrt(2), abs=1e-3)


@given(st.floats(0.1, 10), st.floats(10, 1000), st.floats(10, 1000))
def test_the_largest_sheet_fits_and_no_larger_one_does(ratio, width, height):
    stock = Stock("", width, height)
    best = stock.largest(ratio)
    assert best.width / best.height == pytest.approx(ratio)
    assert stock.waste(best) is not None
    assert stock.waste(Sheet(best.width * 1.001, best.height * 1.001, "mm")) is None


def test_stock_is_listed_from_the_least_waste():
    found = stock_for(Sheet(200, 200, "mm"))
    assert [s.name for s, _ in found[:2]] == ["square 240", "Letter"]
    assert [waste for _, waste in found] == sorted(waste for _, waste in found)
    assert {s.name for s in STOCK} - {s.name for s, _ in found} == {
        "square 75",
        "square 150",
        "square 175",
        "A5",
    }
    assert stock_for(Sheet(2000, 2000, "mm")) == ()
