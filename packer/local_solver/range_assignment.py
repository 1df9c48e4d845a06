"""Which of its ranges each tip lies in: an assignment that follows proposed points.

A start or an operator proposes points anywhere; each tip then takes the range nearest to its point,
and tips that may only lie in corners or on fixed points are matched to different points.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np
from scipy.optimize import linear_sum_assignment

from packer.local_solver.params import INITIAL

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.local_solver.nonlinear_program import RangeChoice
    from packer.model.problem import Problem, Range
    from packer.model.sheet import Point

FORBIDDEN: Final = 1e6
"""Cost, in diagonals of the sheet, of a point that a tip may not lie on."""


def assigned_ranges(
    problem: Problem,
    points: NDArray[np.float64],
    rng: np.random.Generator,
    noise: float = INITIAL.tie_noise,
) -> RangeChoice:
    """Return a range for each tip, near to its point.

    Parameters
    ----------
    problem
        Gives the ranges.
    points
        (tips, 2) proposed points; only those of its leaders are looked at.
    rng
        Breaks ties.
    noise
        Random share of the sheet's diagonal added to distances.
    """
    open_tips = problem.leaders[problem.boxes[2][problem.leaders] > 1]
    if not len(open_tips):
        return (0,) * problem.tree.n_tips
    choice = np.zeros(problem.tree.n_tips, dtype=int)
    noise *= problem.sheet.diagonal
    taken = {
        _seat(problem, k, box)
        for k in problem.leaders
        for box in problem.ranges[k]
        if len(problem.ranges[k]) == 1 and box.is_point
    }
    pinned = [k for k in open_tips if all(box.is_point for box in problem.ranges[k])]
    if pinned:
        blur = noise * rng.random((len(pinned), max(len(problem.ranges[k]) for k in pinned)))
        _match(problem, points, blur, pinned, choice, taken)
    for k in rng.permutation([k for k in open_tips if k not in pinned]):
        best, least = 0, np.inf
        for option, box in enumerate(problem.ranges[k]):
            if box.is_point and (
                _seat(problem, k, box) in taken or _meets_twin(problem, k, box)
            ):
                continue
            away = _away(box, points[k]) + noise * rng.random()
            if away < least:
                best, least = option, away
        choice[k] = best
        if problem.ranges[k][best].is_point:
            taken.add(_seat(problem, k, problem.ranges[k][best]))
    choice = choice[np.minimum(problem.mirror, np.arange(len(choice)))]
    return tuple(choice.tolist())


def _match(
    problem: Problem,
    points: NDArray[np.float64],
    blur: NDArray[np.float64],
    pinned: list[int],
    choice: NDArray[np.int_],
    taken: set[Point],
) -> None:
    """Match tips that may only lie on points to different points, at the least sum of distances."""
    seats = {_seat(problem, k, box) for k in pinned for box in problem.ranges[k]}
    free = sorted(seats - taken)
    column = {point: c for c, point in enumerate(free)}
    cost = np.full((len(pinned), len(free)), FORBIDDEN * problem.sheet.diagonal)
    nearest = np.zeros(cost.shape, dtype=int)
    for row, k in enumerate(pinned):
        for option, box in enumerate(problem.ranges[k]):
            c = column.get(_seat(problem, k, box))
            away = _away(box, points[k]) + blur[row, option]
            if c is not None and away < cost[row, c] and not _meets_twin(problem, k, box):
                cost[row, c], nearest[row, c] = away, option
    for row, c in zip(*linear_sum_assignment(cost), strict=True):
        taken.add(free[c])
        choice[pinned[row]] = nearest[row, c]


def _seat(problem: Problem, tip: int, box: Range) -> Point:
    """Return the point of a range, or its mirror image if that comes first: a pair takes both."""
    here = box.middle
    if problem.mirror[tip] == tip:
        return here
    x, y = problem.reflect(np.array(here)).tolist()
    return min(here, (x, y))


def _meets_twin(problem: Problem, tip: int, box: Range) -> bool:
    """Whether a tip placed on this point would coincide with its twin."""
    if problem.mirror[tip] == tip:
        return False
    here = np.array(box.middle)
    return bool(np.allclose(problem.reflect(here), here))


def _away(box: Range, point: NDArray[np.float64]) -> float:
    x = min(max(point[0], box.x[0]), box.x[1])
    y = min(max(point[1], box.y[0]), box.y[1])
    return float(np.hypot(point[0] - x, point[1] - y))


def sample(
    problem: Problem, tips: NDArray[np.intp], count: int, rng: np.random.Generator
) -> NDArray[np.float64]:
    """Return (tips, count, 2) random points of some tips' ranges, each range as often."""
    low, high, ranges = problem.boxes
    pick = (rng.random((len(tips), count)) * ranges[tips, None]).astype(np.intp)
    low, high = low[tips[:, None], pick], high[tips[:, None], pick]
    points: NDArray[np.float64] = low + (high - low) * rng.random(low.shape)
    if problem.symmetry == "diagonal":
        on_axis = problem.mirror[tips] == tips
        points[on_axis, :, 1] = points[on_axis, :, 0]
    return points
