"""View boxes of SVG: matrices from a drawing's own units to pixels.

A (2, 3) matrix maps (x, y, 1). Rules are those of *Scalable Vector Graphics 1.1*, chapter 7.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.errors import ReadError
from packer.sketch.css import MM_PER_PX, length_px
from packer.sketch.svg_paths import LARGEST, measured, number_list

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

    from numpy.typing import NDArray

    Matrix = NDArray[np.float64]

_FITS: Final = re.compile(r"x(Min|Mid|Max)Y(Min|Mid|Max)(?:\s+(meet|slice))?")
_NO_SIZE: Final = (300.0, 150.0)
"""Size in pixels of a drawing that says nothing: that of a replaced element in CSS 2.1."""


def root_view(root: Element) -> tuple[Matrix, float | None, tuple[float, float]]:
    """Return the root's matrix, millimetres in a pixel and the width and height of its units.

    Millimetres are None where the drawing gives itself no true size.

    Raises
    ------
    ReadError
        Where a size is zero or no length.
    """
    box = view_box(root)
    w, h = (
        None if "%" in text or text in {"", "auto"} else measured(length_px(text, 0))
        for text in (root.get("width", ""), root.get("height", ""))
    )
    if box is None:
        return np.eye(3)[:2], MM_PER_PX, (w or _NO_SIZE[0], h or _NO_SIZE[1])
    if w is None and h is None:
        return fit_view(box, box[2:], root.get("preserveAspectRatio", "")), None, box[2:]
    ratio = box[2] / box[3]  # a side left out follows the other
    width = w if w is not None else (h or 0.0) * ratio
    height = h if h is not None else width / ratio
    if not (width > 0 and height > 0):
        raise ReadError("its width or height is zero; give the drawing a size")
    rule = root.get("preserveAspectRatio", "")
    return fit_view(box, (width, height), rule), MM_PER_PX, box[2:]


def view_box(element: Element) -> tuple[float, float, float, float] | None:
    """Return x, y, width and height of a view box; None where there is none.

    Raises
    ------
    ReadError
        Where it is no box.
    """
    numbers = number_list(element.get("viewBox", ""))
    if not numbers:
        return None
    if len(numbers) != 4 or not (numbers[2] > 0 and numbers[3] > 0):
        raise ReadError("its viewBox is not four numbers with a width and a height above zero")
    return numbers[0], numbers[1], numbers[2], numbers[3]


def fit_view(
    box: tuple[float, float, float, float], size: tuple[float, float], rule: str
) -> Matrix:
    """Return the matrix of a view box shown in a window at the origin (SVG 1.1, section 7.8)."""
    sx, sy = size[0] / box[2], size[1] / box[3]
    match = _FITS.search(rule)
    if "none" not in rule:
        sx = sy = max(sx, sy) if match and match[3] == "slice" else min(sx, sy)
    share = {"Min": 0.0, "Mid": 0.5, "Max": 1.0}
    ax, ay = (share[match[1]], share[match[2]]) if match else (0.5, 0.5)
    dx = (size[0] - sx * box[2]) * ax - sx * box[0]
    dy = (size[1] - sy * box[3]) * ay - sy * box[1]
    return np.array([[sx, 0.0, dx], [0.0, sy, dy]])


def compose(outer: Matrix, inner: Matrix) -> Matrix:
    """Return the (2, 3) matrix of `inner` followed by `outer`.

    Raises
    ------
    ReadError
        Where its numbers are beyond measure.
    """
    product = np.column_stack(
        (outer[:, :2] @ inner[:, :2], outer[:, :2] @ inner[:, 2] + outer[:, 2])
    )
    if not (np.abs(product) <= LARGEST**2).all():
        raise ReadError("its transforms lead beyond all measure; draw it in the view")
    return product
