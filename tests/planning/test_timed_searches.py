"""Several searches one after the other share one limit of time."""

from __future__ import annotations

from dataclasses import replace

import pytest

from packer.files.levels_files import levels_text, read_levels
from packer.model.figure import Figure, Flap
from packer.model.packing import Bound, Packing
from packer.model.problem import pose
from packer.planning import timed_searches
from packer.planning.compare import compare
from packer.planning.levels import levels
from packer.planning.timed_searches import Course
from packer.search.options import SearchOptions
from packer.search.stopping import MaxStarts, TimeLimit

STAR = pose(Figure("star", (Flap("a", "j", 1.0), Flap("b", "j", 1.0))))


@pytest.fixture
def clock(monkeypatch):
    """A clock that is set by hand, and searches that take as long as they are told to."""
    now = [100.0]
    monkeypatch.setattr("packer.deadline.monotonic", lambda: now[0])
    return now


def stub(clock, takes, limits):
    """Return what stands for `pack`: it writes down its limits, and takes so many seconds each."""
    waiting = list(takes)

    def pack(problem, *, options, **_more):
        limits.append(options.rules)
        clock[0] += waiting.pop(0)
        tips = ((0, 0), (1, 1), (1, 0))[: problem.tree.n_tips]
        packing = Packing(problem, tips)
        return replace(packing, search=replace(packing.search, stopped="time"))

    return pack


def test_one_limit_is_for_all_steps_in_equal_parts(clock, monkeypatch):
    limits = []
    monkeypatch.setattr(timed_searches, "pack", stub(clock, [1.0, 3.0, 2.0, 1.0], limits))
    course = Course(SearchOptions(stop=(MaxStarts(3), TimeLimit(8.0))), 4)
    for _ in range(4):
        course.step(course.packing, STAR)
    # 8 s in four parts of 2; the second took a second too long, which the first had left
    seconds = [rules[1].seconds for rules in limits]
    assert seconds == pytest.approx([2.0, 2.0, 2.0, 2.0])
    assert all(rules[0] == MaxStarts(3) for rules in limits)


def test_what_one_step_takes_too_long_the_others_give(clock, monkeypatch):
    limits = []
    monkeypatch.setattr(timed_searches, "pack", stub(clock, [5.0, 1.5, 1.5], limits))
    course = Course(SearchOptions(stop=TimeLimit(6.0)), 3)
    for _ in range(3):
        course.step(course.packing, STAR)
    assert [rules[0].seconds for rules in limits] == pytest.approx([2.0, 0.5, 0.001], rel=1e-9)


def test_levels_are_not_packed_once_more_when_the_time_is_over(clock, monkeypatch, tmp_path):
    limits = []
    monkeypatch.setattr(timed_searches, "pack", stub(clock, [9.0] * 5, limits))
    flaps = (Flap("a", "j", 1.0), Flap("b", "j", 1.0), Flap("c", "j", 1.0, detail=2))
    figure = Figure("star", flaps)
    made = levels(figure, options=SearchOptions(stop=TimeLimit(5.0)))
    assert len(limits) == len(made.levels) == 2
    assert made.late
    assert made.complete
    assert [level.untried for level in made.levels] == [0, 1]
    (path := tmp_path / "star.levels.json").write_text(levels_text(made))
    assert read_levels(path).late


def test_a_packing_is_repeated_with_the_bound_proven_before(monkeypatch):
    known = []
    monkeypatch.setattr(
        "packer.search.parallel.background_bound.quick_bound",
        lambda problem: known.append(problem) or Bound(9.0, "counted"),
    )
    course = Course(SearchOptions(stop=MaxStarts(1), workers=1), 1, proof=0.0)
    once = course.packing(STAR)
    assert course.packing(STAR, once, known=once.bound).bound == once.bound
    assert len(known) == 1


def test_a_comparison_without_a_word_is_limited_and_says_so(clock, monkeypatch):
    limits, told = [], []
    monkeypatch.setattr(timed_searches, "pack", stub(clock, [1.0] * 5, limits))
    compare(STAR.figure, options=SearchOptions(progress=told.append))
    assert (told[0].done, told[0].total, told[0].seconds) == (0, 5, 200.0)
    assert [rules[1].seconds for rules in limits] == pytest.approx([40.0] * 5)
