"""The time that is kept for the last digits, and that it is what a search hands on."""

from __future__ import annotations

import pytest

from packer.deadline import NEVER, Deadline
from packer.model.problem import pose
from packer.search import enumeration
from packer.search.memetic import run
from packer.search.memetic.run import SearchGoal
from packer.search.result.finalise import (
    FINISHING,
    FINISHING_SHARE,
    SOON_FINISHED,
    finishing_seconds,
    finishing_until,
)
from tests.strategies import random_figure

LARGE = pose(random_figure(0, SOON_FINISHED + 1, joints=20))


@pytest.mark.parametrize("total", [0.1, 1.0, 5.0, 1000.0])
def test_of_many_flaps_a_part_of_the_limit_is_kept_for_the_last_digits(total):
    deadline = Deadline(0.0, total)
    kept = finishing_seconds(LARGE, deadline)
    assert kept == min(FINISHING, FINISHING_SHARE * total)
    assert deadline.leaving(kept).total == pytest.approx(total - kept)
    assert finishing_until(kept).total == pytest.approx(kept)


def test_nothing_is_kept_where_it_takes_none_or_nothing_limits_it():
    few = pose(random_figure(0, 12, joints=4))
    assert finishing_seconds(few, Deadline(0.0, 10.0)) == 0
    assert finishing_seconds(LARGE, NEVER) == 0
    assert not finishing_until(0.0).limited


def test_further_starts_are_cut_short_at_the_deadline(monkeypatch):
    """Of many flaps one batch of local solves takes longer than most people wait."""
    deadlines = []
    solver = run.LocalSolver

    def noted(*args):
        made = solver(*args)
        deadlines.append(made.deadline)
        return made

    monkeypatch.setattr(run, "LocalSolver", noted)
    over = Deadline.after(0.0)
    _, in_time, _ = enumeration.distinct_optima(SearchGoal(LARGE), 0, 0, over)
    assert not in_time
    assert deadlines == [over]
