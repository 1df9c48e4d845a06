"""The board: one grid of whole cells, and where the tips of a figure may lie on it.

A tip lies on a grid point and has its square around it: two tips at tree distance d (whole
cells) keep max(|dx|, |dy|) >= d. Under book symmetry the mirror line of an odd number of cells
runs through the middle of a column, so a tip on it is *blunt*: one cell wide, from the grid
point on its left to the one on its right.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
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
        (n,) 1 for a tip that is one cell wide, else 0.
    boxes
        For each tip the boxes (x from, x to, y from, y to) it may choose from; of twins the k-th
        ones mirror each other. None at all where the board is too small.
    alike
        Pairs (i, j) of flaps that could change places without any difference.
    free
        (n,) whether a tip has no placement that tells one side of the board from the other.
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

    def image(self, tip: int, place: tuple[int, int]) -> tuple[int, int]:
        """Return where the mirror image of a tip at a place lies."""
        x, y = place
        if self.symmetry == "diagonal":
            return y, x
        if self.symmetry == "book":
            return self.size[0] - x - int(self.blunt[tip]), y
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
        )

    def violations(self, places: Sequence[tuple[int, int]]) -> list[str]:
        """Recompute every rule for one place a tip; return a sentence for each broken one."""
        broken = []
        at = np.array(places, dtype=np.intp)
        apart = separations(at, self.blunt)
        i, j = np.triu_indices(self.n, 1)
        for a, b in zip(i.tolist(), j.tolist(), strict=True):
            if apart[a, b] < self.distances[a, b]:
                broken.append(
                    f'"{self.names[a]}" and "{self.names[b]}" are {apart[a, b]} cells apart '
                    f"and need {self.distances[a, b]}"
                )
        for k, (name, here) in enumerate(zip(self.names, places, strict=True)):
            if not any(inside(box, here) for box in self.boxes[k]):
                broken.append(f'"{name}" lies off its place at {here[0]}, {here[1]}')
            if self.symmetry != "none" and tuple(places[self.mirror[k]]) != self.image(k, here):
                broken.append(f'"{name}" is no mirror image of its twin')
        return broken


def separations(at: NDArray[np.intp], blunt: NDArray[np.intp]) -> NDArray[np.intp]:
    """Return (n, n) distances max(|dx|, |dy|) between tips, from the nearer end of a blunt one."""
    x, y = at.T
    right = x[None, :] - x[:, None] - blunt[:, None]
    up = np.abs(y[None, :] - y[:, None])
    apart: NDArray[np.intp] = np.maximum(np.maximum(right, right.T), up)
    return apart


def inside(box: Box, place: tuple[int, int]) -> bool:
    """Return whether a place lies in a box, sides included."""
    return box[0] <= place[0] <= box[1] and box[2] <= place[1] <= box[3]


def board_of(problem: Problem, lengths: Sequence[int], size: Size) -> Board:
    """Lay a problem with whole lengths on a grid.

    A fixed point of the figure becomes the nearest grid points, half a cell away at most.
    """
    tree = problem.tree
    n = tree.n_tips
    odd = problem.symmetry == "book" and size[0] % 2 == 1
    alone = (tree.twin[:n] == np.arange(n)) if problem.symmetry != "none" else np.zeros(n, bool)
    blunt = (alone & odd).astype(np.intp)
    boxes = tuple(
        tuple(
            box
            for part in problem.ranges[tip]
            if (box := _box(problem, part, size, int(blunt[tip]), lengths[tip])) is not None
        )
        for tip in range(n)
    )
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
        boxes,
        _alike(problem, lengths),
        free,
    )


def _box(problem: Problem, part: Range, size: Size, blunt: int, length: int) -> Box | None:
    """Return a range of the sheet as a box of grid points; None where none is left."""
    sides: list[int] = []
    whole = (problem.sheet.width, problem.sheet.height)
    for (low, high), side, cells in zip((part.x, part.y), whole, size, strict=True):
        margin = length if part.margin > 0 else 0
        first = max(math.ceil(low / side * cells - 0.5), margin)
        last = min(math.floor(high / side * cells + 0.5), cells - margin)
        sides += [first, last]
    if part.on_axis and problem.symmetry == "book":
        sides[0] = sides[1] = (size[0] - blunt) // 2
        if part.margin > 0 and sides[0] < length:
            return None
    return None if sides[0] > sides[1] or sides[2] > sides[3] else tuple(sides)  # type: ignore[return-value]


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
        key = (joint, far, twin == tip, lengths[tip], tree.places[tip])
        if key in last:
            pairs.append((last[key], tip))
        last[key] = tip
    return tuple(pairs)
