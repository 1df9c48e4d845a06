"""What the page is told of a packing, in numbers known beforehand."""

from __future__ import annotations

from packer.model.figure import Figure, Flap
from packer.model.packing import Packing
from packer.model.problem import pose
from packer.table.draft import Draft
from packer.table.replies import line_reply
from packer.table.state import TableState, of_packing


def state(side):
    """Two flaps of 1 at opposite corners of a square: their scale is half of its diagonal."""
    figure = Figure("two", (Flap("a", "hub", 1), Flap("b", "hub", 1)))
    return of_packing(Draft(), Packing(pose(figure), ((0.0, 0.0), (side, side))))


def test_a_difference_is_the_share_of_the_scale_before():
    assert line_reply(state(1.0), state(0.8), None)["difference"] == 0.25
    assert line_reply(state(0.8), state(1.0), None)["difference"] == -0.2
    for before in (None, TableState(Draft())):
        assert line_reply(state(1.0), before, None)["difference"] is None
    assert line_reply(TableState(Draft()), state(1.0), None) == {"scale": None}
