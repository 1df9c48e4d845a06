"""The grid problem: a figure on its sheet with whole lengths, and the grids to choose from."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from packer.errors import FigureError, OptionError, SheetError
from packer.grid.board import Board, board_of
from packer.model.parts import MOST_CELLS
from packer.units import HOLDS

if TYPE_CHECKING:
    from packer.grid.board import Size
    from packer.grid.rounding import Rounding
    from packer.model.problem import Problem


@dataclass(frozen=True)
class GridRequest:
    """Which grid is asked for; what is left open is chosen.

    Attributes
    ----------
    unit
        Length of the figure that is one cell; by default as `packer.grid.proposals.chosen`.
    error
        Worst error of a rounded length, as a fraction.
    side
        Cells across, where only the other side is to be least.
    cells
        The one grid to use (across, up), instead of looking for the least.
    """

    unit: float | None = None
    error: float | None = None
    side: int | None = None
    cells: Size | None = None


@dataclass(frozen=True)
class GridProblem:
    """A figure in whole cells, to be packed on the smallest of some grids.

    Attributes
    ----------
    problem
        The figure on its sheet.
    rounding
        The unit and the whole lengths.
    sizes
        Grids (cells across, cells up), each holding the ones before.
    """

    problem: Problem
    rounding: Rounding
    sizes: tuple[Size, ...]

    @property
    def monotone(self) -> bool:
        """Whether a grid that holds the figure has larger ones that do: no fixed points."""
        places = self.problem.tree.places
        return not any(isinstance(place, tuple) for wishes in places for place in wishes)

    def board(self, k: int) -> Board:
        """Return the k-th grid with its rules."""
        return self.on(self.sizes[k])

    def on(self, size: Size) -> Board:
        """Return any grid with its rules."""
        return board_of(self.problem, self.rounding.lengths, size)


def pose_on_grid(
    problem: Problem,
    rounding: Rounding,
    *,
    side: int | None = None,
    cells: Size | None = None,
) -> GridProblem:
    """Put a rounded figure on a grid.

    Parameters
    ----------
    problem
        The figure on its sheet; the sheet's ratio gives that of the grid.
    rounding
        The whole lengths.
    side
        Cells across, where that is given and only the other side is to be least.
    cells
        The one grid to be used, where both are given.

    Raises
    ------
    OptionError, FigureError
        Where side and cells are no grid, or a placement fits on none of the grids.
    """
    if side is not None and cells is not None:
        raise OptionError("give either one side or both, not both options", "side")
    for number in (*(cells or ()), *((side,) if side is not None else ())):
        if not 1 <= number <= 4 * MOST_CELLS:
            raise OptionError(
                f"{number} cells are no grid; write a whole number from 1 to {4 * MOST_CELLS}",
                "cells" if cells else "side",
            )
    if cells is not None:
        sizes: tuple[Size, ...] = (cells,)
    elif side is not None:
        sizes = tuple((side, up) for up in range(1, 4 * MOST_CELLS + 1))
    else:
        sizes = sizes_of(problem.sheet.width, problem.sheet.height, 4 * MOST_CELLS)
    if problem.symmetry == "diagonal":
        sizes = tuple(size for size in sizes if size[0] == size[1])
        if not sizes or side is not None:
            raise OptionError(
                "diagonal symmetry needs as many cells across as up; leave the side open or "
                "choose book symmetry",
                "side" if side is not None else "cells",
            )
    on_grid = GridProblem(problem, rounding, sizes)
    _check_lines(problem)
    _check_placements(on_grid)
    return on_grid


def sizes_of(width: float, height: float, most: int) -> tuple[Size, ...]:
    """Return the grids of whole square cells on a rectangle, up to `most` cells along a side.

    The cell shrinks from one grid to the next; each divides one side of the rectangle exactly,
    and what is left of the other, less than a cell, is cut away.

    >>> sizes_of(1, 1.5, 4)
    ((1, 1), (1, 2), (2, 3), (2, 4), (3, 4))

    Raises
    ------
    SheetError
        Where one side is more than `most` times the other.
    """
    cells = {side / k for side in (width, height) for k in range(1, most + 1)}
    sizes: dict[Size, None] = {}
    for cell in sorted(cells, reverse=True):
        size = math.floor(width / cell * (1 + HOLDS)), math.floor(height / cell * (1 + HOLDS))
        if min(size) >= 1 and max(size) <= most:
            sizes[size] = None
    if not sizes:
        raise SheetError(
            f"one side is {max(width, height) / min(width, height):.0f} times the other, and a "
            f"grid has at most {most} cells along a side; take a wider sheet",
            "sheet",
        )
    return tuple(sizes)


def _check_lines(problem: Problem) -> None:
    """Refuse a line across a diagonal mirror line: it would not be its own image."""
    widths = problem.tree.widths if problem.symmetry == "diagonal" else ()
    for tip, width in enumerate(widths):
        if width and problem.mirror[tip] == tip:
            raise FigureError(
                "a tip on a diagonal mirror line cannot be wide, as no line of cells is its own "
                "mirror image; choose book symmetry, or leave the width out",
                f"flaps.{problem.tree.written[tip]}.width",
            )


def _check_placements(grid: GridProblem) -> None:
    board = grid.board(len(grid.sizes) - 1)
    for tip, boxes in enumerate(board.boxes):
        if not boxes:
            across, up = board.size
            raise FigureError(
                f"no grid point of {across} x {up} cells is at its place and "
                f"{grid.rounding.lengths[tip]} cells from the edges; allow it another place or a "
                "larger grid",
                f"flaps.{board.names[tip]}.place",
            )
