"""Numbers as they are read and told."""

from __future__ import annotations

import math

import pytest

from packer.numbers import as_number, counted


@pytest.mark.parametrize(
    ("value", "number"),
    [
        (2, 2.0),
        (0.5, 0.5),
        (10**400, math.inf),
        (-(10**400), -math.inf),
        (True, None),
        ("1", None),
    ],
)
def test_what_is_a_number(value, number):
    assert as_number(value) == number


@pytest.mark.parametrize(("number", "told"), [(0, "0 rivers"), (1, "1 river"), (2, "2 rivers")])
def test_things_are_counted_in_words(number, told):
    assert counted(number, "river") == told
