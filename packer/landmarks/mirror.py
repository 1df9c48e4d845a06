"""Symmetry of tips on a sheet: its line, the images of lines, and steps done on the other side."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from packer.landmarks import alignments as fold
from packer.landmarks.sequence import Step, crease_of
from packer.units import SAME_LINE

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.landmarks.alignments import Lines, Size


@dataclass(frozen=True, eq=False)
class SheetMirror:
    """A line in which a sheet and the tips on it are their own mirror images.

    Attributes
    ----------
    axis
        The line, as ``(a, b, c)``.
    edges
        The number of each edge's mirror image.
    first
        (n,) for each tip itself or its image, whichever is named first.
    """

    axis: tuple[float, float, float]
    edges: tuple[int, ...]
    first: NDArray[np.intp]

    @staticmethod
    def of(size: Size, points: NDArray[np.float64]) -> SheetMirror | None:
        """Return the first symmetry that a sheet and (n, 2) points on it have, if any."""
        w, h = size
        r = 0.5**0.5
        lines = [((1.0, 0.0, w / 2), (0, 3, 2, 1)), ((0.0, 1.0, h / 2), (2, 1, 0, 3))]
        if abs(w - h) <= SAME_LINE * w:
            lines += [((r, -r, 0.0), (3, 2, 1, 0)), ((r, r, r * w), (1, 0, 3, 2))]
        for axis, edges in lines:
            images = fold.mirrored(np.array(axis), points)
            gaps = np.linalg.norm(images[:, None] - points[None], axis=-1)
            if len(points) and gaps.min(axis=1).max() <= SAME_LINE * min(size):
                first = np.minimum(gaps.argmin(axis=1), np.arange(len(points)))
                return SheetMirror(axis, edges, first)
        return None

    def lines(self, lines: Lines) -> Lines:
        """Return the mirror images of (n, 3) lines."""
        a, b, _c = self.axis
        normal = np.array([a, b])
        turned = lines[:, :2] - 2 * (lines[:, :2] @ normal)[:, None] * normal
        base = fold.mirrored(np.array(self.axis), lines[:, :2] * lines[:, 2:])
        return fold.line_at(turned, base)


def mirror_step(
    step: Step,
    images: tuple[int, ...],
    lines: Lines,
    wanted: NDArray[np.float64],
    size: Size,
    number: int,
) -> Step:
    """Return the step that makes the mirror image of a crease.

    Parameters
    ----------
    step
        The crease.
    images
        The number of each line's mirror image.
    lines
        (n, 3) the lines known.
    wanted
        The line to be made.
    size
        Width and height of the sheet.
    number
        Of the step in its sequence.
    """

    def pair(old: tuple[int, int]) -> tuple[int, int]:
        a, b = sorted(images[k] for k in old)
        return a, b

    other = Step(
        step.alignment,
        tuple(map(pair, step.points)),
        tuple(images[k] for k in step.lines),
        0,
        number,
    )
    exact = np.zeros((1, 2))
    tries = [replace(other, branch=b) for b in (1, -1, 0, 2)]
    with np.errstate(all="ignore"):
        made = [
            crease_of(one, lines[:, None], size, exact)[0]
            if one.branch >= 0 or one.alignment != 6
            else np.full(3, np.nan)
            for one in tries
        ]
    off = [np.abs(line - wanted).max() for line in made]
    return tries[int(np.nanargmin(np.where(np.isfinite(off), off, np.inf)))]
