"""Sides divided into equal parts: the landmarks of a grid.

Powers of two come by halving. For an odd number ``m`` of parts let ``2**b < m < 2**(b + 1)`` and
``p = m - 2**b``: a line from the mark ``i / 2**b`` of one side to ``(i + p) / 2**b`` of the opposite one
crosses the diagonal at ``(i + p) / m``, on any rectangle (crossing diagonals: similar triangles; R. J.
Lang, Origami Design Secrets, 2003). What lies on its two sides is halved and doubled. The crossing lies
at as many parts of both sides, so it serves both: ``b + 2`` creases that are no lines of the grid,
for both sides together.

Haga's theorems (K. Haga, Origamics, 2008; the second and third from memory) find marks of a square's
sides by laying a corner. From a mark ``x`` the first gives ``2 x / (1 + x)`` and ``(1 - x)**2 / 2``, the
second the former again, the third ``x / (2 - x)``. Used here are the eighths that the first gives
from the middle of a side, in two creases in place of three. The others find ``m`` parts of one side in one
fold where crossing diagonals take two, but then a diagonal takes them to the other side. For
``m`` up to 31 no chain of such folds and halvings is shorter (tests), but for 9, 17 and 19: where ``p`` is
small a line beside it would be square to a side near its end, two to four times as unsure,
and ``i`` is chosen so that it lies near the middle, for one crease more. Halving of errors takes at least
``b + 1`` creases a round and stays inexact.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from packer.errors import PatternError
from packer.landmarks.creases import same_rows
from packer.landmarks.sequence import (
    Landmarks,
    Step,
    TipMark,
    expected,
    folded,
    size_of,
)
from packer.units import SAME_LINE

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.creases.pattern import CreasePattern
    from packer.landmarks.sequence import Pair
    from packer.model.sheet import Sheet

BOTTOM, RIGHT, TOP, LEFT = range(4)

MOST_PARTS = 400
"""Parts of a side above which a pattern is taken for none on a grid."""


def grid_landmarks(pattern: CreasePattern, hand: float) -> Landmarks | None:
    """Return the division that a box-pleated pattern asks for; None where it lies on no grid.

    Every tip is a crossing of two lines of the grid.
    """
    if "between" not in pattern.roles:
        return None
    size = size_of(pattern.sheet)
    parts = tuple(_parts(pattern.points[:, k] / size[k]) for k in (0, 1))
    if None in parts:
        return None
    across, up = parts
    assert across is not None
    assert up is not None
    return divided(pattern.sheet, (across, up), _tips(pattern), hand)


def divided(
    sheet: Sheet, parts: tuple[int, int], tips: dict[str, tuple[float, float]], hand: float
) -> Landmarks:
    """Return the creases that divide a sheet into equal parts across and up, and the tips' marks.

    Parameters
    ----------
    sheet
        The paper.
    parts
        How many parts its width and its height are divided into.
    tips
        Points where lines of the grid cross, by name.
    hand
        Standard deviation of each miss of an alignment by hand, in sheet units.

    Raises
    ------
    PatternError
        Where a tip lies on no crossing.
    """
    size = size_of(sheet)
    making = _Division(abs(size[0] - size[1]) <= SAME_LINE * size[0])
    for along in (0, 1):
        making.divide(parts[along], upright=along == 0)
    steps = _without_repeats(making.steps, size)
    made = folded(steps, size, np.zeros((1, len(steps), 2)))[:, 0]
    lines = [_lines_of(made, size[along], parts[along], along) for along in (0, 1)]
    pairs: dict[str, Pair] = {}
    for name, position in tips.items():
        cell = [position[k] / size[k] * parts[k] for k in (0, 1)]
        at = [round(x) for x in cell]
        if max(abs(cell[0] - at[0]), abs(cell[1] - at[1])) > 1e-6:
            raise PatternError(f'the tip of "{name}" lies on no crossing of the grid')
        a, b = sorted((lines[0][at[0]], lines[1][at[1]]))
        pairs[name] = a, b
    places, errors = expected(steps, list(pairs.values()), size, hand)
    marks = {
        name: TipMark(
            pair,
            (float(x), float(y)),
            float(np.hypot(x - tips[name][0], y - tips[name][1])),
            float(e),
        )
        for (name, pair), (x, y), e in zip(pairs.items(), places, errors, strict=True)
    }
    return Landmarks(sheet, tuple(steps), marks, hand)


def runs(made: Landmarks) -> list[range]:
    """Return the steps of a division in runs that are folded alike, each strip halved.

    Creases of a run are parallel and none of them rests on another; a step of another kind is a run
    by itself.
    """
    rows: list[range] = []
    for number, step in enumerate(made.steps):
        row = rows[-1] if rows else range(0)
        alike = len(row) > 0 and step.alignment == made.steps[row[-1]].alignment == 3
        if alike and _parallel(made, number, row[-1]) and max(step.lines) < row[0] + 4:
            rows[-1] = range(row[0], number + 1)
        else:
            rows.append(range(number, number + 1))
    return rows


def _parallel(made: Landmarks, one: int, other: int) -> bool:
    a, b = made.lines[one + 4], made.lines[other + 4]
    return bool(abs(a[0] * b[1] - a[1] * b[0]) < SAME_LINE)


def halved_errors(parts: int, guess: float, rounds: int = 1) -> list[float]:
    """Return where halving takes a guess of one part of a side: halving of errors.

    From a mark near ``k / parts`` the side that holds an even number of parts is halved, again and
    again, until the mark stands for one part again; its error is then smaller by 2 to the number
    of halvings (S. Fujimoto's approximation).

    Parameters
    ----------
    parts
        An odd number of parts.
    guess
        The first mark, as a share of the side, near ``1 / parts``.
    rounds
        How often to come back to one part.
    """
    marks, k, x = [guess], 1, guess
    while rounds:
        if k % 2:
            k, x = (k + parts) // 2, (x + 1) / 2
        else:
            k, x = k // 2, x / 2
        marks.append(x)
        rounds -= k == 1
    return marks


def _lines_of(made: NDArray[np.float64], side: float, parts: int, along: int) -> dict[int, int]:
    """Return the number of the line at each part of a side, the edges with them."""
    rows = {0: (LEFT, BOTTOM)[along], parts: (RIGHT, TOP)[along]}
    for k in range(4, len(made)):
        at = made[k, 2] * made[k, along] / side * parts
        if abs(made[k, along]) > 1 - SAME_LINE and abs(at - round(at)) < 1e-6:
            rows.setdefault(round(at), k)
    return rows


class _Division:
    """The creases of a division on their way; repeated ones are taken out at the end."""

    def __init__(self, square: bool) -> None:
        self.square = square
        self.steps: list[Step] = []
        self.points: dict[int, tuple[Pair, int]] = {}

    def divide(self, parts: int, *, upright: bool) -> None:
        """Add the creases that divide the width, or the height, into equal parts."""
        near, far, base = (LEFT, RIGHT, BOTTOM) if upright else (BOTTOM, TOP, LEFT)
        odd = parts // (parts & -parts)
        lines = {0: near, parts: far}
        if odd > 1:
            point, at = self._point(odd)
            lines[at * parts // odd] = self._add(Step(4, (point,), (base,)))
        for at in _order(parts, lines):
            a, b = _halves(at, parts, lines)
            lines[at] = self._add(Step(3, (), (lines[a], lines[b]), 1))

    def _add(self, step: Step) -> int:
        self.steps.append(step)
        return 3 + len(self.steps)

    def _point(self, odd: int) -> tuple[Pair, int]:
        """Return a crossing on the diagonal, and at how many of an odd number of parts it lies."""
        if odd not in self.points:
            power = 1 << (odd.bit_length() - 1)
            p, half = odd - power, power // 2
            if 4 * p <= power:  # a crease square to a side is unsure near the side's end
                begun = self._half(), 2
                top, bottom, at = self._binary(half - p, power, begun), begun[0], half
            else:
                eighths = self.square and power >= 8
                begun = (self._eighth(p % 8), 8) if eighths else (self._half(), 2)
                top, bottom, at = LEFT, self._binary(p, power, begun), p
            slant = self._add(Step(1, (_pair(top, TOP), _pair(bottom, BOTTOM))))
            diagonal = self._add(Step(1, (_pair(LEFT, BOTTOM), _pair(RIGHT, TOP))))
            self.points[odd] = _pair(slant, diagonal), at
        return self.points[odd]

    def _half(self) -> int:
        return self._add(Step(2, (_pair(LEFT, BOTTOM), _pair(RIGHT, BOTTOM))))

    def _eighth(self, top: int) -> int:
        """Make the mark ``top / 8`` of a square's bottom side, `top` odd, by Haga's first theorem."""
        level = self._add(Step(2, (_pair(LEFT, BOTTOM), _pair(LEFT, TOP))))
        side, other = (LEFT, RIGHT) if top in {1, 5} else (RIGHT, LEFT)
        corner = _pair(side, BOTTOM if top in {3, 5} else TOP)
        return self._add(Step(2, (corner, _pair(level, other))))

    def _binary(self, top: int, power: int, begun: tuple[int, int]) -> int:
        """Make the mark ``top / power`` of a side, `top` odd; return its line.

        It begins from the line of the mark of `top` modulo the second number of `begun`.
        """
        line, done = begun
        while done < power:
            end = RIGHT if top & done else LEFT
            line = self._add(Step(2, (_pair(end, BOTTOM), _pair(line, BOTTOM))))
            done *= 2
        return line


def _without_repeats(steps: list[Step], size: tuple[float, float]) -> list[Step]:
    """Return steps without those whose crease is there already."""
    head = same_rows(folded(steps, size, np.zeros((1, len(steps), 2)))[:, 0], size)
    kept = np.flatnonzero(head == np.arange(len(head))).tolist()
    number = {old: new for new, old in enumerate(kept)}

    def now(line: int) -> int:
        return number[int(head[line])]

    return [
        replace(
            step,
            points=tuple(_pair(now(a), now(b)) for a, b in step.points),
            lines=tuple(map(now, step.lines)),
        )
        for step in (steps[k - 4] for k in kept if k >= 4)
    ]


def _order(parts: int, lines: dict[int, int]) -> list[int]:
    """Return the other lines of a division in an order in which each halves what is there."""
    known, order = set(lines), []
    while len(known) < parts + 1:
        new = [
            at
            for at in range(1, parts)
            if at not in known and _halved(at, parts, known) is not None
        ]
        # the widest first: a level of halvings at a time
        widest = max(_halved(at, parts, known) or 0 for at in new)
        level = [at for at in new if _halved(at, parts, known) == widest]
        order += level
        known |= set(level)
    return order


def _halved(at: int, parts: int, known: set[int]) -> int | None:
    """Return half the width of the narrowest stretch between known lines that a line halves."""
    widths = (
        w for w in range(1, min(at, parts - at) + 1) if at - w in known and at + w in known
    )
    return next(widths, None)


def _halves(at: int, parts: int, lines: dict[int, int]) -> tuple[int, int]:
    width = _halved(at, parts, set(lines))
    assert width is not None
    return at - width, at + width


def _pair(a: int, b: int) -> Pair:
    return min(a, b), max(a, b)


def _parts(shares: NDArray[np.float64]) -> int | None:
    """Return the least number of equal parts of a side on whose lines all coordinates lie."""
    for count in range(1, MOST_PARTS + 1):
        if np.abs(shares * count - np.round(shares * count)).max() < 1e-6 * count:
            return count
    return None


def _tips(pattern: CreasePattern) -> dict[str, tuple[float, float]]:
    return {
        name: (float(x), float(y))
        for name, v in pattern.tips.items()
        for x, y in [pattern.points[v]]
    }
