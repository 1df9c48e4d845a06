"""A side divided into equal parts: the landmarks of a grid.

Powers of two come by halving. For an odd number ``m`` of parts let ``2**b < m < 2**(b + 1)`` and
``p = m - 2**b``: the line from a corner to the mark ``p / 2**b`` of the far side meets the diagonal
at ``p / m``, on any rectangle (crossing diagonals: similar triangles). What is left over is
``2**b`` parts wide, which halving divides; the ``p`` parts on the other side follow by doubling.
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
    from collections.abc import Callable

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
    steps: list[Step] = []
    lines: list[dict[int, int]] = []
    for upright in (True, False):
        count = parts[0] if upright else parts[1]
        steps = _without_repeats([*steps, *_divide(len(steps), count, upright)], size)
        made = folded(steps, size, np.zeros((1, len(steps), 2)))[:, 0]
        along = 0 if upright else 1
        rows = {0: LEFT if upright else BOTTOM, count: RIGHT if upright else TOP}
        for k in range(4, len(made)):
            at = made[k, 2] * made[k, along] / size[along] * count
            if abs(made[k, along]) > 1 - SAME_LINE and abs(at - round(at)) < 1e-6:
                rows.setdefault(round(at), k)
        lines.append(rows)
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


def _divide(before: int, parts: int, upright: bool) -> list[Step]:
    """Return the creases that divide a side into parts; `before` steps were made already."""
    near, far, base, other = (
        (LEFT, RIGHT, BOTTOM, TOP) if upright else (BOTTOM, TOP, LEFT, RIGHT)
    )
    corner = {k: _pair(k, base) for k in (near, far)}
    odd = parts // (parts & -parts)
    steps: list[Step] = []
    lines = {0: near, parts: far}

    def add(step: Step) -> int:
        steps.append(step)
        return 3 + before + len(steps)

    if odd > 1:
        power = 1 << (odd.bit_length() - 1)
        mark = _binary(odd - power, power, (near, far, base), add)
        slant = add(Step(1, (_pair(near, other), _pair(mark, base))))
        diagonal = add(Step(1, (corner[near], _pair(far, other))))
        across = add(Step(4, (_pair(slant, diagonal),), (base,)))
        lines[(odd - power) * parts // odd] = across
    for at in _order(parts, lines):
        a, b = _halves(at, parts, lines)
        lines[at] = add(Step(3, (), (lines[a], lines[b]), 1))
    return steps


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


def _binary(
    top: int,
    power: int,
    ends: tuple[int, int, int],
    add: Callable[[Step], int],
) -> int:
    """Make the mark ``top / power`` of a side, `top` odd; return its line.

    `ends` are the edges at the near and the far end of the side, and the side.
    """
    near, far, base = ends
    corner = {k: _pair(k, base) for k in (near, far)}
    line = add(Step(2, (corner[near], corner[far])))
    top, bits = top // 2, power.bit_length() - 2
    for _ in range(bits):
        end = far if top & 1 else near
        line = add(Step(2, (corner[end], _pair(line, base))))
        top //= 2
    return line


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
