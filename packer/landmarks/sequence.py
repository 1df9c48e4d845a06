"""A sequence of creases on a bare sheet, the marks where they cross, and how sure they are.

Lines are numbered: the sheet's edges first (bottom, right, top, left), then the creases in the
order made. A point is the crossing of two of them and written as the pair of their numbers, a
corner as the crossing of two edges.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.landmarks import alignments as fold
from packer.landmarks.alignments import crossing
from packer.units import SAME_LINE

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from packer.model.sheet import Point, Sheet

EDGES: Final = ("bottom", "right", "top", "left")
"""The lines that a bare sheet has, in the order of their numbers."""

CORNERS: Final = {
    "bottom left": (0, 3),
    "bottom right": (0, 1),
    "top right": (1, 2),
    "top left": (2, 3),
}
"""The points that a bare sheet has."""

Pair = tuple[int, int]

SURER: Final = 1e-3
"""Share by which an expected error is smaller where it is not by rounding alone."""

SMALL: Final = 1e-7
"""Miss, as a share of the shorter side, with which derivatives are taken: its square is rounding."""


@dataclass(frozen=True)
class Step:
    """One crease.

    Attributes
    ----------
    alignment
        1 to 7, as in `packer.landmarks.alignments.ALIGNMENTS`.
    points, lines
        What is aligned, in the order of the alignment's arguments.
    branch
        Which of several creases with the same alignment: +1 or -1, for the sixth 0, 1 or 2.
    image
        The step whose mirror image it is, by its place in the sequence; -1 for none.
    """

    alignment: int
    points: tuple[Pair, ...] = ()
    lines: tuple[int, ...] = ()
    branch: int = 0
    image: int = -1

    @property
    def rests_on(self) -> set[int]:
        """The numbers of the lines that must be there before."""
        return {*self.lines, *(k for pair in self.points for k in pair)}


@dataclass(frozen=True)
class TipMark:
    """The mark that stands for a tip.

    Attributes
    ----------
    point
        The two lines that cross there.
    at
        Where exact folding puts it, in sheet units.
    distance
        From the tip, in sheet units.
    error
        Root mean square distance from `at` to be expected by hand, in sheet units.
    """

    point: Pair
    at: tuple[float, float]
    distance: float
    error: float


@dataclass(frozen=True, eq=False)
class Landmarks:
    """One sequence of creases that makes a mark for every tip.

    Parameters
    ----------
    sheet
        The paper.
    steps
        The creases in order.
    tips
        The mark for every tip, by name.
    hand
        Standard deviation of each miss of an alignment, in sheet units.
    axis
        The line of symmetry used, as ``(a, b, c)``; None where there is none.
    unmarked
        Tips for which no mark was found that is near and sure enough: name and place.
    complete
        Whether the search for them came to its end.
    """

    sheet: Sheet
    steps: tuple[Step, ...]
    tips: Mapping[str, TipMark]
    hand: float
    axis: tuple[float, float, float] | None = None
    unmarked: Mapping[str, Point] = field(default_factory=dict)
    complete: bool = True

    @cached_property
    def lines(self) -> NDArray[np.float64]:
        """(4 + steps, 3) the edges and the creases as exact folding makes them."""
        return folded(self.steps, size_of(self.sheet), np.zeros((1, len(self.steps), 2)))[:, 0]

    @property
    def count(self) -> int:
        """How many creases it has, a crease and its mirror image counted as one."""
        return sum(step.image < 0 for step in self.steps)

    @cached_property
    def marks(self) -> dict[Pair, Mark]:
        """The points that are used or stand for a tip, in the order made; corners come first."""
        pairs = {pair for step in self.steps for pair in step.points}
        pairs |= {mark.point for mark in self.tips.values()} | set(CORNERS.values())
        order = sorted(pairs, key=lambda pair: (max(*pair, 3), min(pair)))
        places, errors = expected(self.steps, order, size_of(self.sheet), self.hand)
        corner = {pair: name for name, pair in CORNERS.items()}
        made = [corner.get(pair, "") for pair in order]
        letters = iter(map(letter, range(len(order))))
        names = [name or next(letters) for name in made]
        return {
            pair: Mark(name, pair, (x, y), e)
            for name, pair, (x, y), e in zip(
                names, order, places.tolist(), errors.tolist(), strict=True
            )
        }

    def name_of(self, line: int) -> str:
        """Return what a line is called: an edge by its side, a crease by its number."""
        return EDGES[line] if line < 4 else f"c{line - 3}"

    def made_by(self, step: int) -> list[Mark]:
        """Return the marks that a step makes, of those that are used or stand for a tip."""
        return [mark for pair, mark in self.marks.items() if max(pair) == step + 4]


@dataclass(frozen=True)
class Mark:
    """A point where two lines cross.

    Attributes
    ----------
    name
        A corner's own, else a letter.
    point
        The two lines.
    at
        Where exact folding puts it, in sheet units.
    error
        Root mean square distance from there to be expected by hand, in sheet units.
    """

    name: str
    point: Pair
    at: tuple[float, float]
    error: float


def letter(number: int) -> str:
    """Return A, B ... Z, AA, AB ... for 0, 1 ..."""
    name = chr(ord("A") + number % 26)
    return name if number < 26 else letter(number // 26 - 1) + name


def settled_points(made: Landmarks) -> Landmarks:
    """Return landmarks in which points at one place are one: the pair of lines made first.

    A tip keeps a mark of its own there where that is surer, and all points stay as they are where the
    lines made first would make the least sure tip less sure.
    """
    known = {pair for step in made.steps for pair in step.points}
    known |= {mark.point for mark in made.tips.values()} | set(CORNERS.values())
    order = sorted(known, key=lambda pair: (max(*pair, 3), min(pair)))
    tolerance = SAME_LINE * min(size_of(made.sheet))
    spots = np.array([crossing(*made.lines[list(pair)]) for pair in order])
    first = {}
    for k, pair in enumerate(order):
        same = np.hypot(*(spots[: k + 1] - spots[k]).T) < tolerance
        first[pair] = order[int(np.argmax(same))]
    steps = tuple(
        replace(step, points=tuple(first[pair] for pair in step.points)) for step in made.steps
    )
    tips = {}
    for name, mark in made.tips.items():
        pairs = [first[mark.point], mark.point]
        _, errors = expected(steps, pairs, size_of(made.sheet), made.hand)
        k = int(errors[1] < errors[0] * (1 - SURER))
        tips[name] = replace(mark, point=pairs[k], error=float(errors[k]))
    before, after = (
        max((mark.error for mark in of.values()), default=0.0) for of in (made.tips, tips)
    )
    return made if after > before * (1 + SURER) else replace(made, steps=steps, tips=tips)


def needed(made: Landmarks) -> Landmarks:
    """Return landmarks without the creases that no mark rests on."""
    wanted = {k for mark in made.tips.values() for k in mark.point if k >= 4}
    todo = list(wanted)
    while todo:
        rests = {k for k in made.steps[todo.pop() - 4].rests_on if k >= 4} - wanted
        wanted |= rests
        todo += rests
    order = sorted(wanted)
    number = {k: k for k in range(4)} | {k: 4 + n for n, k in enumerate(order)}

    def pair(old: Pair) -> Pair:
        a, b = sorted(number[k] for k in old)
        return a, b

    steps = tuple(
        replace(
            step,
            points=tuple(map(pair, step.points)),
            lines=tuple(number[k] for k in step.lines),
            image=number[step.image + 4] - 4
            if step.image + 4 in number and step.image >= 0
            else -1,
        )
        for step in (made.steps[k - 4] for k in order)
    )
    tips = {name: replace(mark, point=pair(mark.point)) for name, mark in made.tips.items()}
    return replace(made, steps=steps, tips=tips)


def size_of(sheet: Sheet) -> tuple[float, float]:
    """Return width and height of a sheet."""
    return sheet.width, sheet.height


def edges_of(size: tuple[float, float]) -> NDArray[np.float64]:
    """Return (4, 3) the edges of a sheet as lines."""
    w, h = size
    return np.array([[0.0, 1, 0], [1, 0, w], [0, 1, h], [1, 0, 0]])


def folded(
    steps: Sequence[Step], size: tuple[float, float], errors: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Fold a sequence many times over, each time with its own misses.

    Parameters
    ----------
    steps
        The creases in order.
    size
        Width and height of the sheet.
    errors
        (times, steps, 2) misses in sheet units.

    Returns
    -------
    numpy.ndarray
        (4 + steps, times, 3) the lines.
    """
    lines = np.repeat(edges_of(size)[:, None], len(errors), axis=1)
    for k, step in enumerate(steps):
        lines = np.concatenate([lines, crease_of(step, lines, size, errors[:, k])[None]])
    return lines


def crease_of(
    step: Step,
    lines: NDArray[np.float64],
    size: tuple[float, float],
    errors: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Return (times, 3) the crease of a step on (n, times, 3) lines with (times, 2) misses."""
    p = [fold.crossing(lines[i], lines[j]) for i, j in step.points]
    m = [lines[k] for k in step.lines]
    match step.alignment:
        case 1:
            return fold.o1(p[0], p[1], errors)
        case 2:
            return fold.o2(p[0], p[1], errors)
        case 3:
            return fold.o3(m[0], m[1], step.branch, errors, size)
        case 4:
            return fold.o4(m[0], p[0], errors, size)
        case 5:
            return fold.o5(p[0], m[0], p[1], step.branch, errors)
        case 6:
            return fold.o6(p[0], m[0], p[1], m[1], step.branch, errors)
    return fold.o7(p[0], m[0], m[1], errors, size)


def unit_misses(count: int, size: tuple[float, float]) -> NDArray[np.float64]:
    """Return (1 + 2 count, count, 2) misses: none at first, then each alone, of `SMALL`."""
    step = SMALL * min(size)
    rows = np.zeros((1 + 2 * count, 2 * count))
    rows[1:] = step * np.eye(2 * count)
    return rows.reshape(1 + 2 * count, count, 2)


def spread(
    points: NDArray[np.float64], size: tuple[float, float], hand: float
) -> NDArray[np.float64]:
    """Return the expected error of points folded with `unit_misses`: (..., times, 2) in, (...) out.

    Misses are independent and normal, `hand` their standard deviation; the error is the root
    mean square of the distance, to first order the norm of the point's derivative times `hand`.
    """
    slopes = (points[..., 1:, :] - points[..., :1, :]) / (SMALL * min(size))
    total: NDArray[np.float64] = hand * np.sqrt((slopes**2).sum(axis=(-2, -1)))
    # a landing place that only just touches its line is lost by the least miss
    return np.where(np.isfinite(total), total, np.inf)


def line_spread(
    off: NDArray[np.float64], size: tuple[float, float], hand: float
) -> NDArray[np.float64]:
    """Return the expected error of lines at a point: (..., times) distances in, (...) out.

    As `spread`, of the distance at which lines folded with `unit_misses` pass a point.
    """
    slopes = (off[..., 1:] - off[..., :1]) / (SMALL * min(size))
    total: NDArray[np.float64] = hand * np.sqrt((slopes**2).sum(axis=-1))
    return np.where(np.isfinite(total), total, np.inf)


def expected(
    steps: Sequence[Step], pairs: Sequence[Pair], size: tuple[float, float], hand: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return (k, 2) where points lie and (k,) their expected errors, in sheet units."""
    if not pairs:
        return np.zeros((0, 2)), np.zeros(0)
    lines = folded(steps, size, unit_misses(len(steps), size))
    i, j = np.array(pairs).T
    points = fold.crossing(lines[i], lines[j])
    return points[:, 0], spread(points, size, hand)
