"""Published optima that the search must reach, each with its source.

[P] is proven in the lines beside it, [S] seen in the source, [M] from memory.
"""

from __future__ import annotations

import math

import pytest

from packer.model.figure import Figure, Flap
from packer.model.sheet import Sheet
from packer.search.options import SearchOptions
from packer.search.pack import pack
from packer.search.stopping import MaxStarts
from packer.units import PAPERS_MM
from tests.published import CIRCLES_IN_HALF_SQUARES

FEW = SearchOptions(stop=MaxStarts(12), workers=1)


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
