"""What settling changed, of a packing settled by hand."""

from __future__ import annotations

from packer.model.figure import Figure, Flap
from packer.model.packing import Packing
from packer.model.problem import pose
from packer.model.sheet import Sheet
from packer.report.settling_table import settling_table

FLAPS = (Flap("leg", "hub", 1, pair=True), Flap("tail", "hub", 1))
SEARCHED = ((0.0, 0.0), (1.0, 0.0), (0.5, 1.0))
SETTLED = ((0.0, 0.1), (1.0, 0.1), (0.5, 1.0))


def _table(symmetry, cut=None):
    problem = pose(Figure("bug", FLAPS), Sheet(), symmetry)
    return settling_table(Packing(problem, SEARCHED), Packing(problem, SETTLED), cut)


def test_twins_have_one_row_where_they_mirror_each_other():
    assert [row[0] for row in _table("book").rows] == ["leg x2", "tail"]
    assert len(_table("none").rows) == 3


def test_a_tip_that_moved_by_a_tenth_of_a_side_moved_20_of_200_mm():
    moved = [row[5] for row in _table("book", Sheet(200, 200, "mm")).rows]
    assert moved == ["20.0", "0.0"]
    assert [row[5] for row in _table("book").rows] == ["0.1000", "0.0000"]
