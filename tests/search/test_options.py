"""Search options: checked where they are made."""

from __future__ import annotations

import math
from dataclasses import FrozenInstanceError

import pytest

from packer.errors import OptionError
from packer.search.options import SearchOptions
from packer.search.stopping import (
    BY_ITSELF,
    MaxEffort,
    MaxStarts,
    NoImprovement,
    ProvenOptimal,
    TimeLimit,
)


@pytest.mark.parametrize("workers", [0, -1])
def test_workers_must_be_above_zero(workers):
    with pytest.raises(OptionError, match="above zero"):
        SearchOptions(workers=workers)


def test_what_is_no_rule_is_refused():
    with pytest.raises(
        OptionError, match=r"60 is no stopping rule; write one such as MaxStarts"
    ):
        SearchOptions(stop=60)


def test_options_never_change():
    with pytest.raises(FrozenInstanceError):
        SearchOptions().seed = 1


def test_one_rule_needs_no_brackets():
    assert SearchOptions(stop=MaxStarts(3)).rules == (MaxStarts(3),)
    assert SearchOptions().rules == ()


def test_usual_rules_hold_where_none_is_given():
    assert SearchOptions().by_itself().rules == BY_ITSELF
    given = SearchOptions(stop=MaxStarts(3))
    assert given.by_itself() == given
    assert SearchOptions(seed=4).or_stop(MaxStarts(8)) == SearchOptions(4, (MaxStarts(8),))


def test_the_shortest_time_is_the_deadline():
    both = SearchOptions(stop=(TimeLimit(60), MaxStarts(3), TimeLimit(5)))
    assert both.deadline().total == 5
    assert SearchOptions(stop=MaxStarts(3)).deadline().total == math.inf
    assert SearchOptions(stop=MaxEffort(4)).effort(30) == 4
    assert both.effort(30) == 30


@pytest.mark.parametrize(
    ("stop", "repeats"),
    [
        (MaxStarts(3), True),
        ((MaxStarts(3), TimeLimit(5)), True),
        (NoImprovement(1), True),
        (TimeLimit(5), False),
        ((MaxStarts(3), ProvenOptimal()), False),
    ],
)
def test_rules_that_count_make_a_search_that_repeats(stop, repeats):
    assert SearchOptions(stop=stop).repeats == repeats
