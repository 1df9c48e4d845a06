"""Rows of the report's page, against a textbook base."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from packer.folded.form import fold
from packer.folded.layers import FlatBase
from packer.grid.grid_packing import GridBound, GridPacking
from packer.model.figure import Figure, Flap
from packer.model.packing import Packing
from packer.model.problem import pose
from packer.model.sheet import Sheet
from packer.report.sections import _demand_rows, _mm_per_unit, grid_section
from tests.folded.textbook import WINDMILL, WINDMILL_TIPS, windmill


@pytest.mark.parametrize(
    ("side", "told"), [(None, "25.00 % of the side"), (120, "30 mm, 25.00 % of the side")]
)
def test_the_smallest_feature_of_the_windmill_is_a_quarter_of_the_side(side, told):
    """Its creases lie on quarters of the square; see tests.folded.textbook."""
    packing = Packing(pose(Figure("windmill", *WINDMILL)), tuple(WINDMILL_TIPS.values()))
    paper = SimpleNamespace(mm=0.1, name="kami")
    plan = side and SimpleNamespace(sheet=Sheet(side, side, "mm"), paper=paper)
    rows = {what: value for what, value, _ in _demand_rows(_base(), packing, plan)}
    assert rows["smallest feature"] == told
    assert rows["scale given up"] == "0.0%"


def test_the_part_that_lost_most_tells_the_scale_given_up():
    """One part was asked a quarter longer than it is: a fifth of its length is missing."""
    base = _base()
    asked = dict(base.pattern.built)
    asked[next(iter(asked))] *= 1.25
    packing = SimpleNamespace(sheet=base.pattern.sheet, sheet_lengths=asked)
    rows = {what: value for what, value, _ in _demand_rows(base, packing, None)}
    assert rows["scale given up"] == "20.0%"


def test_a_unit_of_a_sheet_is_as_many_mm_as_the_planned_one_is_wider():
    plan = SimpleNamespace(sheet=Sheet(200, 100, "mm"))
    assert _mm_per_unit(SimpleNamespace(sheet=Sheet(2, 1)), plan) == 100


def test_the_cells_of_a_grid_are_told_across_and_up():
    """Two flaps at the ends of a sheet 4 wide and 1 high, and a bound of another ratio."""
    figure = Figure("line", (Flap("a", "hub", 1), Flap("b", "hub", 1)))
    packing = Packing(pose(figure, Sheet(4, 1)), ((0, 0), (4, 1)))
    grid = GridPacking(
        packing.problem, 0.5, (2, 2), (4, 1), ((0, 0), (4, 1)), (2, 2), "hub",
        bound=GridBound((3, 2), "told here"),
    )  # fmt: skip
    lines = grid_section(grid, packing).lines
    assert lines[0].startswith("4 x 1 cells of ")
    assert lines[1] == "At least 3 x 2 cells: told here."


def _base():
    pattern = windmill()
    return FlatBase(pattern, fold(pattern), None)
