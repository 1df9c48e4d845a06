"""Loose flaps: where to put them, and how much longer each could be for nothing.

Tips that no stressed path holds may move without any loss of scale. Here they move to where their
flaps could all grow longer at once, every flap a little before any one much, while the stressed
tips stay where they are. Growing pushes tips away from each other, into the middle of their clearance,
or to the edge of the sheet, where a flap has fewer layers.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING, Final

import numpy as np
from scipy.optimize import linprog
from scipy.sparse import csr_matrix

from packer.deadline import NEVER, Deadline
from packer.local_solver.nonlinear_program import compile_program
from packer.model.river_connectivity import split_rivers
from packer.units import ON_EDGE

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.local_solver.nonlinear_program import RangeChoice
    from packer.model.packing import Packing

    Floats = NDArray[np.float64]
    Terms = tuple[NDArray[np.intp], NDArray[np.intp], Floats]
    """Rows, of each a tip, and (k, 2) the direction in which its moves give the row room."""

CLEAR: Final = 1e-8
"""Share of a distance by which moved tips stay clear of it, so that rounding costs no scale."""

FEASIBLE: Final = 1e-10
"""Share of the sheet's shorter side by which a row of a linear program may be broken."""

TIGHTEST: Final = 20
"""Rows of each loose flap, those of least room, that a linear program begins with.

Others are added where its solution breaks them, which is seldom: of 271 loose flaps, 4000 of 44,000 rows
give the same in a tenth of the time.
"""


@dataclass(frozen=True)
class RattlerParams:
    """Parameters of where loose tips are put; none of them was varied.

    Attributes
    ----------
    worth
        Pairs of a share of a flap's length and the worth of growing by it, one after another: the
        worth falls, so that every flap grows a little before any one grows much.
    step
        Farthest move along an axis in one linear program, as a share of the sheet's shorter side.
    steps
        Linear programs at most.
    settled
        Rise of the summed worth below which the tips have settled.
    """

    worth: tuple[tuple[float, float], ...] = (
        *((0.05, 1.0), (0.05, 0.5), (0.1, 0.25)),
        *((0.2, 0.12), (0.4, 0.06), (np.inf, 0.03)),
    )
    step: float = 0.1
    steps: int = 40
    settled: float = 1e-5


DEFAULT: Final = RattlerParams()
"""Those in use."""


def place_loose(
    packing: Packing, deadline: Deadline = NEVER, params: RattlerParams = DEFAULT
) -> Packing:
    """Return the packing with its loose tips moved and its slack filled in.

    The scale does not fall and no more rivers are split than before. The slacks hold together:
    all loose flaps may be longer by theirs at once.

    Parameters
    ----------
    packing
        With its stress; one without any is returned as it is.
    deadline
        When the tips are left where they are by then; their slack is told all the same.
    params
        How far and for how long tips are moved, and what their growth is worth.
    """
    if not packing.stress:
        return packing
    growing = _Growth(packing, params)
    if not growing.groups:
        return replace(packing, slack=())
    points = growing.spread(deadline)
    moved = replace(packing, tips=tuple((x, y) for x, y in points.tolist()))
    split = split_rivers(packing.problem, points)
    if moved.violations() or len(split) > len(packing.split_rivers):
        return replace(packing, slack=growing.slack(packing.points))
    return replace(moved, slack=growing.slack(points), split_rivers=split)


class _Growth:
    """The linear programs of one packing's loose tips, in units of the sheet's shorter side."""

    def __init__(self, packing: Packing, params: RattlerParams) -> None:
        self.packing = packing
        self.params = params
        problem, tree = packing.problem, packing.tree
        self.unit = min(packing.sheet.width, packing.sheet.height)
        self.program = compile_program(problem, _choice(packing))
        held = {tip for i, j, _ in packing.stress for tip in (i, j)}
        loose = [tip for tip in range(tree.n_tips) if tip not in held]
        # twins grow together
        self.groups = [tip for tip in loose if tip <= problem.mirror[tip]]
        self.group = np.full(tree.n_tips, -1)
        for k, tip in enumerate(self.groups):
            self.group[[tip, int(problem.mirror[tip])]] = k
        self.length = np.array(packing.lengths)[: tree.n_tips]
        self.free = np.zeros(self.program.n_z, bool)
        for axis in (0, 1):
            own = (self.group >= 0) & (self.program.sign[axis] != 0)
            self.free[self.program.index[axis, own]] = True
        i, j = self.program.first, self.program.second
        kept = (self.group[i] >= 0) | (self.group[j] >= 0)
        self.pairs = i[kept], j[kept]

    def spread(self, deadline: Deadline) -> Floats:
        """Return (tips, 2) points after moving the loose ones, as far as they come in time."""
        points = self.packing.points.copy()
        worth = -np.inf
        for _ in range(self.params.steps):
            if deadline.over:
                break
            solved = self._solve(points, self.params.step, deadline)
            if solved is None or not solved[2] > worth + self.params.settled:
                break
            if self._least_ratio(solved[0]) < self.packing.scale:
                break
            points, _, worth = solved
        return points

    def slack(self, points: Floats) -> tuple[tuple[int, float], ...]:
        """Return how much longer each loose flap may be, in the figure's unit."""
        solved = self._solve(points, 0.0)
        growth = np.zeros(len(self.groups)) if solved is None else solved[1]
        growth = self._corrected(points, growth)
        return tuple(
            (tip, float(growth[k])) for tip, k in enumerate(self.group.tolist()) if k >= 0
        )

    def _gaps(self, points: Floats) -> Floats:
        i, j = self.pairs
        gaps: Floats = np.hypot(*(points[i] - points[j]).T)
        return gaps

    def _least_ratio(self, points: Floats) -> float:
        return float((self._gaps(points) / self.packing.distances[self.pairs]).min())

    def _corrected(self, points: Floats, growth: Floats) -> Floats:
        """Take from growths what the linear program's tolerance gave too much."""
        i, j = self.pairs
        each = np.append(growth, 0.0)
        grown = self.packing.distances[i, j] + each[self.group[i]] + each[self.group[j]]
        over = np.maximum(grown - self._gaps(points) / self.packing.scale, 0.0)
        for tips in (i, j):
            np.maximum.at(taken := np.zeros(len(each)), self.group[tips], over)
            each = each - taken
        return np.maximum(each[:-1] * (1 - 1e-12), 0.0)

    def _solve(
        self, points: Floats, step: float, deadline: Deadline = NEVER
    ) -> tuple[Floats, Floats, float] | None:
        """Solve one linear program about some points: (points, growths, summed worth)."""
        program, n = self.program, self.program.n_z
        z = program.variables(points)
        groups, shares = len(self.groups), len(self.params.worth)
        move = np.where(self.free, step * self.unit, 0.0)
        low = np.maximum(program.lower, z - move) / self.unit
        high = np.maximum(low, np.minimum(program.upper, z + move) / self.unit)
        widths, worths = np.array(self.params.worth).T
        rows, limits = self._rows(points / self.unit, z / self.unit, step)
        used = self._tightest(rows, limits - rows[:, :n] @ (z / self.unit))
        while True:
            solved = linprog(
                np.r_[np.zeros(n), np.tile(-worths, groups)],
                A_ub=rows[used],
                b_ub=limits[used],
                bounds=np.column_stack(
                    [
                        np.r_[low, np.zeros(groups * shares)],
                        np.r_[high, np.tile(widths, groups)],
                    ]
                ),
                method="highs",
                options={
                    "primal_feasibility_tolerance": FEASIBLE,
                    "time_limit": deadline.left,
                },
            )
            if not solved.success:
                return None
            broken = ~used & (rows @ solved.x > limits + FEASIBLE)
            if not broken.any():
                break
            used |= broken
        share = solved.x[n:].reshape(groups, shares).sum(axis=1)
        growth = share * self.length[self.groups]
        ends = np.where(self.free, solved.x[:n] * self.unit, z)
        return program.tips(ends), growth, float(-solved.fun)

    def _tightest(self, rows: csr_matrix, room: Floats) -> NDArray[np.bool_]:
        """Return (rows,) whether each is among the `TIGHTEST` of least room of one of its flaps."""
        tight = np.zeros(len(room), dtype=bool)
        grown = rows[:, self.program.n_z :: len(self.params.worth)].tocsc()
        for first, last in pairwise(grown.indptr):
            own = grown.indices[first:last]
            tight[own[np.argsort(room[own], kind="stable")[:TIGHTEST]]] = True
        return tight

    def _rows(self, p: Floats, z: Floats, step: float) -> tuple[csr_matrix, Floats]:
        """Return rows and limits, ``rows @ variables <= limits``; variables are z, then shares of growth."""
        program, m = self.program, self.packing.scale / self.unit
        shares = np.arange(len(self.params.worth))
        terms, limits = self._terms(p, m, step)
        entries = []
        for row, tip, way in terms:
            for axis in (0, 1):
                factor = way[:, axis] * program.sign[axis, tip]
                (used,) = factor.nonzero()
                column = program.index[axis, tip[used]]
                limits[row[used]] -= factor[used] * z[column]
                entries.append((row[used], column, -factor[used]))
            # a growth is the sum of its shares, in lengths of the flap
            column = program.n_z + self.group[tip][:, None] * len(shares) + shares
            grown = np.repeat(m * self.length[tip], len(shares))
            entries.append((np.repeat(row, len(shares)), column.ravel(), grown))
        rows, columns, values = map(np.concatenate, zip(*entries, strict=True))
        size = program.n_z + len(self.groups) * len(shares)
        return csr_matrix((values, (rows, columns)), shape=(len(limits), size)), limits

    def _terms(self, p: Floats, m: float, step: float) -> tuple[list[Terms], Floats]:
        """Return what rows are made of, and the room of each: pairs first, then discs on the sheet.

        The sum of the growths of a row's tips, at the scale, is at most its room and the way that they move along
        their directions.
        """
        i, j = self.pairs
        d = self.packing.distances[i, j]
        gap = p[i] - p[j]
        far = np.hypot(*gap.T)
        clear = np.minimum(far, m * d * (1 + CLEAR)) if step else m * d
        way = gap / far[:, None]
        first, second = self.group[i] >= 0, self.group[j] >= 0
        row = np.arange(len(i))
        terms = [(row[first], i[first], way[first]), (row[second], j[second], -way[second])]
        rooms = [far - clear]
        ranges, choice = self.packing.problem.ranges, self.program.choice
        tips = np.array(
            [t for t in self.groups if ranges[t][choice[t]].margin > 0], dtype=np.intp
        )
        sides = (self.packing.sheet.width / self.unit, self.packing.sheet.height / self.unit)
        for axis in (0, 1):
            for sign, wall in ((1.0, 0.0), (-1.0, sides[axis])):
                room = wall + sign * p[tips, axis] - m * self.length[tips]
                fixed = self.program.sign[axis, tips] == 0
                row = sum(map(len, rooms)) + np.arange(len(tips))
                terms.append((row, tips, np.tile(sign * np.eye(2)[axis], (len(tips), 1))))
                rooms.append(np.where(fixed, np.maximum(room, 0.0), room))
        return terms, np.concatenate(rooms)


def _choice(packing: Packing) -> RangeChoice:
    """Return for each tip the first of its ranges that holds it; twins take the same."""
    tolerance = ON_EDGE * min(packing.sheet.width, packing.sheet.height)
    choices: list[int] = []
    for tip, ranges in enumerate(packing.problem.ranges):
        twin = int(packing.problem.mirror[tip])
        if twin < tip:
            choices.append(choices[twin])
            continue
        x, y = packing.tips[tip]
        away = [
            max(box.x[0] - x, x - box.x[1], box.y[0] - y, y - box.y[1]) <= tolerance
            for box in ranges
        ]
        choices.append(away.index(True) if True in away else 0)
    return tuple(choices)
