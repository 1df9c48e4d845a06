"""The board: one grid of whole cells, and where the tips of a figure may lie on it.

A tip lies on a grid point and has its square around it: two tips at tree distance d (whole
cells) keep max(|dx|, |dy|) >= d. Under book symmetry the mirror line of an odd number of cells
runs through the middle of a column, so a tip on it is *blunt*: one cell wide, from the grid
point on its left to the one on its right. A flap with a width has a line of so many cells for its tip,
lying along x or standing upright along y, and a rectangle around it; it is apart from others as far
as the nearest points of the two are. On the mirror line it lies across, one cell longer where the
columns ask for it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from packer.model.problem import Problem, Range

Size = tuple[int, int]
Box = tuple[int, int, int, int]
GridPoint = tuple[int, int]
"""Column and row of a point of the grid, counted in cells from the lower left corner."""

Pair = tuple[int, int]
"""Two tips by their numbers, the lower one first."""


@dataclass(frozen=True, eq=False)
class Board:
    """Width x height cells with the rules for n tips.

    Attributes
    ----------
    size
        Cells across and up.
    names
        The flaps, for messages.
    distances
        (n, n) whole tree distances in cells.
    mirror
        (n,) index of each tip's mirror image; its own on the axis and without symmetry.
    symmetry
        "none", "book" or "diagonal".
    blunt
        (n,) 1 for a tip on the mirror line of an odd number of cells, else 0.
    boxes
        For each tip the boxes (x from, x to, y from, y to) it may choose from, of a line its lower
        left end; of twins the k-th ones mirror each other. None at all where the board is too
        small.
    alike
        Pairs (i, j) of flaps that could change places without any difference.
    free
        (n,) whether a tip has no placement that tells one side of the board from the other.
    widths
        (n,) cells that the line of a tip is long, 0 for a point.
    upright
        (n,) whether the line of a tip stands upright, as far as that matters.
    turns
        For each of `boxes` whether it is one for an upright line.
    """

    size: Size
    names: tuple[str, ...]
    distances: NDArray[np.intp]
    mirror: NDArray[np.intp]
    symmetry: str
    blunt: NDArray[np.intp]
    boxes: tuple[tuple[Box, ...], ...]
    alike: tuple[Pair, ...]
    free: NDArray[np.bool_]
    widths: NDArray[np.intp]
    upright: NDArray[np.bool_]
    turns: tuple[tuple[bool, ...], ...]

    @property
    def n(self) -> int:
        """How many tips there are."""
        return len(self.names)

    @cached_property
    def pairs(self) -> tuple[Pair, ...]:
        """The pairs i < j of tips, of two pairs that mirror each other only the first."""
        pairs = []
        for i in range(self.n):
            for j in range(i + 1, self.n):
                a, b = int(self.mirror[i]), int(self.mirror[j])
                if (i, j) <= (min(a, b), max(a, b)):
                    pairs.append((i, j))
        return tuple(pairs)

    @cached_property
    def extent(self) -> NDArray[np.intp]:
        """(n, 2) cells that each tip takes along x and along y, by the way it stands."""
        rows = [extents(self, k, upright=up) for k, up in enumerate(self.upright.tolist())]
        return np.array(rows, dtype=np.intp).reshape(-1, 2)

    def turned(self, upright: Sequence[bool]) -> Board:
        """Return the board with the lines of its tips standing otherwise."""
        if not self.widths.any() or not len(upright):
            return self
        return replace(self, upright=np.array(upright, dtype=bool))

    def image(self, tip: int, place: tuple[int, int]) -> tuple[int, int]:
        """Return where the mirror image of a tip at a place lies."""
        x, y = place
        if self.symmetry == "diagonal":
            return y, x
        if self.symmetry == "book":
            return self.size[0] - x - int(self.extent[tip, 0]), y
        return x, y

    def only(self, tips: Sequence[int]) -> Board:
        """Return the board with some of its tips, of a pair both or the rules of neither."""
        rows = np.array(tips, dtype=np.intp)
        place = {int(t): k for k, t in enumerate(tips)}
        return Board(
            self.size,
            tuple(self.names[t] for t in tips),
            self.distances[np.ix_(rows, rows)],
            np.array([place[int(self.mirror[t])] for t in tips], dtype=np.intp),
            self.symmetry,
            self.blunt[rows],
            tuple(self.boxes[t] for t in tips),
            tuple((place[i], place[j]) for i, j in self.alike if i in place and j in place),
            self.free[rows],
            self.widths[rows],
            self.upright[rows],
            tuple(self.turns[t] for t in tips),
        )

    def violations(self, places: Sequence[tuple[int, int]]) -> list[str]:
        """Recompute every rule for one place a tip; return a sentence for each broken one."""
        broken = []
        at = np.array(places, dtype=np.intp)
        apart = separations(at, self.extent)
        i, j = np.triu_indices(self.n, 1)
        for a, b in zip(i.tolist(), j.tolist(), strict=True):
            if apart[a, b] < self.distances[a, b]:
                broken.append(
                    f'"{self.names[a]}" and "{self.names[b]}" are {apart[a, b]} cells apart '
                    f"and need {self.distances[a, b]}"
                )
        for k, (name, here) in enumerate(zip(self.names, places, strict=True)):
            if not any(inside(box, here) for box in self.open_boxes(k)):
                broken.append(f'"{name}" lies off its place at {here[0]}, {here[1]}')
            if self.symmetry != "none" and tuple(places[self.mirror[k]]) != self.image(k, here):
                broken.append(f'"{name}" is no mirror image of its twin')
            if self.widths[k] and self.upright[k] != _upright_as_image(self, k):
                broken.append(f'the line of "{name}" does not stand as that of its twin')
        return broken

    def open_boxes(self, tip: int) -> list[Box]:
        """Return the boxes of a tip that are for its line as it stands."""
        turns = zip(self.boxes[tip], self.turns[tip], strict=True)
        upright = bool(self.widths[tip] and self.upright[tip])
        return [box for box, turn in turns if turn == upright]


def separations(at: NDArray[np.intp], extent: NDArray[np.intp]) -> NDArray[np.intp]:
    """Return (n, n) distances max(|dx|, |dy|) between the nearest points of tips.

    Parameters
    ----------
    at
        (n, 2) their lower left ends.
    extent
        (n, 2) cells that each takes along x and y.
    """
    gap = at[None, :, :] - at[:, None, :] - extent[:, None, :]
    apart: NDArray[np.intp] = np.maximum(gap, gap.transpose(1, 0, 2)).max(axis=2)
    return apart


def extents(board: Board, tip: int, *, upright: bool) -> tuple[int, int]:
    """Return the cells that a tip takes along x and along y when its line stands so.

    A tip on the mirror line is as wide as the columns ask for: of the same parity.
    """
    on_line = board.symmetry == "book" and bool(board.mirror[tip] == tip)
    return _extent(int(board.widths[tip]), board.size[0], upright, on_line)


def _extent(width: int, columns: int, upright: bool, on_line: bool) -> tuple[int, int]:
    across, up = (0, width) if upright else (width, 0)
    return across + (columns - across) % 2 * on_line, up


def _upright_as_image(board: Board, tip: int) -> bool:
    """Return whether the line of a tip has to stand upright as the image of its twin's."""
    upright = bool(board.upright[board.mirror[tip]])
    return not upright if board.symmetry == "diagonal" else upright


def middles(board: Board, places: Sequence[GridPoint]) -> tuple[tuple[float, float], ...]:
    """Return the middle of each tip, whose lower left end is at its place."""
    return tuple(
        (x + across / 2, y + up / 2)
        for (x, y), (across, up) in zip(places, board.extent.tolist(), strict=True)
    )


def inside(box: Box, place: tuple[int, int]) -> bool:
    """Return whether a place lies in a box, sides included."""
    return box[0] <= place[0] <= box[1] and box[2] <= place[1] <= box[3]


def board_of(
    problem: Problem, lengths: Sequence[int], size: Size, upright: Sequence[bool] = ()
) -> Board:
    """Lay a problem with whole lengths on a grid; lines stand as told, or all lie.

    A fixed point of the figure becomes the nearest grid points, half a cell away at most.
    """
    tree = problem.tree
    n = tree.n_tips
    odd = problem.symmetry == "book" and size[0] % 2 == 1
    alone = (tree.twin[:n] == np.arange(n)) if problem.symmetry != "none" else np.zeros(n, bool)
    blunt = (alone & odd).astype(np.intp)
    widths = np.array(tree.widths or (0,) * n, dtype=np.intp)
    boxes: list[tuple[Box, ...]] = []
    turns: list[tuple[bool, ...]] = []
    for tip in range(n):
        known = [
            (box, turn)
            for turn in _turns(problem, tip)
            for part in problem.ranges[tip]
            if (
                box := _box(
                    problem, part, size, _reach(problem, size, tip, upright=turn), lengths[tip]
                )
            )
            is not None
        ]
        if problem.symmetry == "diagonal" and tip > problem.mirror[tip]:
            known.sort(key=lambda pair: not pair[1])  # twins stand crosswise
        boxes.append(tuple(box for box, _ in known))
        turns.append(tuple(turn for _, turn in known))
    distances = np.rint(tree.distances_with(np.array(lengths, float))).astype(np.intp)
    free = np.array(
        [set(places) <= {"axis", "middle", "corner", "edge"} for places in tree.places]
    )
    return Board(
        size,
        tree.flaps,
        distances,
        problem.mirror,
        problem.symmetry,
        blunt,
        tuple(boxes),
        _alike(problem, lengths),
        free,
        widths,
        np.array(upright or (False,) * n, dtype=bool),
        tuple(turns),
    )


def _turns(problem: Problem, tip: int) -> tuple[bool, ...]:
    """Return the ways in which the line of a tip may stand: across a mirror line only lying.

    Upright on the mirror line of an odd number of columns it would be a rectangle, not a line.
    """
    on_line = problem.symmetry == "book" and bool(problem.mirror[tip] == tip)
    wide = bool(problem.tree.widths and problem.tree.widths[tip])
    return (False, True) if wide and not on_line else (False,)


def _reach(problem: Problem, size: Size, tip: int, *, upright: bool) -> Size:
    """Return the cells that a tip takes along x and y when its line stands so."""
    width = problem.tree.widths[tip] if problem.tree.widths else 0
    on_line = problem.symmetry == "book" and bool(problem.mirror[tip] == tip)
    return _extent(width, size[0], upright, on_line)


def _box(problem: Problem, part: Range, size: Size, extent: Size, length: int) -> Box | None:
    """Return a range of the sheet as a box of grid points; None where none is left.

    Some point of a line has to lie in the range, and all of its paper on the sheet where its disc
    has to.
    """
    sides: list[int] = []
    whole = (problem.sheet.width, problem.sheet.height)
    for (low, high), side, cells, wide in zip(
        (part.x, part.y), whole, size, extent, strict=True
    ):
        margin = length if part.margin > 0 else 0
        reach = 0 if margin else wide
        first = max(math.ceil(low / side * cells - 0.5) - reach, margin)
        last = min(math.floor(high / side * cells + 0.5), cells - margin - wide)
        sides += [first, last]
    if part.on_axis and problem.symmetry == "book":
        sides[0] = sides[1] = (size[0] - extent[0]) // 2
        if part.margin > 0 and sides[0] < length:
            return None
    left, right, low, high = sides
    return None if left > right or low > high else (left, right, low, high)


def _alike(problem: Problem, lengths: Sequence[int]) -> tuple[Pair, ...]:
    """Return pairs of neighbouring flaps on one joint with the same length and placement.

    Under a symmetry only left twins and tips on the axis are named; their images follow.
    """
    tree = problem.tree
    last: dict[object, int] = {}
    pairs = []
    for tip in range(tree.n_tips):
        twin = int(problem.mirror[tip])
        if twin < tip:
            continue
        joint = int(tree.ends[tip, 1])
        far = int(tree.ends[twin, 1])
        width = tree.widths[tip] if tree.widths else 0
        key = (joint, far, twin == tip, lengths[tip], tree.places[tip], width)
        if key in last:
            pairs.append((last[key], tip))
        last[key] = tip
    return tuple(pairs)
