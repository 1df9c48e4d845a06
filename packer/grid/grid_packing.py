"""The grid packing: whole lengths, tips on grid points, and what follows from them."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from packer.errors import PackingError
from packer.grid.board import Board, board_of
from packer.model.packing import Kind, SearchRecord, kind_of
from packer.model.sheet import Sheet
from packer.model.tree import node_distances
from packer.notebook import svg_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.grid.board import Size
    from packer.model.figure import Figure
    from packer.model.problem import Problem
    from packer.model.sheet import Point
    from packer.model.tree import Tree

_KINDS: Final[tuple[Kind, ...]] = ("corner", "edge", "middle")
"""From the least paper to the most: a line is as its end with the least."""

Status = Literal["proven least", "best found", "fits the grid asked for"]


@dataclass(frozen=True)
class GridBound:
    """The smallest grid that is not proven too small, and the rule that proved the rest so."""

    cells: Size
    rule: str


@dataclass(frozen=True)
class GridPacking:
    """A square packing on a grid: max(|dx|, |dy|) >= d_ij whole cells for all pairs of tips.

    Parameters
    ----------
    problem
        The figure, sheet and symmetry it answers.
    unit
        Length of the figure that is one cell.
    rounded
        Whole cells for each of ``problem.tree.names``: the lengths asked, in units, rounded.
    cells
        Cells across and up.
    tips
        For each of ``problem.tree.flaps`` its place in cells, lower left origin, y up. Whole
        numbers, but for the middle of a line of an odd number of cells, and for the column of a
        *blunt* tip, one cell wide on the mirror line of an odd number of cells.
    lengths
        Whole cells used, `rounded` or longer where slack was given away.
    root
        The joint from which rivers and creases are laid out.
    split_rivers
        Rivers that the paper holds in more than one strand, seen from the root.
    bound
        The smallest grid not proven too small; None where one grid was asked for.
    search
        How it was found.
    upright
        For each tip whether its line stands upright, where flaps have widths; empty where all lie
        or none has.

    Raises
    ------
    PackingError
        Where the numbers do not fit the figure.
    """

    problem: Problem
    unit: float
    rounded: tuple[int, ...]
    cells: Size
    tips: tuple[Point, ...]
    lengths: tuple[int, ...] = ()
    root: str = ""
    split_rivers: tuple[str, ...] = ()
    bound: GridBound | None = None
    search: SearchRecord = field(default_factory=SearchRecord)
    upright: tuple[bool, ...] = ()

    def __post_init__(self) -> None:
        tree = self.problem.tree
        if not self.lengths:
            object.__setattr__(self, "lengths", self.rounded)
        if not self.root:
            object.__setattr__(self, "root", tree.joints[self._centre()])
        parts = len(tree.names)
        if (
            not len(self.tips) == tree.n_tips
            or not len(self.rounded) == len(self.lengths) == parts
        ):
            raise PackingError(
                f"{len(self.tips)} tips and {len(self.lengths)} lengths do not fit a figure of "
                f"{tree.n_tips} flaps and {len(tree.rivers)} rivers; pack the figure again"
            )
        if self.root not in tree.joints:
            raise PackingError(
                f'"{self.root}" is no joint of the figure; pack it again', "root"
            )
        if not self.unit > 0 or min(self.cells) < 1 or min(self.rounded) < 1:
            raise PackingError(
                "unit, cells and lengths of a grid are above zero; pack it again"
            )
        if any(used < asked for used, asked in zip(self.lengths, self.rounded, strict=True)):
            raise PackingError("a length used is shorter than the rounded one; pack it again")

    def _centre(self) -> int:
        """Index of the joint that is nearest to its farthest tip."""
        tree = self.problem.tree
        far = node_distances(tree, np.array(self.lengths, float))[tree.n_tips :, : tree.n_tips]
        return int(np.argmin(far.max(axis=1)))

    @property
    def figure(self) -> Figure:
        """The figure as written."""
        return self.problem.figure

    @property
    def tree(self) -> Tree:
        """The figure with its twins written out; its order is that of all arrays here."""
        return self.problem.tree

    @property
    def symmetry(self) -> str:
        """The symmetry packed under."""
        return self.problem.symmetry

    @cached_property
    def board(self) -> Board:
        """The grid with its rules, for the lengths used."""
        return board_of(self.problem, self.lengths, self.cells, self.upright)

    @cached_property
    def places(self) -> tuple[tuple[int, int], ...]:
        """The grid point of each tip; of a line or a blunt one its lower left end."""
        return tuple(
            (int(np.floor(x - across / 2)), int(np.floor(y - up / 2)))
            for (x, y), (across, up) in zip(self.tips, self.board.extent.tolist(), strict=True)
        )

    @property
    def lines(self) -> tuple[tuple[Point, Point], ...]:
        """The two ends of each tip in cells: the same point twice but for lines and blunt tips."""
        return tuple(
            ((x - across / 2, y - up / 2), (x + across / 2, y + up / 2))
            for (x, y), (across, up) in zip(self.tips, self.board.extent.tolist(), strict=True)
        )

    @cached_property
    def points(self) -> NDArray[np.float64]:
        """(tips, 2) the tips in sheet units."""
        points = np.array(self.tips, dtype=float) * self.cell
        points.setflags(write=False)
        return points

    @property
    def cell(self) -> float:
        """Side of a cell in sheet units: the largest of which the sheet holds all."""
        return min(
            self.problem.sheet.width / self.cells[0], self.problem.sheet.height / self.cells[1]
        )

    @property
    def cell_mm(self) -> float | None:
        """Side of a cell in mm; None where the sheet is only a ratio."""
        per_unit = self.problem.sheet.mm_per_unit
        return None if per_unit is None else self.cell * per_unit

    @property
    def sheet(self) -> Sheet:
        """The paper that the cells cover; what the sheet has more is cut away."""
        across, up = self.cells
        return Sheet(across * self.cell, up * self.cell, self.problem.sheet.unit)

    @property
    def scale(self) -> float:
        """Sheet length per unit of the figure's length, as far as whole cells keep it."""
        return self.cell / self.unit

    @property
    def least_scale(self) -> float:
        """The scale of the flap or river that rounding has made the shortest for its length."""
        return float((np.array(self.lengths) / self.tree.lengths).min()) * self.cell

    @property
    def errors(self) -> dict[str, float]:
        """How far each rounded length strays from the one asked, as a fraction, by name."""
        asked = self.tree.lengths / self.unit
        off = np.array(self.rounded) / asked - 1
        return dict(zip(self.tree.names, off.tolist(), strict=True))

    @property
    def kinds(self) -> dict[str, Kind]:
        """For each flap whether its tip lies in a corner, on an edge or in the middle."""
        grid = Sheet(float(self.cells[0]), float(self.cells[1]))
        ends = dict(zip(self.tree.flaps, self.lines, strict=True))
        return {
            name: min((kind_of(grid, one), kind_of(grid, two)), key=_KINDS.index)
            for name, (one, two) in ends.items()
        }

    @property
    def status(self) -> Status:
        """What is known about the size of the grid."""
        if self.bound is None:
            return "fits the grid asked for"
        return "proven least" if self.bound.cells == self.cells else "best found"

    @property
    def rivers_whole(self) -> bool:
        """Whether the paper holds every river in one piece."""
        return not self.split_rivers

    def _repr_svg_(self) -> str | None:
        return svg_of(self)

    def violations(self) -> list[str]:
        """Recompute everything and return a sentence for each thing that does not hold."""
        off = [
            f'"{name}" lies between grid points at {x:g}, {y:g}'
            for name, (x, y), ((left, low), _) in zip(
                self.tree.flaps, self.tips, self.lines, strict=True
            )
            if left % 1 or low % 1
        ]
        across, up = self.cells
        off += [
            f'"{name}" lies off the grid at {x:g}, {y:g}'
            for name, (x, y), (low, high) in zip(
                self.tree.flaps, self.tips, self.lines, strict=True
            )
            if not (min(low) >= 0 and high[0] <= across and high[1] <= up)
        ]
        return off or self.board.violations(self.places)
