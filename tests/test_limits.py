"""Ranges of what is taken, and texts cut to a length."""

from __future__ import annotations

import math

import numpy as np
import pytest

from packer import limits
from packer.limits import NumberRange, cut_short, plain


def test_a_range_holds_its_ends_and_no_more():
    numbers = (0.99, 1.0, 5.0, 9.0, 9.01, math.nan)
    assert [NumberRange(1, 9).hold(x) for x in numbers] == [
        False,
        True,
        True,
        True,
        False,
        False,
    ]
    assert str(NumberRange(1e-6, 1e6)) == "from 0.000001 to 1000000"


@pytest.mark.parametrize(("number", "told"), [(100.0, "100"), (1e6, "1000000"), (0.25, "0.25")])
def test_numbers_are_told_without_powers_of_ten(number, told):
    assert plain(number) == told


@pytest.mark.parametrize(
    ("text", "short"),
    [("abcdefghijkl", "abcdefghijkl"), ("abcdefghijklm", "abcdefgh...m")],
)
def test_a_text_is_cut_in_its_middle(text, short):
    assert cut_short(text, 12) == short


def test_seeds_end_where_the_solvers_do_and_counts_begin_at_one():
    """CP-SAT's `random_seed` is an int32 of 0 and more (sat_parameters.proto of OR-Tools)."""
    assert limits.SEED.hold(0)
    assert limits.SEED.hold(np.iinfo(np.int32).max)
    assert not limits.SEED.hold(np.iinfo(np.int32).max + 1)
    for count in (limits.STARTS, limits.WORKERS, limits.PACKINGS):
        assert count.hold(1)
        assert not count.hold(0)
