"""Which length is one cell: grid size against worst error, and a default between them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.deadline import NEVER
from packer.errors import OptionError
from packer.grid.grid_problem import pose_on_grid, sizes_of
from packer.grid.lower_bounds import smallest_left
from packer.grid.neighbourhood_search import NeighbourhoodSearch
from packer.grid.rounding import (
    WORST_SHOWN,
    Rounding,
    knees,
    rounded,
    roundings,
)
from packer.model.parts import MOST_CELLS
from packer.units import HOLDS

if TYPE_CHECKING:
    from packer.deadline import Deadline
    from packer.grid.board import Size
    from packer.model.problem import Problem

BY_HAND: Final = (16, 48)
"""Cells along a side that are folded by hand: halving or thirds give 16, 24, 32 and 48. Common
practice; fewer hold few features, more take days or a scoring plotter."""

FINEST: Final = 96
"""Cells along a side that are folded at all, unless a unit or an error is asked for: twice as many."""

STILL_ALIKE: Final = 0.25
"""Worst error that is taken by default: beyond it, a limb of three parts has become four."""

UNSEEN: Final = 0.05
"""Error that nobody sees on folded paper, so that less of it is worth no larger grid."""


@dataclass(frozen=True)
class Proposal:
    """A unit to choose from.

    Attributes
    ----------
    rounding
        The unit with its whole lengths and worst error.
    least
        The smallest grid of the sheet's ratio that neither counting nor area proves too small.
    """

    rounding: Rounding
    least: Size


def proposals(problem: Problem, taken: Rounding | None = None) -> tuple[Proposal, ...]:
    """Return the few units of a figure that gain most for their size, the coarsest first.

    The one taken, where given, is among them.
    """
    few = {r.lengths: r for r in knees(roundings(problem.tree))}
    if taken is not None:
        few[taken.lengths] = taken
    return tuple(proposal(problem, r) for r in sorted(few.values(), key=lambda r: -r.unit))


def proposal(problem: Problem, rounding: Rounding) -> Proposal:
    """Return whole lengths with the grid that they need at least."""
    sizes = sizes_of(problem.sheet.width, problem.sheet.height, 4 * MOST_CELLS)
    first, _ = smallest_left(sizes, problem.tree, rounding.lengths)
    return Proposal(rounding, sizes[min(first, len(sizes) - 1)])


def fits(problem: Problem, rounding: Rounding, most: int, deadline: Deadline = NEVER) -> bool:
    """Return whether a greedy filling needs at most so many cells along the longer side.

    The search finds as many or fewer, at most a sixth fewer on the samples, and takes far longer.
    False as well where time ends first.
    """
    search = NeighbourhoodSearch(pose_on_grid(problem, rounding), 0, np.inf)
    search.bound_by_counting()
    ended = any(max(size) > most or deadline.over for size in search.fillings())
    return not ended and search.upper is not None


def by_hand(
    problem: Problem, front: tuple[Rounding, ...], deadline: Deadline = NEVER
) -> dict[Rounding, int]:
    """Return those of a front that are still alike and fit a grid folded by hand.

    With each goes the number of cells that it needs at least. Grids of fewer cells than usual count
    where there is no other. None is looked at once time is up.
    """
    cells_of: dict[Rounding, int] = {}
    for rounding in front:
        if deadline.over:
            break
        cells = max(proposal(problem, rounding).least)
        if cells > BY_HAND[1]:
            break
        if rounding.error <= STILL_ALIKE and fits(problem, rounding, BY_HAND[1], deadline):
            cells_of[rounding] = cells
    return {r: cells for r, cells in cells_of.items() if cells >= BY_HAND[0]} or cells_of


def chosen(
    problem: Problem,
    unit: float | None = None,
    error: float | None = None,
    deadline: Deadline = NEVER,
) -> Rounding:
    """Return the whole lengths to pack.

    Parameters
    ----------
    problem
        The figure on its sheet.
    unit
        Length of the figure that is one cell. By default the coarsest that keeps every length
        within the error. Where that is open too, the best bargain of those `by_hand`: that with
        least cells x (error + `UNSEEN`), so that a grid twice as fine must halve the error as long
        as it shows. Where there is none, the coarsest that is still alike, or else the best bargain
        of a finer grid.
    error
        Worst error allowed, as a fraction.
    deadline
        Where it comes before a unit is chosen, the best bargain of those looked at by then; where
        there is none, the coarsest that is still alike, if grids of its size are folded at all, or
        else the coarsest.

    Raises
    ------
    OptionError
        Where no unit keeps within the error asked for.
    """
    if error is not None and not (np.isfinite(error) and error >= 0):
        raise OptionError(f"{error:g} is no error; write a fraction such as 0.1", "error")
    if unit is not None:
        rounding = rounded(problem.tree, unit)
        if error is not None and rounding.error > error + HOLDS:
            raise OptionError(
                f"a unit of {unit:g} makes a length {rounding.error:.1%} wrong, and {error:.1%} is "
                "allowed; allow more or leave the unit open",
                "unit",
            )
        return rounding
    front = roundings(problem.tree)
    if error is not None:
        return _within(front, error)
    usual = by_hand(problem, front, deadline)
    if usual:
        return min(usual, key=lambda rounding: usual[rounding] * (rounding.error + UNSEEN))
    return _finer(problem, front, deadline)


def _finer(problem: Problem, front: tuple[Rounding, ...], deadline: Deadline) -> Rounding:
    """Return the best bargain of those that need a finer grid than is usual.

    Of those that are still alike the coarsest; where there is none, that with the least cells x
    (error + `UNSEEN`) of those shown at all, or else the coarsest of the front.
    """
    shown: dict[Rounding, int] = {}
    for rounding in front:
        if deadline.over:
            return _unfilled(problem, front)
        cells = max(proposal(problem, rounding).least)
        if cells > FINEST:
            break
        if rounding.error <= WORST_SHOWN and fits(problem, rounding, FINEST, deadline):
            if rounding.error <= STILL_ALIKE:
                return rounding
            shown[rounding] = cells
    return min(shown, key=lambda r: shown[r] * (r.error + UNSEEN), default=front[0])


def _unfilled(problem: Problem, front: tuple[Rounding, ...]) -> Rounding:
    """Return the coarsest that is still alike, unless its grid is proven too fine; else the coarsest."""
    alike = next((r for r in front if r.error <= STILL_ALIKE), front[0])
    return alike if max(proposal(problem, alike).least) <= FINEST else front[0]


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
