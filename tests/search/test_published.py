"""Published optima that the search must reach, each with its source.

[P] is proven in the lines beside it, [S] seen in the source, [M] from memory.
"""

from __future__ import annotations

import math

import pytest

from packer.model.figure import Figure, Flap, River
from packer.model.sheet import Sheet
from packer.search.options import SearchOptions
from packer.search.pack import pack
from packer.search.stopping import MaxStarts
from packer.units import PAPERS_MM
from tests.published import CIRCLES_IN_HALF_SQUARES

FEW = SearchOptions(stop=MaxStarts(2), workers=1)


@pytest.mark.parametrize("n", CIRCLES_IN_HALF_SQUARES)
def test_equal_circles_in_rectangles(n):
    # centres of n circles of radius r in 1 x 1/2 are n tips of length r on (1 - 2 r) x (1/2 - 2 r)
    r = CIRCLES_IN_HALF_SQUARES[n]
    flaps = tuple(Flap(f"f{k}", "hub", 1) for k in range(n))
    packing = pack(Figure("circles", flaps), Sheet(1 - 2 * r, 0.5 - 2 * r), options=FEW)
    assert packing.scale == pytest.approx(r, rel=1e-9)


CIRCLES_IN_RIGHT_TRIANGLES = {
    # radius of n equal circles inside the right isosceles triangle with legs 1: the incircle, and by
    # elementary geometry [P]; optimal for n up to 7: Y. Xu, Acta Math. Appl. Sinica 12, 1996 [M]
    1: (2 - math.sqrt(2)) / 2,
    2: (math.sqrt(2) - 1) / 2,
    3: 1 / (4 + math.sqrt(2)),
}


@pytest.mark.parametrize("n", CIRCLES_IN_RIGHT_TRIANGLES)
def test_pairs_under_diagonal_symmetry_are_circles_in_a_right_triangle(n):
    # n pairs of length 1: tips keep m from the diagonal and 2 m from each other, and may lie on the
    # edges, so the circles lie in a triangle whose legs are 1 + 2 m: m = r (1 + 2 m) [P]
    r = CIRCLES_IN_RIGHT_TRIANGLES[n]
    flaps = tuple(Flap(f"f{k}", "hub", 1, pair=True) for k in range(n))
    packing = pack(Figure("pairs", flaps, symmetry="diagonal"), options=FEW)
    assert packing.scale == pytest.approx(r / (1 - 2 * r), rel=1e-9)


SANGAKU = 3 - 2 * math.sqrt(2)
UNEQUAL_CIRCLES = {
    # radii of circles inside a rectangle, its sides, and how large the circles can be at most.
    # Circles of radii 1 to n in the least square, for n = 3 and 4: Packing Center, E. Friedman [M].
    # Two circles r and s need a square of side (r + s)(1 + sqrt(1/2)), centres on the diagonal; the
    # largest two of these leave room for the others in the two other corners [P]
    "one to three": ((1, 2, 3), (1, 1), 1 / (5 * (1 + math.sqrt(0.5)))),
    "one to four": ((1, 2, 3, 4), (1, 1), 1 / (7 * (1 + math.sqrt(0.5)))),
    # the circle in a square and four in its corners that touch it: temple geometry, H. Fukagawa and
    # D. Pedoe, Japanese Temple Geometry Problems, 1989 [M]; no circle is wider than the square [P]
    "in the corners": ((1, *[SANGAKU] * 4), (1, 1), 1 / 2),
    # two equal circles side by side, two between them on the edges, with 1/sqrt(1/4) = 1 + 1 (the
    # same book [M]; Ford's circles), and four in the corners: none is wider than the sheet [P]
    "between two": ((1, 1, 1 / 4, 1 / 4, *[SANGAKU] * 4), (2, 1), 1 / 2),
}


@pytest.mark.parametrize("name", UNEQUAL_CIRCLES)
def test_unequal_circles_in_rectangles(name):
    # flaps that keep their discs on the sheet, all on one joint, are circles inside it
    radii, sides, scale = UNEQUAL_CIRCLES[name]
    flaps = tuple(Flap(f"f{k}", "hub", r, place=("middle",)) for k, r in enumerate(radii))
    packing = pack(Figure("circles", flaps), Sheet(*sides), options=FEW)
    assert packing.scale == pytest.approx(scale, rel=1e-9)
    assert scale <= packing.bound.scale <= scale * (1 + 1e-5)


@pytest.mark.parametrize(("flaps", "height"), [(2, 0.5), (3, 1.0)])
def test_a_river_between_two_rows_of_tips(flaps, height):
    # Worked by hand: flaps of 1/4 in two rows of tips, a river of 1/2 between their joints. Tips of a
    # row are 1/2 apart, those of different rows 1/4 + 1/2 + 1/4 = 1. Rows on two opposite sides a
    # side apart, 1/2 from tip to tip, reach scale 1: three in a row are the windmill base, whose
    # creases lie on quarters of the square (common practice); see tests.folded.textbook
    rows = tuple(Flap(f"{end}{k}", end, 0.25) for end in "ab" for k in range(flaps))
    figure = Figure("two rows", rows, (River("body", ("a", "b"), 0.5),))
    packing = pack(figure, Sheet(1, height), options=FEW)
    assert packing.scale == pytest.approx(1, rel=1e-9)
    assert 1 <= packing.bound.scale <= 1 + 1e-5
    assert packing.split_rivers == ()


@pytest.mark.parametrize("number", range(6))
def test_papers_are_those_of_iso_216(number):
    # the rule of ISO 216 [M]: sides 1000 * 2^(1/4 - n/2) and 1000 * 2^(-1/4 - n/2) mm, to the nearest
    # whole millimetre below; halving a size gives the next, rounded down
    exact = [1000 * 2 ** (sign / 4 - number / 2) for sign in (-1, 1)]
    for side, wanted in zip(PAPERS_MM[f"A{number}"], exact, strict=True):
        assert abs(side - wanted) < 1
    if number:
        width, height = PAPERS_MM[f"A{number - 1}"]
        assert PAPERS_MM[f"A{number}"] == (height // 2, width)
