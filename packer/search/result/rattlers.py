"""Loose flaps: where to put them, and how much longer each could be for nothing.

Tips that no stressed path holds may move without any loss of scale. Here they move to where their
flaps could all grow longer at once, every flap a little before any one much, while the stressed
tips stay where they are. Growing pushes tips away from each other, into the middle of their clearance,
or to the edge of the sheet, where a flap has fewer layers.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np
from scipy.optimize import linprog
from scipy.sparse import coo_matrix

from packer.local_solver.nonlinear_program import compile_program
from packer.model.river_connectivity import split_rivers
from packer.units import ON_EDGE

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.local_solver.nonlinear_program import RangeChoice
    from packer.model.packing import Packing

    Floats = NDArray[np.float64]
    Entries = list[tuple[int, int, float]]

CLEAR: Final = 1e-8
"""Share of a distance by which moved tips stay clear of it, so that rounding costs no scale."""


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


def place_loose(packing: Packing, params: RattlerParams = DEFAULT) -> Packing:
    """Return the packing with its loose tips moved and its slack filled in.

    The scale does not fall and no more rivers are split than before. The slacks hold together:
    all loose flaps may be longer by theirs at once.

    Parameters
    ----------
    packing
        With its stress; one without any is returned as it is.
    params
        How far and for how long tips are moved, and what their growth is worth.
    """
    if not packing.stress:
        return packing
    growing = _Growth(packing, params)
    if not growing.groups:
        return replace(packing, slack=())
    points = growing.spread()
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

    def spread(self) -> Floats:
        """Return (tips, 2) points after moving the loose ones."""
        points = self.packing.points.copy()
        worth = -np.inf
        for _ in range(self.params.steps):
            solved = self._solve(points, self.params.step)
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

    def _solve(self, points: Floats, step: float) -> tuple[Floats, Floats, float] | None:
        """Solve one linear program about some points: (points, growths, summed worth)."""
        program, m = self.program, self.packing.scale / self.unit
        z = program.variables(points)
        n, groups = program.n_z, len(self.groups)
        shares = len(self.params.worth)
        entries, limits = self._rows(points / self.unit, z / self.unit, m, step)
        for row, column, value in [e for e in entries if e[1] >= n]:
            # a growth is the sum of its shares, in lengths of the flap
            k = column - n
            entries += [
                (row, n + groups + k * shares + s, value * self.length[self.groups[k]])
                for s in range(shares)
            ]
        size = n + groups + groups * shares
        move = np.where(self.free, step * self.unit, 0.0)
        low = np.maximum(program.lower, z - move) / self.unit
        high = np.minimum(program.upper, z + move) / self.unit
        bounds = [*zip(low, np.maximum(low, high), strict=True), *[(0.0, 0.0)] * groups]
        bounds += [(0.0, width) for _ in range(groups) for width, _ in self.params.worth]
        rows, columns, values = zip(*entries, strict=True)
        solved = linprog(
            np.r_[
                np.zeros(n + groups),
                np.tile([-worth for _, worth in self.params.worth], groups),
            ],
            A_ub=coo_matrix((values, (rows, columns)), shape=(len(limits), size)).tocsr(),
            b_ub=limits,
            bounds=bounds,
            method="highs",
            options={"primal_feasibility_tolerance": 1e-10},
        )
        if solved.x is None:
            return None
        share = solved.x[n + groups :].reshape(groups, shares).sum(axis=1)
        growth = share * self.length[self.groups]
        ends = np.where(self.free, solved.x[:n] * self.unit, z)
        return program.tips(ends), growth, float(-solved.fun)

    def _rows(self, p: Floats, z: Floats, m: float, step: float) -> tuple[Entries, list[float]]:
        """Rows ``sum value * variable <= limit``; variables are z, then one growth a group."""
        program, n = self.program, self.program.n_z
        entries: Entries = []
        limits: list[float] = []
        i, j = self.pairs
        d = self.packing.distances[i, j]
        gap = p[i] - p[j]
        far = np.hypot(*gap.T)
        clear = np.minimum(far, m * d * (1 + CLEAR)) if step else m * d
        for k in range(len(i)):
            u = gap[k] / far[k]
            row, limit = len(limits), far[k] - clear[k]
            for tip, sign in ((int(i[k]), 1.0), (int(j[k]), -1.0)):
                if self.group[tip] < 0:
                    continue
                entries.append((row, n + int(self.group[tip]), m))
                for axis in (0, 1):
                    if factor := sign * u[axis] * program.sign[axis, tip]:
                        column = int(program.index[axis, tip])
                        entries.append((row, column, -factor))
                        limit -= factor * z[column]
            limits.append(limit)
        self._disc_rows(p, z, m, entries, limits)
        return entries, limits

    def _disc_rows(
        self, p: Floats, z: Floats, m: float, entries: Entries, limits: list[float]
    ) -> None:
        """Add four rows for each loose tip that keeps its own disc on the sheet."""
        program = self.program
        sides = (self.packing.sheet.width / self.unit, self.packing.sheet.height / self.unit)
        for tip in self.groups:
            option = program.choice[tip]
            if not self.packing.problem.ranges[tip][option].margin > 0:
                continue
            for axis in (0, 1):
                for sign, wall in ((1.0, 0.0), (-1.0, sides[axis])):
                    row = len(limits)
                    limit = wall + sign * p[tip, axis] - m * self.length[tip]
                    entries.append((row, program.n_z + int(self.group[tip]), m))
                    if factor := sign * program.sign[axis, tip]:
                        column = int(program.index[axis, tip])
                        entries.append((row, column, -factor))
                        limit -= factor * z[column]
                    limits.append(max(limit, 0.0) if not factor else limit)


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
