"""Stopping rules, each asked by hand."""

from __future__ import annotations

import math

import pytest

from packer.errors import OptionError
from packer.search.stopping import (
    MaxEffort,
    MaxStarts,
    NoImprovement,
    ProvenOptimal,
    SearchState,
    TimeLimit,
    first_reason,
    hits_of,
)

ENTRIES = {
    TimeLimit: "time",
    MaxStarts: "starts",
    NoImprovement: "patience",
    MaxEffort: "effort",
}


@pytest.mark.parametrize("rule", ENTRIES)
@pytest.mark.parametrize("value", [0, -1, math.nan])
def test_limits_must_be_above_zero(rule, value):
    with pytest.raises(OptionError, match="above zero") as refused:
        rule(value)
    assert refused.value.entry == ENTRIES[rule]


@pytest.mark.parametrize(
    ("rule", "state", "reason"),
    [
        (MaxStarts(2), SearchState((1.0,)), ""),
        (MaxStarts(2), SearchState((1.0, 1.0)), "starts"),
        (TimeLimit(3), SearchState(seconds=2.9), ""),
        (TimeLimit(3), SearchState(seconds=3), "time"),
        (NoImprovement(2), SearchState((1.0, 0.9)), ""),
        (NoImprovement(2), SearchState((1.0, 0.9, 1.1)), ""),
        (NoImprovement(2), SearchState((0.9, 1.0, 0.9, 1.0)), "no improvement"),
        (ProvenOptimal(), SearchState((1.0,)), ""),
        (ProvenOptimal(), SearchState((1.0,), proven=True), "proven"),
        (MaxEffort(5), SearchState(effort=4), ""),
        (MaxEffort(5), SearchState(effort=5), "effort"),
    ],
)
def test_a_rule_names_its_reason(rule, state, reason):
    assert rule.reason(state) == reason


def test_the_first_rule_with_a_reason_is_told():
    state = SearchState((1.0, 1.0), seconds=9)
    assert first_reason((MaxStarts(3), TimeLimit(5), MaxStarts(2)), state) == "time"
    assert first_reason((), state) == ""


def test_hits_are_the_starts_that_reached_the_best():
    assert hits_of([1.0, 0.9, 1.0]) == 2
    assert hits_of([]) == 0
