"""Ranges of what is taken, and texts cut to a length."""

from __future__ import annotations

import math

import pytest

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
