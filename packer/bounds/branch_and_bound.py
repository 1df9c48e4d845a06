"""Branch and bound over boxes: a proof that no packing of a few tips reaches a scale.

A box is an interval for each free coordinate. Where two tips must be at least s apart across the
larger of their possible gaps, they are so on one axis in one of two orders; an order that the box
does not allow narrows it, and a box that allows neither is empty. A tip with several places lies
in one of them, and so in the hull of what the box has in common with each; where it has nothing in
common with any, the box is empty. What is left is cut in two.
When no box is left, the scale is impossible: the optimum of the tips, and so of any figure that
contains them, lies below it.

Rounding: squared distances are lowered and comparisons loosened by 1e-11 of the sheet, against
errors of a few parts in 1e16, so that no point of a true packing is ever cut away.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.bounds.work_budget import WorkBudget
    from packer.local_solver.nonlinear_program import NonlinearProgram
    from packer.model.problem import Range

    Floats = NDArray[np.float64]

TipRanges = Mapping[int, tuple["Range", ...]]
"""For some tips, by index, ranges in one of which each must lie; of twins for the first only."""

SAFE: Final = 1e-11
"""Loosening of every comparison, as a share of the sheet's longer side."""
BATCH: Final = 4000
"""Boxes narrowed at once: their coordinates just fit a processor's nearer memory."""
SMALLEST: Final = 1e-9
"""A box this narrow, as a share of the sheet, that is not empty: the scale is as good as reached."""


@dataclass(frozen=True, eq=False)
class Row:
    """A linear inequality ``sum factor * z[variable] <= limit`` that some packing must satisfy."""

    variables: tuple[int, ...]
    factors: tuple[float, ...]
    limit: float


@dataclass(frozen=True, eq=False)
class Outcome:
    """How an attempt at a proof ended.

    Attributes
    ----------
    proven
        Whether no box was left, so that the scale is impossible.
    boxes
        How many boxes were narrowed.
    witness
        (z,) variables in a box too small to cut that is not empty: next to a packing of that
        scale, in all likelihood. None if the attempt ended for another reason.
    """

    proven: bool
    boxes: int
    witness: Floats | None = None


def exclude(
    program: NonlinearProgram,
    target: float,
    rows: list[Row],
    places: TipRanges,
    budget: WorkBudget,
    most: float = np.inf,
) -> Outcome:
    """Try to prove that no packing of a program reaches a scale.

    Parameters
    ----------
    program
        All tips to place, without flex; one range each.
    target
        The scale to exclude.
    rows
        Inequalities that at least one of all equivalent packings satisfies.
    places
        For some tips, several ranges in one of which each must lie.
    budget
        What the work may cost; the boxes are taken from it.
    most
        Boxes after which to give up in any case.
    """
    state = _Narrowing(program, target, rows, places)
    stack = [state.first_box()]
    boxes = 0
    while stack:
        if boxes >= most or budget.over:
            return Outcome(False, boxes)
        low, high = _take(stack)
        boxes += low.shape[1]
        budget.spend(low.shape[1])
        alive = state.narrow(low, high)
        low, high = low[:, alive], high[:, alive]
        if not low.shape[1]:
            continue
        widest = (high - low).max(axis=0)
        if widest.min() < SMALLEST * state.size:
            box = int(widest.argmin())
            return Outcome(False, boxes, ((low + high) / 2)[: program.n_z, box])
        stack.append(state.halve(low, high))
    return Outcome(True, boxes)


def _take(stack: list[tuple[Floats, Floats]]) -> tuple[Floats, Floats]:
    """Take the last boxes off the stack, up to a batch."""
    parts, count = [], 0
    while stack and count < BATCH:
        low, high = stack.pop()
        free = BATCH - count
        if low.shape[1] > free:
            stack.append((low[:, :-free], high[:, :-free]))
            low, high = low[:, -free:], high[:, -free:]
        parts.append((low, high))
        count += low.shape[1]
    return (
        np.concatenate([low for low, _ in parts], axis=1),
        np.concatenate([high for _, high in parts], axis=1),
    )


class _Narrowing:
    """What is the same for all boxes of one proof."""

    def __init__(
        self, program: NonlinearProgram, target: float, rows: list[Row], places: TipRanges
    ) -> None:
        sheet = program.problem.sheet
        self.size = max(sheet.width, sheet.height)
        self.slack = SAFE * self.size
        self.target = target
        self.rows = rows
        self.places = places
        self.program = program
        # fixed coordinates as variables of no width
        self.fixed = [
            (axis, tip) for axis in (0, 1) for tip in np.flatnonzero(program.sign[axis] == 0)
        ]
        self.index = program.index.copy()
        self.sign = np.where(program.sign == 0, 1.0, program.sign)
        self.offset = program.offset.copy()
        for k, place in enumerate(self.fixed):
            self.index[place] = program.n_z + k
            self.offset[place] = 0.0
        self.pairs: list[tuple[int, int, float]] = []
        self.holes: list[tuple[int, float]] = []
        self._list_pairs()
        self.weight = self._weights()

    def _list_pairs(self) -> None:
        """List the paths, the longest first; twins under book symmetry keep off a strip of x.

        Works on the numbers given here: in the program those of fixed coordinates mean nothing.
        """
        program = self.program
        mirror = program.problem.mirror
        for k in np.argsort(-program.distance, kind="stable").tolist():
            i, j = int(program.first[k]), int(program.second[k])
            reach = self.target * float(program.distance[k])
            if mirror[i] == j and program.problem.symmetry == "book":
                self.holes.append((int(self.index[0, i]), reach))
            else:
                self.pairs.append((i, j, reach))

    def _weights(self) -> Floats:
        """Weigh each variable by the longest path of its tip, for the choice where to cut."""
        weight = np.zeros(self.program.n_z + len(self.fixed))
        for i, j, reach in self.pairs:
            for tip in (i, j):
                for axis in (0, 1):
                    k = self.index[axis, tip]
                    weight[k] = max(weight[k], reach)
        return weight

    def first_box(self) -> tuple[Floats, Floats]:
        """Return the whole range of every variable; discs that stay on the sheet narrow it."""
        program = self.program
        values = [program.offset[place] for place in self.fixed]
        low = np.concatenate([program.lower, values])
        high = np.concatenate([program.upper, values])
        for row, offset, scale in zip(
            program.rows, program.row_offset, program.row_scale, strict=True
        ):
            for k in np.flatnonzero(row):
                edge = (-offset - scale * self.target) / row[k]
                if row[k] > 0:
                    low[k] = max(low[k], edge - self.slack)
                else:
                    high[k] = min(high[k], edge + self.slack)
        return low[:, None].copy(), high[:, None].copy()

    def narrow(self, low: Floats, high: Floats) -> NDArray[np.bool_]:
        """Narrow boxes in place; return which are not proven empty."""
        dead = np.zeros(low.shape[1], bool)
        # first of all, since a list of points may leave a box without width, to be judged by pairs
        for tip, ranges in self.places.items():
            self._place(tip, ranges, low, high, dead)
        for row in self.rows:
            self._row(row, low, high)
        for k, reach in self.holes:
            self._hole(k, reach, low, high)
        for i, j, reach in self.pairs:
            for axis in (0, 1):
                self._pair(axis, i, j, reach, low, high, dead)
        alive: NDArray[np.bool_] = ~dead & (low <= high + self.slack).all(axis=0)
        return alive

    def _row(self, row: Row, low: Floats, high: Floats) -> None:
        least = [
            f * (low[k] if f > 0 else high[k])
            for k, f in zip(row.variables, row.factors, strict=True)
        ]
        spare = row.limit + self.slack - sum(least)
        for k, f, own in zip(row.variables, row.factors, least, strict=True):
            edge = (spare + own) / f
            if f > 0:
                np.minimum(high[k], edge, out=high[k])
            else:
                np.maximum(low[k], edge, out=low[k])

    def _hole(self, k: int, reach: float, low: Floats, high: Floats) -> None:
        """Mirror images reach apart: x lies left or right of a gap about the axis."""
        w = self.program.problem.sheet.width
        left, right = (w - reach) / 2 + self.slack, (w + reach) / 2 - self.slack
        np.minimum(high[k], np.where(high[k] < right, left, np.inf), out=high[k])
        np.maximum(low[k], np.where(low[k] > left, right, -np.inf), out=low[k])

    def _place(
        self,
        tip: int,
        ranges: tuple[Range, ...],
        low: Floats,
        high: Floats,
        dead: NDArray[np.bool_],
    ) -> None:
        """Narrow to the hull of what the box has in common with each range of a tip.

        A margin keeps the tip farther inside, as far as in a packing of the target: one of a
        greater scale, shrunk, is such a packing too.
        """
        sheet, slack = self.program.problem.sheet, self.slack
        variables = self.index[:, tip].tolist()  # one and the same on a diagonal axis
        none = np.full(low.shape[1], np.inf)
        hull = {k: (none.copy(), -none) for k in variables}
        for box in ranges:
            cut = {k: (low[k], high[k]) for k in hull}
            inset = box.margin * self.target
            for k, (least, most), side in zip(
                variables, (box.x, box.y), (sheet.width, sheet.height), strict=True
            ):
                a, b = cut[k]
                cut[k] = (
                    np.maximum(a, max(least, inset) - slack),
                    np.minimum(b, min(most, side - inset) + slack),
                )
            meets = np.all([a <= b + slack for a, b in cut.values()], axis=0)
            for k, (a, b) in cut.items():
                np.minimum(hull[k][0], a, out=hull[k][0], where=meets)
                np.maximum(hull[k][1], b, out=hull[k][1], where=meets)
        for k, (a, b) in hull.items():
            empty = a == np.inf
            np.logical_or(dead, empty, out=dead)
            np.maximum(low[k], a, out=low[k], where=~empty)
            np.minimum(high[k], b, out=high[k], where=~empty)

    def _ends(self, axis: int, tip: int, low: Floats, high: Floats) -> tuple[Floats, Floats]:
        k, offset = self.index[axis, tip], self.offset[axis, tip]
        if self.sign[axis, tip] > 0:
            if offset == 0:
                return low[k], high[k]
            return low[k] + offset, high[k] + offset
        return offset - high[k], offset - low[k]

    def _pair(
        self,
        axis: int,
        i: int,
        j: int,
        reach: float,
        low: Floats,
        high: Floats,
        dead: NDArray[np.bool_],
    ) -> None:
        low_i, high_i = self._ends(1 - axis, i, low, high)
        low_j, high_j = self._ends(1 - axis, j, low, high)
        across = np.maximum(high_j - low_i, high_i - low_j)
        across *= across
        np.subtract(reach * reach * (1 - SAFE), across, out=across)
        np.maximum(across, 0.0, out=across)
        apart = np.sqrt(across, out=across)
        apart -= self.slack
        low_i, high_i = self._ends(axis, i, low, high)
        low_j, high_j = self._ends(axis, j, low, high)
        edge_j, edge_i = high_j - apart, high_i - apart
        not_left = edge_j < low_i - self.slack  # i cannot lie on the lower side of j
        not_right = edge_i < low_j - self.slack
        np.logical_or(dead, not_left & not_right, out=dead)
        if not_left.any():
            self._push(axis, i, j, low_j + apart, edge_i, not_left, (low, high))
        if not_right.any():
            self._push(axis, j, i, low_i + apart, edge_j, not_right, (low, high))

    def _push(
        self,
        axis: int,
        upper: int,
        lower: int,
        least: Floats,
        most: Floats,
        where: NDArray[np.bool_],
        boxes: tuple[Floats, Floats],
    ) -> None:
        """Raise the low end of tip `upper` to `least`, lower the high end of `lower` to `most`."""
        low, high = boxes
        k, offset = self.index[axis, upper], self.offset[axis, upper]
        if self.sign[axis, upper] > 0:
            np.maximum(low[k], least - offset, out=low[k], where=where)
        else:
            np.minimum(high[k], offset - least, out=high[k], where=where)
        k, offset = self.index[axis, lower], self.offset[axis, lower]
        if self.sign[axis, lower] > 0:
            np.minimum(high[k], most - offset, out=high[k], where=where)
        else:
            np.maximum(low[k], offset - most, out=low[k], where=where)

    def halve(self, low: Floats, high: Floats) -> tuple[Floats, Floats]:
        """Cut each box in two across its weightiest coordinate."""
        k = ((high - low) * self.weight[:, None]).argmax(axis=0)
        box = np.arange(low.shape[1])
        middle = (low[k, box] + high[k, box]) / 2
        low, high = np.concatenate([low, low], axis=1), np.concatenate([high, high], axis=1)
        high[k, box] = middle
        low[k, box + len(box)] = middle
        return low, high
