"""The same question as in `packer.grid.cp_sat`, asked of scipy's HiGHS where OR-tools is missing.

As a mixed-integer program with one switch for each way in which a pair can be apart. Its linear
relaxation says little, so this decides figures of about a dozen flaps (twice that mirrored);
larger ones are packed by the quick filling and improved, with the bound of counting.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_array

from packer.deadline import NEVER, Deadline
from packer.grid.cp_sat import LEAST_SECONDS, Answer
from packer.grid.relations import (
    Affine,
    branches,
    coordinates,
    leaders,
    reach,
    separations,
    turns_of,
)
from packer.interrupt import abandonable

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from packer.grid.board import Board, Pair
    from packer.grid.cp_sat import JointBranches

NODES_A_SECOND: Final = 400
"""Branches that stand for a deterministic second: about what a small board takes in one."""

_INFEASIBLE = 2
"""The status by which scipy tells that a program has no solution."""


def decide(
    board: Board,
    effort: float,
    seed: int = 0,
    *,
    deadline: Deadline = NEVER,
    fixed: Mapping[Pair, int] | None = None,
    touching: Sequence[JointBranches] = (),
) -> Answer:
    """Look for a place for every tip, or for a proof that there is none.

    Parameters are those of `packer.grid.cp_sat.decide`; `touching` must be empty, since joined
    rivers are asked of OR-tools only.
    """
    if touching:
        raise ValueError("joined rivers are asked of OR-tools only")
    if not all(board.boxes):
        return Answer(refuted=True)
    rows = _Rows(board)
    at = coordinates(board)
    if fixed is None:
        rows.order(at)
    for ways, need in separations(board, at, fixed or {}):
        rows.apart(ways, need)
    options: dict[str, float] = {"node_limit": max(1, round(effort * NODES_A_SECOND))}
    if deadline.limited:
        options["time_limit"] = max(deadline.left, LEAST_SECONDS)
    result = abandonable(
        lambda: milp(
            np.zeros(rows.columns),
            integrality=np.ones(rows.columns),
            bounds=Bounds(rows.lower, rows.upper),
            constraints=rows.constraints(),
            options=options,
        )
    )
    nodes = float(result.mip_node_count or 0) / NODES_A_SECOND
    if result.x is None:
        return Answer(refuted=result.status == _INFEASIBLE, effort=nodes)
    numbers = np.rint(result.x).astype(int).tolist()
    places = tuple((x.value(numbers), y.value(numbers)) for x, y in at)
    upright = turns_of(board, numbers)
    broken = board.turned(upright).violations(places)
    return Answer(None if broken else places, effort=nodes, upright=upright)


class _Rows:
    """The rows of a mixed-integer program while they are written."""

    def __init__(self, board: Board) -> None:
        self.board = board
        self.lower = [0.0] * (3 * board.n)
        self.upper = [0.0] * (3 * board.n)
        self.entries: list[tuple[int, int, float]] = []
        self.least: list[float] = []
        for k in leaders(board):
            boxes = np.array(board.boxes[k])
            self.lower[2 * k], self.lower[2 * k + 1] = boxes[:, [0, 2]].min(axis=0)
            self.upper[2 * k], self.upper[2 * k + 1] = boxes[:, [1, 3]].max(axis=0)
            if len(boxes) > 1 or any(board.turns[k]):
                self.upper[2 * board.n + k] = float(any(board.turns[k]))
                self._choose(k, boxes)

    @property
    def columns(self) -> int:
        """How many variables there are so far."""
        return len(self.lower)

    def _switch(self) -> int:
        self.lower.append(0.0)
        self.upper.append(1.0)
        return self.columns - 1

    def _row(self, expression: Affine, least: float, switch: int | None = None) -> None:
        """Add expression >= least, as strictly as need be only where a switch is on."""
        row = len(self.least)
        terms = expression.terms
        self.entries += [(row, v, float(c)) for v, c in terms]
        low = sum(c * (self.lower[v] if c > 0 else self.upper[v]) for v, c in terms)
        short = max(0.0, least - expression.constant - low)
        if switch is not None:
            self.entries.append((row, switch, -short))
            least -= short
        self.least.append(least - expression.constant)

    def _choose(self, k: int, boxes: np.ndarray) -> None:
        switches = []
        for a, b, c, d in boxes.tolist():
            use = self._switch()
            for v, low, high in ((2 * k, a, b), (2 * k + 1, c, d)):
                self._row(Affine(((v, 1),)), low, use)
                self._row(Affine(((v, -1),)), -high, use)
            switches.append(use)
        if any(self.board.turns[k]):
            turn = 2 * self.board.n + k
            for use, upright in zip(switches, self.board.turns[k], strict=True):
                sign = 1 if upright else -1
                self._row(Affine(((turn, sign),)), int(upright), use)
        self._row(Affine(tuple((v, 1) for v in switches)), 1)

    def order(self, at: Sequence[tuple[Affine, Affine]]) -> None:
        """Leave out arrangements that differ only by names."""
        board = self.board
        for i, j in board.alike:
            later, earlier = at[j], at[i]
            if board.symmetry == "diagonal":
                self._row(later[0].minus(earlier[0]).minus(earlier[1].minus(later[1])), 0)
            else:
                side = 1 if board.symmetry == "book" else 0
                self._row(later[side].minus(earlier[side]), 0)
        for k, *_ in branches(board):
            if board.symmetry == "book":
                self._row(Affine(((2 * k, -2),)).minus(reach(board, k)[0]), -board.size[0])
            else:
                self._row(at[k][1].minus(at[k][0]), 0)

    def apart(self, ways: Sequence[Affine], need: int) -> None:
        """State that one of several gaps is at least as wide as it need be."""
        if len(ways) == 1:
            self._row(ways[0], need)
            return
        switches = [self._switch() for _ in ways]
        for use, gap in zip(switches, ways, strict=True):
            self._row(gap, need, use)
        self._row(Affine(tuple((v, 1) for v in switches)), 1)

    def constraints(self) -> LinearConstraint:
        """Return the rows as one constraint."""
        rows, columns, values = zip(*self.entries, strict=True)
        matrix = csr_array((values, (rows, columns)), shape=(len(self.least), self.columns))
        return LinearConstraint(matrix, lb=self.least)
