"""What a grid costs, in a comparison: squares against circles on one sheet."""

from __future__ import annotations

import math

import pytest

from packer.errors import PackingError
from packer.grid.grid_cost import grid_cost
from packer.grid.pack_grid import pack_grid
from packer.model.figure import Figure, Flap
from packer.model.problem import pose
from packer.model.sheet import Sheet
from packer.planning.compare import compare
from packer.search.options import SearchOptions
from packer.search.pack import pack
from packer.search.stopping import MaxEffort, MaxStarts


def star(n):
    return Figure("star", tuple(Flap(f"f{k}", "hub", 1) for k in range(n)))


# Equal flaps whose circles are known exactly, against squares: n equal squares need a grid of
# 2 (ceil(sqrt n) - 1) cells of half a unit's distance (counting), so a scale of
# 1 / (2 (ceil(sqrt n) - 1)); circles: n = 4, 9 grids, n = 5 the centre, root 2 / 4 (Szabo et
# al., New Approaches to Circle Packing in a Square, 2007).
@pytest.mark.parametrize(
    ("n", "squares", "circles"),
    [(4, 1 / 2, 1 / 2), (5, 1 / 4, math.sqrt(2) / 4), (9, 1 / 4, 1 / 4)],
)
def test_equal_flaps_cost_what_is_known(n, squares, circles):
    (entry,) = compare(
        star(n), [Sheet()], options=SearchOptions(stop=MaxStarts(3), workers=1), effort=2
    ).entries
    assert entry.cost.grid == pytest.approx(squares)
    assert entry.cost.least == pytest.approx(squares)  # equal lengths are kept exactly
    assert entry.cost.circles == pytest.approx(circles, rel=1e-9)
    assert entry.cost.share == pytest.approx(squares / circles)
    # lengths kept exactly: max metric and Euclidean distance differ by at most root 2
    assert math.sqrt(0.5) * (1 - 1e-9) <= entry.cost.share <= 1 + 1e-9


def test_all_sheets_are_rounded_to_one_unit():
    figure = Figure("odd", (Flap("a", "j", 1), Flap("b", "j", 1.47), Flap("c", "j", 0.71)))
    found = compare(
        figure,
        [Sheet(), Sheet(3, 1)],
        options=SearchOptions(stop=MaxStarts(1), workers=1),
        effort=1,
    )
    assert len({entry.grid.unit for entry in found.entries}) == 1


def test_only_one_figure_on_one_sheet_is_compared():
    circles = pack(star(3), options=SearchOptions(stop=MaxStarts(1), workers=1))
    for other in (pose(star(3), Sheet(2, 1)), pose(star(4), Sheet())):
        with pytest.raises(PackingError, match="pack both again"):
            grid_cost(pack_grid(other, options=SearchOptions(stop=MaxEffort(1))), circles)
