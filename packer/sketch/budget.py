"""How much of a drawing is looked at, and how large it may be."""

from __future__ import annotations

from typing import Final

from packer.errors import ReadError

MOST_ELEMENTS: Final = 15_000
"""Elements looked at, copies counted each time: a drawing of 1000 parts has fewer."""

MOST_NESTED: Final = 500
"""Groups inside each other; drawings by hand have fewer than twenty."""

FARTHEST: Final = 1e9
"""Largest coordinate in pixels: beyond, ends that meet can no longer be told from ends that do not."""

LEAST_SIZE: Final = 1e-6
"""Extent in pixels below which a drawing is none: 0.3 nm of paper."""


def check_budget(seen: int, nested: int) -> None:
    """Refuse a drawing without end, such as copies of copies.

    Raises
    ------
    ReadError
        Where so many elements were seen, or lie so many groups inside each other.
    """
    if seen > MOST_ELEMENTS:
        raise ReadError(
            f"there are more than {MOST_ELEMENTS} elements, copies counted; leave only the figure"
        )
    if nested > MOST_NESTED:
        raise ReadError(f"groups are nested more than {MOST_NESTED} deep; ungroup them")
