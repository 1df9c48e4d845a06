"""Rows of the report's page, against a textbook base."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from packer.folded.form import fold
from packer.folded.layers import FlatBase
from packer.model.figure import Figure
from packer.model.packing import Packing
from packer.model.problem import pose
from packer.model.sheet import Sheet
from packer.report.sections import _demand_rows
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


def _base():
    pattern = windmill()
    return FlatBase(pattern, fold(pattern), None)
