"""Numbers as people and files write them."""

from __future__ import annotations

import math


def as_number(value: object) -> float | None:
    """Return a value as a float; None where it is no number at all.

    True and False are no numbers here, and a whole number too large for a float is infinite.
    """
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    try:
        return float(value)
    except OverflowError:
        return math.inf if value > 0 else -math.inf


def counted(number: int, thing: str) -> str:
    """Return a number of things in words: "1 river", "2 rivers", "0 rivers"."""
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"
