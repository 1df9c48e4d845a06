"""What an error says: where, what, and what was probably meant."""

from __future__ import annotations

import pytest

from packer.errors import SHOWN, FigureError, did_you_mean


def test_an_error_names_file_and_entry_where_it_knows_them():
    error = FigureError("it is no length; write a number", "flaps.claw.length")
    assert str(error) == "flaps.claw.length: it is no length; write a number"
    assert str(error.found_in("crab.toml")) == f"crab.toml, {error}"
    assert str(FigureError("no figure")) == "no figure"
    assert isinstance(error, ValueError)


@pytest.mark.parametrize(
    ("word", "choices", "hint"),
    [
        ("lenght", ["length", "joint"], '; did you mean "length"?'),
        ("zzz", ["length", "joint"], "; known are length, joint"),
        ("zzz", [], ""),
    ],
)
def test_near_misses_are_told_else_what_is_known(word, choices, hint):
    assert did_you_mean(word, choices) == hint


def test_a_long_list_is_cut():
    names = [f"leg_{k}" for k in range(SHOWN + 1)]
    assert did_you_mean("zzz", names).endswith(f"{names[-2]} and others")
    assert did_you_mean("zzz", names[:-1]).endswith(names[-2])
