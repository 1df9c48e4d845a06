"""The room that labels take: the boxes of lines of text, by the widths of their letters, and what they hide."""

from __future__ import annotations

import math
import unicodedata
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.drawing.marks.strokes import Label, Point

Segment = tuple["Point", "Point"]

LETTER = 0.58
"""Mean width of a letter of a sans-serif face, as a share of the size of the text."""

CLOSE = 0.6
"""Half the height of a line of text, as a share of its size, with a little air."""

_WIDTHS: Final = {
    letter: width
    for width, letters in (
        (0.3, "'ijlIJ"),
        (0.34, ",. /:;\\|f-"),
        (0.41, "t()[]!r"),
        (0.5, '"*_`sz?'),
        (0.58, "cLkFvxy"),
        (0.63, "PaoTYebdghnpquES0123456789${}"),
        (0.7, "KAVBRXZC"),
        (0.79, "UHNDG&OQ"),
        (0.84, "w#+<=>^~"),
        (1.0, "M%mW@"),
    )
    for letter in letters
}
"""Widths of letters as shares of the size: those of DejaVu Sans, one of the widest faces in use."""


def text_width(text: str, size: float) -> float:
    """Return about how wide a line of text is, in mm, in a wide sans-serif face."""
    return size * sum(
        _WIDTHS.get(c, 1.0 if unicodedata.east_asian_width(c) in "WF" else 0.65) for c in text
    )


def label_box(label: Label) -> NDArray[np.float64]:
    """Return (4, 2) corners of about the rectangle that a label covers."""
    width = text_width(label.text, label.size)
    start = {"start": 0.0, "middle": -width / 2, "end": -width}[label.anchor]
    half = CLOSE * label.size
    corners = np.array(
        [(start, -half), (start + width, -half), (start + width, half), (start, half)]
    )
    c, s = math.cos(math.radians(label.angle)), math.sin(math.radians(label.angle))
    turned: NDArray[np.float64] = corners @ np.array([[c, s], [-s, c]]) + label.at
    return turned


def lengths_within(
    corners: NDArray[np.float64], lines: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return (k,) how much of each of k lines lies within a box of its own.

    Each side cuts off what of the line lies beyond it (M. Cyrus and J. Beck, "Generalized two- and
    three-dimensional clipping", Computers & Graphics 3, 1978).

    Parameters
    ----------
    corners
        (k, 4 or more, 2) counter-clockwise; what follows the first four is left out.
    lines
        (k, 2, 2) their ends.
    """
    start, way = lines[:, 0], lines[:, 1] - lines[:, 0]
    first, last = np.zeros(len(lines)), np.ones(len(lines))
    for k in range(4):
        side = corners[:, (k + 1) % 4] - corners[:, k]
        off = start - corners[:, k]
        inside = side[:, 0] * off[:, 1] - side[:, 1] * off[:, 0]
        rise = side[:, 0] * way[:, 1] - side[:, 1] * way[:, 0]
        at = -inside / np.where(rise == 0, 1.0, rise)
        first = np.where(rise > 0, np.maximum(first, at), first)
        last = np.where(rise < 0, np.minimum(last, at), last)
        last = np.where((rise == 0) & (inside < 0), 0.0, last)
    lengths: NDArray[np.float64] = np.hypot(*way.T) * np.maximum(last - first, 0.0)
    return lengths
