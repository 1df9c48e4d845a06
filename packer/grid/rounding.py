"""From proportions to whole lengths: which length of the figure should be one cell.

A fine grid keeps the proportions and needs many cells; a coarse one the other way round. Between
two breakpoints every length keeps its whole number, and the best unit for these numbers is the
one that makes the worst two errors, one too long and one too short, equal as ratios.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.errors import FigureError, OptionError
from packer.model.parts import MOST_CELLS
from packer.units import HOLDS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.model.tree import Tree

WORST_SHOWN: Final = 0.5
LEAST_SHOWN: Final = 0.02
"""Errors between which a choice of grids is offered: above, a limb has other proportions; below,
nobody sees the difference."""


@dataclass(frozen=True)
class Rounding:
    """Whole lengths for every flap and river of a tree.

    Attributes
    ----------
    unit
        Length of the figure that is one cell.
    lengths
        (edges,) whole cells, at least one each.
    error
        The worst ratio between a rounded length and the one asked, less one: 0.1 where a length
        comes out 10 % too long or 1 / 1.1 of what was asked. Lengths set by hand do not count.
    """

    unit: float
    lengths: tuple[int, ...]
    error: float


def rounded(tree: Tree, unit: float) -> Rounding:
    """Round the lengths of a tree in a given unit: as ratios, so that nothing falls to zero.

    Raises
    ------
    OptionError
        Where the unit is no length, or so small that the grid would be beyond folding.
    """
    if not unit > 0 or not np.isfinite(unit):
        raise OptionError(f"{unit:g} is no length; write a number above zero", "unit")
    longest = float(tree.distances.max())
    if longest > MOST_CELLS * unit * (1 + HOLDS):
        raise OptionError(
            f"a unit of {unit:g} makes the longest path {longest / unit:.0f} cells, and "
            f"{MOST_CELLS} is the most; write {longest / MOST_CELLS:.3g} or more",
            "unit",
        )
    lengths = with_set(whole(tree.lengths / unit, least_cells(tree)), tree)
    asked = tree.lengths / unit
    return Rounding(
        float(unit), tuple(lengths.tolist()), _error(asked, lengths, open_parts(tree))
    )


def balanced(tree: Tree, cells: tuple[int, ...]) -> Rounding:
    """Return whole lengths with the unit that makes the worst two errors, long and short, equal."""
    ratio = (np.array(cells) / tree.lengths)[open_parts(tree)]
    unit = 1 / float(f"{np.sqrt(ratio.min() * ratio.max()):.12g}")
    return Rounding(unit, cells, float(np.sqrt(ratio.max() / ratio.min())) - 1)


def as_rounding(tree: Tree, unit: float, cells: tuple[int, ...]) -> Rounding:
    """Return whole lengths with a unit, however they were chosen, and their worst error."""
    return Rounding(unit, cells, _error(tree.lengths / unit, np.array(cells), open_parts(tree)))


def open_parts(tree: Tree) -> NDArray[np.bool_]:
    """Return (edges,) whether a part's cells are open: all where every part's are set."""
    free = np.array([not cells for cells in tree.cells], dtype=bool)
    return free if free.any() else np.ones(len(tree.lengths), dtype=bool)


def with_set(lengths: NDArray[np.intp], tree: Tree) -> NDArray[np.intp]:
    """Return whole lengths with those that the figure sets."""
    if not any(tree.cells):
        return lengths
    wished = np.array(tree.cells, dtype=np.intp)
    taken: NDArray[np.intp] = np.where(wished > 0, wished, lengths)
    return taken


def least_cells(tree: Tree) -> NDArray[np.intp]:
    """Return the cells that each edge takes at least: one, and two for each pleat."""
    return 1 + 2 * np.array(tree.pleats or (0,) * len(tree.names), dtype=np.intp)


def whole(lengths: NDArray[np.float64], least: NDArray[np.intp] | int = 1) -> NDArray[np.intp]:
    """Round each length to the whole number nearest as a ratio, and no less than the least.

    Between k and k + 1 the balance is their geometric mean, sqrt(k (k + 1)).
    """
    low = np.maximum(np.floor(lengths * (1 + HOLDS)), 1)
    up = lengths > np.sqrt(low * (low + 1))
    nearest: NDArray[np.intp] = np.maximum(low + up, least).astype(np.intp)
    return nearest


def _error(
    asked: NDArray[np.float64], lengths: NDArray[np.intp], counted: NDArray[np.bool_]
) -> float:
    return float(np.exp(np.abs(np.log((lengths / asked)[counted])).max()) - 1)


def roundings(tree: Tree) -> tuple[Rounding, ...]:
    """Return the front of grid size against worst error: no coarser grid has a smaller error.

    Returns
    -------
    tuple of Rounding
        From the coarsest to the finest, each with a smaller error than all before.

    Raises
    ------
    FigureError
        Where the shortest part is so short that even a grid beyond folding shows it as none.
    """
    front: list[Rounding] = []
    for rounding in all_roundings(tree):
        if not front or rounding.error < front[-1].error - HOLDS:
            front.append(rounding)
        if rounding.error < HOLDS:
            break
    return tuple(front)


def all_roundings(tree: Tree) -> list[Rounding]:
    """Return every set of whole lengths that is the best for its own unit, the coarsest first."""
    lengths = tree.lengths
    finest = MOST_CELLS / float(tree.distances.max())
    k = np.arange(1, int(np.ceil(lengths.max() * finest)) + 2)
    breaks = np.unique((np.sqrt(k * (k + 1.0))[:, None] / lengths[None, :]).ravel())
    breaks = breaks[breaks < finest]
    ends = np.append(breaks, finest)
    middles = np.sqrt(np.append(ends[0] / 2, breaks) * ends)
    settled = sorted({_settled(tree, scale) for scale in middles.tolist()})
    choices = [
        Rounding(1 / scale, cells, error)
        for scale, error, cells in settled
        if scale <= finest * (1 + HOLDS)
    ]
    if not choices:
        shortest = float(tree.distances.max()) / (2 * MOST_CELLS)
        raise FigureError(
            f"{float(lengths.min()):g} is far below the cell of a grid of {MOST_CELLS} along the "
            f"longest path; write {shortest:.3g} or more, or give the cell with --unit",
            f"{_entry(tree, int(lengths.argmin()))}.length",
        )
    return choices


def _entry(tree: Tree, edge: int) -> str:
    """Return the line of the figure that an edge stands in."""
    return f"{'flaps' if edge < tree.n_tips else 'rivers'}.{tree.written[edge]}"


def _settled(tree: Tree, scale: float) -> tuple[float, float, tuple[int, ...]]:
    """Return (cells per unit of length, worst error, whole lengths) near a scale.

    Best scale for the whole lengths, best whole lengths for the scale, and so on: the error
    falls each time, until both fit each other.
    """
    lengths, counted = tree.lengths, open_parts(tree)
    cells = with_set(whole(lengths * scale, least_cells(tree)), tree)
    while True:
        ratio = (cells / lengths)[counted]
        scale = float(f"{np.sqrt(ratio.min() * ratio.max()):.12g}")
        again = with_set(whole(lengths * scale, least_cells(tree)), tree)
        if (again == cells).all():
            return scale, _error(lengths * scale, cells, counted), tuple(cells.tolist())
        cells = again


def knees(front: tuple[Rounding, ...], most: int = 6) -> tuple[Rounding, ...]:
    """Return the few roundings of a front that gain most for their size.

    A knee is a corner of the front's lower convex hull, drawn over log grid size and error:
    between two of them a finer grid gains less than the hull promises. Errors above `WORST_SHOWN`
    and finer grids than the first within `LEAST_SHOWN` are left out. Of more than `most` those
    stay that lie farthest from the line between their neighbours.
    """
    front = _worth_showing(front)
    points = [(-float(np.log(r.unit)), r.error) for r in front]
    hull: list[int] = []
    for k, (x, y) in enumerate(points):
        while len(hull) > 1:
            (a, b), (c, d) = points[hull[-2]], points[hull[-1]]
            if (c - a) * (y - b) - (d - b) * (x - a) > 0:
                break
            hull.pop()
        hull.append(k)
    while len(hull) > most:
        turns = [
            _turn(*(points[h] for h in hull[k - 1 : k + 2])) for k in range(1, len(hull) - 1)
        ]
        del hull[1 + int(np.argmin(turns))]
    return tuple(front[k] for k in hull)


def _worth_showing(front: tuple[Rounding, ...]) -> tuple[Rounding, ...]:
    good = [r for r in front if r.error <= WORST_SHOWN] or [front[-1]]
    close = [k for k, r in enumerate(good) if r.error <= LEAST_SHOWN]
    return tuple(good[: close[0] + 1] if close else good)


def _turn(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> float:
    return abs((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))
