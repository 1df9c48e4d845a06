"""The rules of a board as linear inequalities in whole numbers, for either exact solver.

Every tip has two variables, its column and its row; a twin's are written in those of its left
twin, and a tip on the mirror line has its column given. The line of a wide tip has a third one, 1
where it stands upright. A pair is apart in one of four ways.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from packer.grid.board import extents

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from packer.grid.board import Board, GridPoint, Pair

LEFT, RIGHT, BELOW, ABOVE = WAYS = range(4)
ACROSS: Final = {
    LEFT: (BELOW, ABOVE),
    RIGHT: (BELOW, ABOVE),
    BELOW: (LEFT, RIGHT),
    ABOVE: (LEFT, RIGHT),
}
"""For each way the two at right angles to it."""


@dataclass(frozen=True)
class Affine:
    """A whole-number expression: sum of coefficient times variable, plus a constant."""

    terms: tuple[tuple[int, int], ...]
    constant: int = 0

    def minus(self, other: Affine) -> Affine:
        """Return this expression less another one, with like terms joined."""
        total: dict[int, int] = dict(self.terms)
        for variable, factor in other.terms:
            total[variable] = total.get(variable, 0) - factor
        terms = tuple((v, c) for v, c in total.items() if c)
        return Affine(terms, self.constant - other.constant)

    def plus(self, number: int) -> Affine:
        """Return the expression with a number added."""
        return Affine(self.terms, self.constant + number)

    def halved(self) -> Affine:
        """Return half of an expression whose numbers are all even."""
        return Affine(tuple((v, c // 2) for v, c in self.terms), self.constant // 2)

    def value(self, variables: Sequence[int]) -> int:
        """Return what the expression is for given variables."""
        return sum(factor * variables[v] for v, factor in self.terms) + self.constant


def leaders(board: Board) -> list[int]:
    """Return the tips that carry variables: all but right twins."""
    return [k for k in range(board.n) if board.mirror[k] >= k]


def reach(board: Board, tip: int) -> tuple[Affine, Affine]:
    """Return how many cells a tip takes along x and y; variable 2 n + k turns the line of tip k."""
    lying, standing = extents(board, tip, upright=False), extents(board, tip, upright=True)
    if not any(board.turns[tip]):
        standing = lying
    lead = min(tip, int(board.mirror[tip]))
    if board.symmetry == "diagonal" and lead < tip:
        lying, standing = standing, lying
    across, up = (
        Affine(((2 * board.n + lead, b - a),) if a != b else (), a)
        for a, b in zip(lying, standing, strict=True)
    )
    return across, up


def turns_of(board: Board, variables: Sequence[int]) -> tuple[bool, ...]:
    """Return which tips' lines stand upright, for given variables."""
    crosswise = board.symmetry == "diagonal"
    return tuple(
        bool(variables[2 * board.n + min(k, int(board.mirror[k]))])
        != (crosswise and board.mirror[k] < k)
        and any(board.turns[k])
        for k in range(board.n)
    )


def coordinates(board: Board) -> list[tuple[Affine, Affine]]:
    """Return column and row of every tip; variable 2 k is the column of tip k, 2 k + 1 its row."""
    positions = []
    for k in range(board.n):
        lead = min(k, int(board.mirror[k]))
        x, y = Affine(((2 * lead, 1),)), Affine(((2 * lead + 1, 1),))
        if board.symmetry == "diagonal":
            if board.mirror[k] == k:
                y = x
            elif lead < k:
                x, y = y, x
        elif board.symmetry == "book":
            if board.mirror[k] == k:
                x = Affine((), board.size[0]).minus(reach(board, k)[0]).halved()
            elif lead < k:
                x = Affine(((2 * lead, -1),), board.size[0]).minus(reach(board, k)[0])
        positions.append((x, y))
    return positions


def gaps(board: Board, at: Sequence[tuple[Affine, Affine]], pair: Pair) -> tuple[Affine, ...]:
    """Return how far the second tip of a pair lies left, right, below and above the first."""
    (x, y), (u, v) = at[pair[0]], at[pair[1]]
    (a, b), (c, d) = reach(board, pair[0]), reach(board, pair[1])
    return (
        x.minus(u).minus(c),
        u.minus(x).minus(a),
        y.minus(v).minus(d),
        v.minus(y).minus(b),
    )


def open_ways(gap: Sequence[Affine], need: int) -> dict[int, Affine]:
    """Return the directions in which a pair can be apart: not those whose gap is fixed too small.

    Of equal gaps only one is kept, as for twins in a diagonal mirror line.
    """
    kept: dict[int, Affine] = {}
    for way, width in enumerate(gap):
        if (width.terms or width.constant >= need) and width not in kept.values():
            kept[way] = width
    return kept


def separations(
    board: Board, at: Sequence[tuple[Affine, Affine]], fixed: Mapping[Pair, int]
) -> Iterator[tuple[list[Affine], int]]:
    """Yield for every pair the gaps of which one must be wide enough, and how wide that is.

    Parameters
    ----------
    board, at
        The rules, and column and row of every tip.
    fixed
        For some pairs the way in which the second lies from the first; their gap is the only one.
    """
    for pair in board.pairs:
        need = int(board.distances[pair])
        ways = open_ways(gaps(board, at, pair), need)
        way = fixed.get(pair)
        yield ([ways[way]] if way in ways else list(ways.values())), need


def ways_taken(board: Board, places: Sequence[GridPoint]) -> dict[Pair, int]:
    """Return for every pair the way in which the two are farthest apart."""
    directions = {}
    extent = board.extent.tolist()
    for i, j in board.pairs:
        (x, y), (u, v) = places[i], places[j]
        (a, b), (c, d) = extent[i], extent[j]
        width = (x - u - c, u - x - a, y - v - d, v - y - b)
        directions[i, j] = max(WAYS, key=lambda way: width[way])
    return directions


def branches(board: Board) -> list[list[int]]:
    """Return the tips of every twinned branch whose two sides may change places, a left one first.

    Two twins belong to one branch exactly when one is not as near to the other as to its image.
    """
    groups: list[list[int]] = []
    seen: set[int] = set()
    for i in leaders(board):
        if board.mirror[i] == i or i in seen:
            continue
        near = board.distances[i] != board.distances[i, board.mirror]
        branch = [i, *(j for j in range(board.n) if near[j] and j != i)]
        seen.update(branch)
        if board.free[branch].all():
            groups.append(branch)
    return groups


def left_twins_left(board: Board, places: Sequence[GridPoint]) -> tuple[GridPoint, ...]:
    """Return places with the sides of each branch such that its first left twin lies left."""
    swapped = list(places)
    for branch in branches(board):
        x, y = places[branch[0]]
        wide = int(board.extent[branch[0], 0])
        if x > y if board.symmetry == "diagonal" else 2 * x + wide > board.size[0]:
            for tip in branch:
                swapped[tip] = places[int(board.mirror[tip])]
    return tuple(swapped)
