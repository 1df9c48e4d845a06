"""Deadlines, by a clock that only the test moves."""

from __future__ import annotations

import math
import pickle

import pytest

from packer import deadline
from packer.deadline import NEVER, Deadline, OutOfTime


class Clock:
    """Shows what it was set to."""

    now = 100.0

    def __call__(self):
        return self.now


@pytest.fixture
def clock(monkeypatch):
    clock = Clock()
    monkeypatch.setattr(deadline, "monotonic", clock)
    return clock


def test_a_deadline_knows_what_is_past_and_what_is_left(clock):
    end = Deadline.after(10)
    clock.now += 4
    assert (end.elapsed, end.left, end.total, end.over) == (4, 6, 10, False)
    end.check()
    clock.now += 7
    assert (end.elapsed, end.left, end.over) == (11, 0, True)
    with pytest.raises(OutOfTime):
        end.check()


def test_parts_never_end_later_than_the_whole(clock):
    end = Deadline.after(10)
    clock.now += 4
    assert end.within(2).left == 2
    assert end.within(60).left == 6
    assert end.share(0.5).left == 3
    assert end.within(2).elapsed == 0
    assert end.leaving(5).left == 1
    assert end.leaving(5).elapsed == 4
    assert end == Deadline(100, 110)


def test_without_a_number_it_never_comes(clock):
    clock.now += 1e9
    assert not NEVER.over
    assert not NEVER.limited
    assert NEVER.left == math.inf
    assert NEVER.share(0.5).left == math.inf
    assert NEVER.within(3).limited
    NEVER.check()


def test_it_keeps_its_seconds_on_the_way_to_another_clock(clock):
    end = Deadline.after(10)
    clock.now += 4
    sent = pickle.dumps(end)
    clock.now = 7e6  # the other machine's
    there = pickle.loads(sent)
    assert (there.elapsed, there.left) == (4, 6)
    clock.now += 6
    assert there.over
    assert pickle.loads(pickle.dumps(NEVER)).left == math.inf


def test_what_is_counted_until_it_comes_is_done_once_at_least(clock):
    end, seen = Deadline.after(10), []
    for number in end.counted(9):
        seen.append(number)
        clock.now += 4
    assert seen == [0, 1, 2]
    assert list(end.counted(9)) == [0]
    assert list(NEVER.counted(3)) == [0, 1, 2]
