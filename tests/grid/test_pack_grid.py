"""Least grids against published and packing_counts optima, and the laws that optima obey."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from packer.files.grid_json import grid_text
from packer.grid.grid_packing import GridPacking
from packer.grid.grid_problem import GridRequest
from packer.grid.pack_grid import pack_grid
from packer.model.figure import Figure, Flap, River
from packer.model.problem import pose
from packer.model.sheet import Sheet
from packer.search.options import SearchOptions
from packer.search.stopping import MaxEffort
from tests.grid.whole import star, whole_figure

# OEIS A005842: side of the smallest square that holds squares of sides 1..n, n = 1..13.
A005842 = (1, 3, 5, 7, 9, 11, 13, 15, 18, 21, 24, 27, 30)


def least(figure, side=None, **more):
    packing = pack_grid(figure, grid=GridRequest(unit=1.0, side=side), **more)
    assert packing.violations() == []
    assert packing.status == "proven least"
    return packing.cells


@pytest.mark.parametrize("n", range(2, 27))
def test_equal_flaps(n):
    """Half-open cells of side 2 L hold one tip each, so N = 2 L (ceil(sqrt n) - 1), no less."""
    for length in (1, 3):
        side = 2 * length * (math.ceil(math.sqrt(n)) - 1)
        assert least(star(*[length] * n)) == (side, side)


@pytest.mark.parametrize(("n", "across"), [(2, 3), (6, 4), (7, 9), (12, 10), (15, 6)])
def test_equal_flaps_on_a_strip(n, across):
    """(floor(W / D) + 1)(floor(H / D) + 1) tips are the most, D = 2 cells apart."""
    rows = math.ceil(n / (across // 2 + 1))
    assert least(star(*[1] * n), side=across) == (across, max(1, 2 * (rows - 1)))


@pytest.mark.parametrize("n", range(2, 14))
def test_squares_one_to_n_in_a_square(n):
    """Flaps kept whole on the sheet are squares of sides 2, 4 .. 2 n: twice A005842."""
    side = 2 * A005842[n - 1]
    assert least(star(*range(1, n + 1), place=("middle",))) == (side, side)


def doubled(figure):
    return replace(
        figure,
        flaps=tuple(replace(f, length=2 * f.length) for f in figure.flaps),
        rivers=tuple(replace(r, length=2 * r.length) for r in figure.rivers),
    )


@pytest.mark.parametrize("seed", range(6))
def test_doubling_doubles(seed):
    """A real packing in max metric is one of whole numbers, rounded down."""
    figure = whole_figure(seed, 8)
    assert least(doubled(figure))[0] == 2 * least(figure)[0]


@pytest.mark.parametrize("seed", range(8))
def test_doubling_under_a_mirror(seed):
    """With tips on the mirror line one cell wide on odd grids, half the doubled size rounds up.

    A real mirrored packing of side r fits a whole side ceil(r): cut open along the mirror line,
    then left tips and heights rounded down.
    """
    figure = whole_figure(seed, 6, symmetry="book")
    assert math.ceil(least(doubled(figure))[0] / 2) == least(figure)[0]


@pytest.mark.parametrize("seed", range(4))
def test_leaving_a_flap_out_needs_no_larger_grid(seed):
    figure = whole_figure(seed, 9)
    hung = [flap.joint for flap in figure.flaps]
    spare = next(f for f in figure.flaps if hung.count(f.joint) > 2)
    fewer = replace(figure, flaps=tuple(f for f in figure.flaps if f is not spare))
    assert least(fewer)[0] <= least(figure)[0]


@pytest.mark.parametrize("seed", range(3))
def test_order_and_names_change_nothing(seed):
    figure = whole_figure(seed, 9)
    other = Figure(
        "other",
        tuple(replace(f, name=f"part {f.name}") for f in reversed(figure.flaps)),
        figure.rivers[::-1],
    )
    assert least(figure) == least(other)


def test_a_mirror_never_helps():
    figure = whole_figure(3, 6, symmetry="book")
    assert least(figure)[0] >= least(figure, symmetry="none")[0]


def test_a_sheet_on_its_side_turns_the_grid():
    figure = whole_figure(5, 8)
    upright = least(figure, sheet=Sheet(210, 297, "mm"))
    assert least(figure, sheet=Sheet(297, 210, "mm")) == upright[::-1]


def test_the_same_seed_gives_the_same_bytes():
    figure = whole_figure(11, 14)
    texts = []
    for _ in range(2):
        packing = pack_grid(
            figure, grid=GridRequest(unit=1.0), options=SearchOptions(seed=3, stop=MaxEffort(5))
        )
        texts.append(grid_text(replace(packing, search=replace(packing.search, seconds=0.0))))
    assert texts[0] == texts[1]


@pytest.mark.parametrize("flap", [(1, 1, 1, 1, 1), (1, 2, 3), (2, 3, 4, 5)])
def test_corner_tips_lie_in_corners(flap):
    figure = Figure("corner", (*star(*flap).flaps, Flap("c", "hub", 1.0, place=("corner",))))
    packing = pack_grid(figure, grid=GridRequest(unit=1.0))
    assert packing.violations() == []
    assert packing.kinds["c"] == "corner"


def test_a_fixed_point_becomes_the_nearest_grid_point():
    figure = Figure(
        "pinned", (*star(2, 3, 4).flaps, Flap("c", "hub", 1.0, place=((0.3, 0.5),)))
    )
    packing = pack_grid(figure, grid=GridRequest(unit=1.0))
    x, y = packing.tips[-1]
    assert abs(x - 0.3 * packing.cells[0]) <= 0.5
    assert abs(y - 0.5 * packing.cells[1]) <= 0.5
    assert packing.status == "proven least"


def test_by_default_the_root_is_the_joint_nearest_to_its_farthest_tip():
    # from "far" the farthest tip is 4 away (b), from "near" 6 (c) and from the middle joint 5 (c),
    # though "near" has the nearest tip of all
    flaps = (
        Flap("a", "near", 1),
        Flap("b", "middle", 3),
        Flap("c", "far", 4),
    )
    rivers = (River("r", ("near", "middle"), 1), River("s", ("middle", "far"), 1))
    problem = pose(Figure("three joints", flaps, rivers))
    rounded = tuple(int(length) for length in problem.tree.lengths)
    packing = GridPacking(problem, 1.0, rounded, (9, 9), ((0.0, 0.0), (9.0, 0.0), (0.0, 9.0)))
    assert packing.root == "far"
