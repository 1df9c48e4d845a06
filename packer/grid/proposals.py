"""Which unit to take: grid size against worst error, and a sensible choice between them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.errors import OptionError
from packer.grid.board import board_of
from packer.grid.bounds import counted, too_small
from packer.grid.posing import sizes_of
from packer.grid.rounding import MOST_CELLS, Rounding, knees, rounded, roundings
from packer.units import HOLDS

if TYPE_CHECKING:
    from packer.grid.board import Size
    from packer.problem import Problem

ASKED_ERROR: Final = 0.15
"""Worst error that is taken without a word: an eye sees a sixth, hardly less."""

FINEST_USUAL: Final = 64
"""Cells along a side above which an exact choice of lengths is no longer worth the folding."""


@dataclass(frozen=True)
class Proposal:
    """A unit that is worth a thought.

    Attributes
    ----------
    rounding
        The unit with its whole lengths and worst error.
    least
        The smallest grid of the sheet's ratio that counting does not prove too small.
    """

    rounding: Rounding
    least: Size


def proposals(problem: Problem) -> tuple[Proposal, ...]:
    """Return the few units of a figure that gain most for their size, the coarsest first."""
    return tuple(_proposal(problem, r) for r in knees(roundings(problem.tree)))


def chosen(problem: Problem, unit: float | None = None, error: float | None = None) -> Rounding:
    """Return the whole lengths to pack.

    Parameters
    ----------
    problem
        The figure on its sheet.
    unit
        Length of the figure that is one cell. By default the coarsest that keeps every length
        within the error.
    error
        Worst error allowed, as a fraction; by default `ASKED_ERROR`, or more where that would
        need more than `FINEST_USUAL` cells along a side.

    Raises
    ------
    OptionError
        Where no unit keeps within the error asked for.
    """
    if error is not None and not (np.isfinite(error) and error >= 0):
        raise OptionError(f"{error:g} is no error; write a fraction such as 0.1", "error")
    if unit is not None:
        found = rounded(problem.tree, unit)
        if error is not None and found.error > error + HOLDS:
            raise OptionError(
                f"a unit of {unit:g} makes a length {found.error:.1%} wrong, and {error:.1%} is "
                "allowed; allow more or leave the unit open",
                "unit",
            )
        return found
    front = roundings(problem.tree)
    if error is not None:
        return _within(front, error)
    usual = [r for r in front if max(_proposal(problem, r).least) <= FINEST_USUAL]
    close = [r for r in usual if r.error <= ASKED_ERROR]
    return (close or usual[-1:] or list(front))[0]


def _within(front: tuple[Rounding, ...], error: float) -> Rounding:
    for rounding in front:
        if rounding.error <= error + HOLDS:
            return rounding
    best = front[-1].error
    raise OptionError(
        f"no grid keeps every length within {error:.1%}: with {MOST_CELLS} cells along the longest "
        f"path the worst is {best:.1%}; allow {np.ceil(best * 1000) / 1000:.3f} or more, or make "
        "the lengths rounder",
        "error",
    )


def _proposal(problem: Problem, rounding: Rounding) -> Proposal:
    sizes = sizes_of(problem.sheet.width, problem.sheet.height, 4 * MOST_CELLS)
    counts = counted(board_of(problem, rounding.lengths, sizes[0]).distances)
    return Proposal(rounding, next(size for size in sizes if not too_small(size, counts)))
