"""All creases that one alignment can make from the lines and marks on a sheet."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.landmarks import alignments as fold
from packer.landmarks.sequence import Step
from packer.units import ON_SHEET, OVERLAP, POOR_CROSSING, SAME_LINE

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from numpy.typing import NDArray

    from packer.landmarks.alignments import Lines, Points, Size

    Indices = NDArray[np.intp]
    Rows = tuple[Lines, Indices]

ALL: Final = frozenset(range(1, 8))
"""The numbers of the seven alignments."""


@dataclass(frozen=True, eq=False)
class Marks:
    """The points that lines make on a sheet, each once.

    Attributes
    ----------
    points
        (m, 2) where.
    pairs
        (m, 2) numbers of two lines that cross there; of several pairs the one nearest to square.
    """

    points: Points
    pairs: Indices


@dataclass(frozen=True, eq=False)
class Choices:
    """Creases that one alignment makes.

    Attributes
    ----------
    lines
        (k, 3) the creases.
    made
        (k, 6) alignment, then up to four numbers of points and lines in the order of the
        alignment's arguments, then the branch.
    """

    lines: Lines
    made: Indices

    def only(self, rows: Indices) -> Choices:
        """Return some of the creases."""
        return Choices(self.lines[rows], self.made[rows])

    def step(self, row: int, pairs: Indices) -> Step:
        """Return a crease as a step; `pairs` are those of the marks it was made from."""
        alignment, *ids, branch = self.made[row].tolist()
        kinds = list(zip(SHAPES[alignment], ids, strict=False))
        points = [pairs[k].tolist() for kind, k in kinds if kind == "p"]
        lines = tuple(k for kind, k in kinds if kind == "l")
        return Step(alignment, tuple((a, b) for a, b in points), lines, branch)


SHAPES: Final = {1: "pp", 2: "pp", 3: "ll", 4: "lp", 5: "plp", 6: "plpl", 7: "pll"}
"""What each alignment takes: points and lines, in order."""


def marks_of(lines: Lines, size: Size) -> Marks:
    """Return the points on the sheet where lines cross at no poor angle."""
    i, j = np.triu_indices(len(lines), 1)
    turn = abs(lines[i, 0] * lines[j, 1] - lines[i, 1] * lines[j, 0])
    good = turn > POOR_CROSSING
    i, j, turn = i[good], j[good], turn[good]
    points = fold.crossing(lines[i], lines[j])
    inside = on_sheet(points, size)
    i, j, points = i[inside], j[inside], points[inside]
    order = np.argsort(-turn[inside], kind="stable")
    first = _first(points[order] / min(size))
    rows = order[np.sort(first)]
    return Marks(points[rows], np.column_stack([i, j])[rows])


def on_sheet(points: Points, size: Size) -> NDArray[np.bool_]:
    """Return whether points lie on the sheet, its edges included."""
    tolerance = ON_SHEET * min(size)
    with np.errstate(invalid="ignore"):
        low, high = points > -tolerance, points < np.add(size, tolerance)
    inside: NDArray[np.bool_] = np.asarray((low & high).all(axis=-1))
    return inside


def creases_from(
    lines: Lines, points: Points, size: Size, kinds: Iterable[int] = ALL
) -> Choices:
    """Return every crease that one alignment makes, each once.

    Left out are creases, and lines folded onto lines, that share less than `OVERLAP` of the
    shorter side; points that would land off the sheet; and the lines themselves.

    Parameters
    ----------
    lines, points
        (n, 3) and (m, 2) what is on the sheet.
    size
        Width and height of the sheet.
    kinds
        Numbers of the alignments used.
    """
    choices = all_ways(lines, points, size, kinds)
    a, b = fold.chord(choices.lines, size)
    with np.errstate(invalid="ignore"):
        long = np.hypot(*(b - a).T) > OVERLAP * min(size)
    return once(lines, choices.only(np.flatnonzero(long)), size)


def all_ways(lines: Lines, points: Points, size: Size, kinds: Iterable[int] = ALL) -> Choices:
    """Return what `creases_from` returns, short creases and every way to make one included."""
    kept = [_BY_NUMBER[kind](lines, points, size) for kind in sorted(kinds)]
    return Choices(
        np.concatenate([row for row, _ in kept]), np.concatenate([ids for _, ids in kept])
    )


def once(lines: Lines, choices: Choices, size: Size) -> Choices:
    """Return the first way to make each crease that is none of the lines."""
    head = same_rows(np.concatenate([lines, choices.lines]), size)
    first = np.flatnonzero(head == np.arange(len(head)))
    return choices.only(first[first >= len(lines)] - len(lines))


def same_rows(lines: Lines, size: Size) -> Indices:
    """Return for each line the first that is the same."""
    cells = _cells(lines / np.array([1.0, 1.0, min(size)]))
    _, first, which = np.unique(cells, return_index=True, return_inverse=True)
    head: Indices = first[which]
    return head


def _cells(rows: NDArray[np.float64]) -> NDArray[np.int64]:
    """Return one whole number for each row, equal where rows are equal to `SAME_LINE`.

    The cells of a row are mixed by odd factors modulo 2**64: of a million different rows two
    share a number once in some ten million tables.
    """
    # shifted, because values such as 0 and 1/2 must not lie on the edge between two cells
    cells = np.floor(rows / SAME_LINE + 0.3819660113).astype(np.int64)
    with np.errstate(over="ignore"):
        mixed: NDArray[np.int64] = (cells * np.array(_MIX[: rows.shape[1]])).sum(axis=1)
    return mixed


_MIX: Final = (-7046029254386353131, 1609587929392839161, -4417276706812531889)
"""Odd factors that spread whole numbers over all of 64 bits."""


def _first(rows: NDArray[np.float64]) -> Indices:
    """Return the first of each set of equal rows."""
    first: Indices = np.unique(_cells(rows), return_index=True)[1]
    return first


def _ids(alignment: int, *columns: Indices, branch: int = 0) -> Indices:
    count = len(columns[0])
    made = np.zeros((count, 6), dtype=np.intp)
    made[:, 0], made[:, 5] = alignment, branch
    for k, column in enumerate(columns):
        made[:, 1 + k] = column
    return made


def _off(lines: Lines, points: Points) -> NDArray[np.bool_]:
    """Return (m, n) whether each point lies beside each line."""
    miss: NDArray[np.bool_] = abs(points @ lines[:, :2].T - lines[:, 2]) > SAME_LINE
    return miss


def _o1(lines: Lines, points: Points, size: Size) -> Rows:
    i, j = np.triu_indices(len(points), 1)
    return fold.through(points[i], points[j]), _ids(1, i, j)


def _o2(lines: Lines, points: Points, size: Size) -> Rows:
    i, j = np.triu_indices(len(points), 1)
    return fold.halving(points[i], points[j]), _ids(2, i, j)


def _o3(lines: Lines, points: Points, size: Size) -> Rows:
    i, j = np.triu_indices(len(lines), 1)
    kept = []
    for branch in (1, -1):
        rows, shared = fold.halving_lines(lines[i], lines[j], branch, size)
        good = shared > OVERLAP * min(size)
        kept.append((rows[good], _ids(3, i[good], j[good], branch=branch)))
    return np.concatenate([r for r, _ in kept]), np.concatenate([m for _, m in kept])


def _o4(lines: Lines, points: Points, size: Size) -> Rows:
    i, j = np.divmod(np.arange(len(lines) * len(points)), max(len(points), 1))
    shared = fold.reach(lines[i], points[j], size)
    good = shared > OVERLAP * min(size)
    i, j = i[good], j[good]
    return fold.square(lines[i], points[j]), _ids(4, i, j)


def _o5(lines: Lines, points: Points, size: Size) -> Rows:
    p, line = np.nonzero(_off(lines, points))
    m = len(points)
    p, line, q = np.repeat(p, m), np.repeat(line, m), np.tile(np.arange(m), len(p))
    other = p != q
    p, line, q = p[other], line[other], q[other]
    kept = []
    for branch in (1, -1):
        landing = fold.landing5(points[p], lines[line], points[q], branch)
        # where p would land on its own mirror image through q the crease runs through both
        good = on_sheet(landing, size)
        rows = fold.line_at(landing[good] - points[p[good]], points[q[good]])
        kept.append((rows, _ids(5, p[good], line[good], q[good], branch=branch)))
    return np.concatenate([r for r, _ in kept]), np.concatenate([k for _, k in kept])


def _o6(lines: Lines, points: Points, size: Size) -> Rows:
    p, line = np.nonzero(_off(lines, points))
    i, j = np.triu_indices(len(p), 1)
    apart = p[i] != p[j]
    i, j = i[apart], j[apart]
    landings = fold.landings6(points[p[i]], lines[line[i]], points[p[j]], lines[line[j]])
    kept = []
    for branch in range(3):
        rows = fold.halving(points[p[i]], landings[:, branch])
        other = fold.mirrored(rows, points[p[j]])
        good = on_sheet(landings[:, branch], size) & on_sheet(other, size)
        made = _ids(6, p[i[good]], line[i[good]], p[j[good]], line[j[good]], branch=branch)
        kept.append((rows[good], made))
    return np.concatenate([r for r, _ in kept]), np.concatenate([m for _, m in kept])


def _o7(lines: Lines, points: Points, size: Size) -> Rows:
    p, line = np.nonzero(_off(lines, points))
    n = len(lines)
    p, line, other = np.repeat(p, n), np.repeat(line, n), np.tile(np.arange(n), len(p))
    landing = fold.landing7(points[p], lines[line], lines[other])
    middle = (points[p] + landing) / 2
    good = on_sheet(landing, size)
    with np.errstate(invalid="ignore"):
        good &= fold.reach(lines[other], middle, size) > OVERLAP * min(size)
    rows = fold.halving(points[p[good]], landing[good])
    return rows, _ids(7, p[good], line[good], other[good])


_BY_NUMBER: Final[dict[int, Callable[[Lines, Points, Size], Rows]]] = {
    1: _o1, 2: _o2, 3: _o3, 4: _o4, 5: _o5, 6: _o6, 7: _o7,
}  # fmt: skip
