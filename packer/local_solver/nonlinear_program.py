"""The nonlinear program of the tree method: variables, constraints and their one linear map.

Maximise m subject to |p_i - p_j| >= m d_ij for every pair of tips, tips in their ranges. All
coordinates come from the variables z by ``P[k, i] = sign[k, i] * z[index[k, i]] + offset[k, i]``:
a free tip owns two variables, a tip on a side or on a mirror axis one, a tip in a corner none,
and a mirrored twin shares those of its other. Flexible lengths are further variables w, in which
everything stays linear: the sheet length of edge e is ``m l_e + w_e``. Outside the local solver
they are given as changes of length, ``w / m``, in the figure's unit.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar

import numpy as np

from packer.local_solver.flexible_lengths import flexible

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from packer.model.problem import Problem, Range

T = TypeVar("T")

RangeChoice = tuple[int, ...]
"""For each tip, which of its ranges it lies in; twins under a symmetry choose the same."""


class MirrorLine(NamedTuple):
    """What a program of symmetric packings of equal flaps is made for, in place of a choice.

    Attributes
    ----------
    line
        0 for a line through the middles of two sides, 1 for a diagonal.
    on_line
        How many tips lie on it.
    """

    line: int
    on_line: int


@dataclass(frozen=True, eq=False)
class NonlinearProgram:
    """A problem with a range chosen for each tip, as arrays.

    Attributes
    ----------
    problem, choice
        What it was made from.
    sign, index, offset
        (2, tips) the linear map from z to coordinates; a fixed coordinate has sign 0.
    owner
        (z,) flat position in (2, tips) of a coordinate that each variable stands for.
    lower, upper
        (z,) bounds, in sheet units; lower < upper.
    first, second, distance
        (pairs,) the tips of each path and its length; of two mirror images only one is kept.
    bend
        (pairs, w) what each flexible variable adds to a path's slack: minus its share of the
        path.
    rows, row_scale
        (rows, z + w) and (rows,) further constraints ``rows @ (z, w) + row_offset + row_scale *
        m >= 0``: discs that stay on the sheet and the ends of each flex.
    row_offset
        (rows,)
    derived
        What was computed from the program once and is kept with it; see `kept_with`.
    """

    problem: Problem
    choice: RangeChoice | MirrorLine
    sign: NDArray[np.float64]
    index: NDArray[np.intp]
    offset: NDArray[np.float64]
    owner: NDArray[np.intp]
    lower: NDArray[np.float64]
    upper: NDArray[np.float64]
    first: NDArray[np.intp]
    second: NDArray[np.intp]
    distance: NDArray[np.float64]
    bend: NDArray[np.float64]
    rows: NDArray[np.float64]
    row_offset: NDArray[np.float64]
    row_scale: NDArray[np.float64]
    derived: dict[object, Any] = field(default_factory=dict, init=False, repr=False)

    @property
    def n_z(self) -> int:
        """How many coordinates are free."""
        return len(self.lower)

    @property
    def n_w(self) -> int:
        """How many lengths are free."""
        return int(self.bend.shape[1])

    def tips(self, z: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the (tips, 2) points of some variables."""
        points: NDArray[np.float64] = (self.sign * z[self.index] + self.offset).T.copy()
        return points

    def variables(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the (z,) variables nearest to (tips, 2) points, within their bounds."""
        flat = points.T.reshape(-1)[self.owner]
        return np.minimum(np.maximum(flat, self.lower), self.upper)

    def scale(self, z: NDArray[np.float64], change: NDArray[np.float64]) -> float:
        """Return the largest m that tips and changed lengths allow.

        Parameters
        ----------
        z
            (z,) coordinates.
        change
            (w,) changes of length, in the figure's unit; taken to be within their flex.
        """
        p = self.sign * z[self.index] + self.offset
        gap = p[:, self.first] - p[:, self.second]
        asked = self.distance - self.bend @ change if self.n_w else self.distance
        least = float((np.hypot(gap[0], gap[1]) / asked).min())
        disc = self.row_scale < 0
        if disc.any():
            rows = self.rows[disc]
            radius = -self.row_scale[disc] - rows[:, self.n_z :] @ change
            least = min(
                least, float(((rows[:, : self.n_z] @ z + self.row_offset[disc]) / radius).min())
            )
        return least

    def slack(
        self, z: NDArray[np.float64], change: NDArray[np.float64], scale: float
    ) -> NDArray[np.float64]:
        """Return (pairs,) how much longer than asked for at a scale the paths are.

        Parameters
        ----------
        z, change
            As for `scale`.
        scale
            Asked for.
        """
        p = self.sign * z[self.index] + self.offset
        gap = p[:, self.first] - p[:, self.second]
        asked = self.distance - self.bend @ change if self.n_w else self.distance
        slack: NDArray[np.float64] = np.sqrt(gap[0] * gap[0] + gap[1] * gap[1]) - scale * asked
        return slack


def kept_with(program: NonlinearProgram, make: Callable[[NonlinearProgram], T]) -> T:
    """Return what a function computes from a program: computed once and kept as long as it."""
    if make not in program.derived:
        program.derived[make] = make(program)
    made: T = program.derived[make]
    return made


def compile_program(problem: Problem, choice: RangeChoice) -> NonlinearProgram:
    """Make the arrays of a problem with the chosen range for each tip."""
    ranges = [options[k] for options, k in zip(problem.ranges, choice, strict=True)]
    first, second = _pairs(problem)
    sign, index, offset, owner, bounds = _coordinates(problem, ranges)
    lengths = flexible(problem.tree)
    bend = -lengths.share(problem.tree.beyond, first, second)
    rows, row_offset, row_scale = _margin_rows(
        problem, ranges, sign, index, offset, len(bounds)
    )
    own = -lengths.basis
    margin_tips = [tip for tip, box in enumerate(ranges) if box.margin > 0]
    rows = np.hstack([rows, np.repeat(own[margin_tips], 4, axis=0)])
    ends = np.hstack([np.zeros((len(lengths.ends), len(bounds))), lengths.ends])
    return NonlinearProgram(
        problem,
        choice,
        sign,
        index,
        offset,
        owner,
        bounds[:, 0].copy(),
        bounds[:, 1].copy(),
        first,
        second,
        problem.tree.distances[first, second],
        bend,
        np.vstack([rows, ends]),
        np.concatenate([row_offset, np.zeros(len(ends))]),
        np.concatenate([row_scale, lengths.end_scale]),
    )


def _pairs(problem: Problem) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Pairs i < j, without those whose mirror image comes earlier."""
    n = problem.tree.n_tips
    i, j = np.triu_indices(n, 1)
    a, b = problem.mirror[i], problem.mirror[j]
    image = np.minimum(a, b) * n + np.maximum(a, b)
    kept = i * n + j <= image
    return i[kept], j[kept]


def _coordinates(
    problem: Problem, ranges: list[Range]
) -> tuple[
    NDArray[np.float64],
    NDArray[np.intp],
    NDArray[np.float64],
    NDArray[np.intp],
    NDArray[np.float64],
]:
    n = len(ranges)
    sign, index, offset = np.zeros((2, n)), np.zeros((2, n), dtype=np.intp), np.zeros((2, n))
    bounds: list[tuple[float, float]] = []
    owner: list[int] = []

    def own(axis: int, tip: int, low: float, high: float) -> None:
        if low == high:
            offset[axis, tip] = low
        else:
            sign[axis, tip], index[axis, tip] = 1.0, len(bounds)
            bounds.append((low, high))
            owner.append(axis * n + tip)

    for tip, box in enumerate(ranges):
        twin = int(problem.mirror[tip])
        if twin < tip:
            swap = problem.symmetry == "diagonal"
            for axis in (0, 1):
                other = 1 - axis if swap else axis
                flip = -1.0 if axis == 0 and not swap else 1.0
                sign[axis, tip] = flip * sign[other, twin]
                index[axis, tip] = index[other, twin]
                offset[axis, tip] = flip * offset[other, twin]
            if not swap:
                offset[0, tip] += problem.sheet.width
            continue
        own(0, tip, *box.x)
        if box.on_axis and problem.symmetry == "diagonal":
            sign[1, tip], index[1, tip] = sign[0, tip], index[0, tip]
            offset[1, tip] = offset[0, tip]
        else:
            own(1, tip, *box.y)
    if (
        not bounds
    ):  # every tip is fixed: one variable that moves nothing, so that none is missing
        bounds, owner = [(0.0, 1.0)], [0]
    return sign, index, offset, np.array(owner, dtype=np.intp), np.array(bounds).reshape(-1, 2)


def _margin_rows(
    problem: Problem,
    ranges: list[Range],
    sign: NDArray[np.float64],
    index: NDArray[np.intp],
    offset: NDArray[np.float64],
    n_z: int,
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Four rows for each tip that keeps its own disc on the sheet: left, right, below, above."""
    rows, offsets, scales = [], [], []
    for tip, box in enumerate(ranges):
        if not box.margin > 0:
            continue
        for axis, side in ((0, problem.sheet.width), (1, problem.sheet.height)):
            for direction, wall in ((1.0, 0.0), (-1.0, side)):
                row = np.zeros(n_z)
                if sign[axis, tip]:
                    row[index[axis, tip]] = direction * sign[axis, tip]
                rows.append(row)
                offsets.append(wall + direction * offset[axis, tip])
                scales.append(-box.margin)
    return np.array(rows).reshape(len(rows), n_z), np.array(offsets), np.array(scales)
