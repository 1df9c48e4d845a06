"""The longest whole lengths of a figure's parts that one given board holds.

The part that is the shortest for its length decides how large the figure comes out. So its ratio of
cells to length asked is made as large as can be. Where it is to be s at least, every part has at
least the next whole number up from s times its length: these lengths form a chain, each no shorter
than the ones before in any part, and what holds one holds all before it. The longest is found by
bisection, each question answered by the bounds, the filling and the exact search of the grid.

Then errors are evened out: part by part the shortest for its length grows by a cell, where tips can
be moved to make room, but never beyond the part that is the longest for its length already.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.errors import FigureError
from packer.grid.board import board_of
from packer.grid.grid_problem import GridProblem, pose_on_grid
from packer.grid.neighbourhood_search import NeighbourhoodSearch
from packer.grid.neighbourhoods import kept, set_free
from packer.grid.proposals import STILL_ALIKE
from packer.grid.relations import leaders
from packer.grid.rounding import Rounding, balanced, least_cells, open_parts, with_set
from packer.units import HOLDS

if TYPE_CHECKING:
    from collections.abc import Callable

    from packer.deadline import Deadline
    from packer.grid.board import GridPoint, Size
    from packer.grid.grid_params import GridSearchParams
    from packer.grid.neighbourhood_search import GridProgress
    from packer.model.problem import Problem
    from packer.model.tree import Tree

FOR_CHAIN: Final = 0.6
"""Share of the effort that goes into the shortest part; the rest evens the others out."""

LARGER: Final = 24
"""Cells by which the first packing of a question may be larger than the board, to be made smaller."""

MORE_ROOM: Final = 2
"""Times that other tips are moved to make room for one more cell, each time others of them."""


@dataclass(frozen=True)
class Filling:
    """A packing of some whole lengths on the board.

    Attributes
    ----------
    lengths
        Cells of each part.
    places, upright
        As of a `packer.grid.neighbourhood_search.NeighbourhoodSearch`.
    """

    lengths: Rounding
    places: tuple[GridPoint, ...]
    upright: tuple[bool, ...] = ()


@dataclass
class BoardQuestions:
    """Questions about one board, with what is left of the effort.

    Attributes
    ----------
    problem, cells, seed, deadline, progress, params
        As of `longest_lengths`.
    left
        Effort in all that is left.
    asked
        How often an exact solver was asked.
    interrupted
        Whether a KeyboardInterrupt came.
    """

    problem: Problem
    cells: Size
    seed: int
    deadline: Deadline
    progress: Callable[[GridProgress], None] | None
    params: GridSearchParams
    left: float
    asked: int = 0
    interrupted: bool = False

    def search(self, lengths: Rounding, effort: float) -> NeighbourhoodSearch | None:
        """Return a search for a packing of some lengths; None where they do not suit the board."""
        try:
            grid = pose_on_grid(self.problem, lengths, cells=self.cells)
        except FigureError:  # a flap is longer than its place has room
            return None
        if grid.monotone:
            (w, h), more = self.cells, range(LARGER + 1)
            grid = GridProblem(self.problem, lengths, tuple((w + k, h + k) for k in more))
        return NeighbourhoodSearch(
            grid, self.seed, min(effort, self.left), self.deadline, self.progress, self.params
        )

    def fill(self, lengths: Rounding, effort: float) -> tuple[Filling | None, bool]:
        """Return a packing of some lengths, if one is found, and whether there is proven to be none."""
        search = self.search(lengths, effort)
        if search is None:
            return None, True
        granted = search.left
        search.bound_by_counting()
        if search.lower == 0:
            search.fill()
            tips = len(leaders(search.grid.board(0)))
            if tips <= self.params.proofs_up_to and search.upper != 0:
                search.raise_bound_by_subsets()
                _decide_first(search, granted / 2)
            while search.upper and search.lower == 0 and not search.over:
                search.improve(tips)
        self.left -= granted - search.left
        self.asked += search.questions
        if search.upper != 0 or search.places is None:
            return None, search.lower > 0
        return Filling(lengths, search.places, search.upright), False

    def longer(self, filling: Filling, lengths: Rounding) -> Filling | None:
        """Return a packing of somewhat longer lengths near one that is known, if one is found."""
        board = board_of(self.problem, lengths.lengths, self.cells, filling.upright)
        if not all(board.boxes):
            return None
        if not board.violations(filling.places):
            return replace(filling, lengths=lengths)
        search = self.search(lengths, self.left)
        if search is None or search.over:
            return None
        granted, made = search.left, None
        for _ in range(MORE_ROOM):
            free = set_free(board, filling.places, search.rng, self.params.neighbourhood)
            ways = kept(board, filling.places, free)
            answer = search.answer(board, self.params.step_effort, ways)
            if answer.places is not None:
                made = Filling(lengths, answer.places, answer.upright)
                break
        self.left -= granted - search.left
        self.asked += search.questions
        return made


def _decide_first(search: NeighbourhoodSearch, effort: float) -> None:
    """Decide the board asked about, if it is open."""
    if search.upper != 0 and search.lower == 0 and not search.over:
        search.report("searching")
        search.record(0, search.answer(search.grid.board(0), effort), "exact search")


def chain(tree: Tree, most: int) -> list[Rounding]:
    """Return the least whole lengths for each ratio of cells to length asked, shorter ones first.

    Parameters
    ----------
    tree
        The figure; cells that it sets stay as they are, and do not count.
    most
        Cells that its longest path may have.
    """
    free, least = open_parts(tree), least_cells(tree)
    asked = tree.lengths
    top = most / float(tree.distances.max())
    k = np.arange(1, int(np.ceil(asked[free].max() * top)) + 1)
    ratios = np.unique((k[:, None] / asked[free][None, :]).ravel())
    lengths: dict[tuple[int, ...], None] = {}
    for ratio in ratios[ratios <= top * (1 + HOLDS)].tolist():
        cells = np.maximum(np.ceil(ratio * asked * (1 - HOLDS)).astype(np.intp), least)
        taken = with_set(cells, tree)
        if tree.distances_with(taken.astype(float)).max() <= most:
            lengths[tuple(taken.tolist())] = None
    return [balanced(tree, cells) for cells in lengths]


def longest_lengths(questions: BoardQuestions) -> tuple[Filling, str] | None:
    """Return the longest lengths found for a board with their packing.

    Errors stay within `STILL_ALIKE` where the board holds such lengths at all; else the lengths
    with the least error are taken.

    Returns
    -------
    (Filling, str) or None
        With "proven" where the shortest part for its length cannot be longer, else with what ended
        the search: "effort", "time" or "interrupted". None where the board holds nothing, as far
        as is found.
    """
    whole = chain(questions.problem.tree, max(questions.cells))
    alike = [r for r in whole if r.error <= STILL_ALIKE + HOLDS]
    each = FOR_CHAIN * questions.left / max(1, int(np.ceil(np.log2(len(whole) + 1))))
    best, proven = _last_that_fits(questions, alike, each)
    if best is None:
        rest = [r for r in whole if not alike or r.lengths < alike[0].lengths]
        rest = [r for k, r in enumerate(rest) if all(r.error < o.error for o in rest[:k])]
        best, proven = _last_that_fits(questions, rest, each)
    if best is None:
        return None
    best = best if questions.interrupted else _evened(questions, best)
    if questions.interrupted:
        return best, "interrupted"
    return best, "proven" if proven else "time" if questions.deadline.over else "effort"


def _last_that_fits(
    questions: BoardQuestions, rising: list[Rounding], each: float
) -> tuple[Filling | None, bool]:
    """Return the packing of the longest lengths that fit, and whether the next are refuted."""
    best: Filling | None = None
    low, high, proven = -1, len(rising), True
    while high - low > 1:
        middle = (low + high) // 2
        try:
            filling, refuted = questions.fill(rising[middle], each)
        except KeyboardInterrupt:
            if best is None:
                raise
            questions.interrupted = True
            return best, False
        if filling is None:
            high, proven = middle, refuted
        else:
            low, best = middle, filling
    while best is not None and not proven and low + 1 < len(rising):
        further = questions.longer(
            best, rising[low + 1]
        )  # moving tips may do what searching did not
        if further is None:
            break
        low, best = low + 1, further
    return best, proven


def _evened(questions: BoardQuestions, filling: Filling) -> Filling:
    """Return a packing whose shorter parts have grown, none beyond the longest for its length."""
    tree = questions.problem.tree
    asked, free = tree.lengths, open_parts(tree)
    cells = np.array(filling.lengths.lengths)
    most = float((cells / asked)[free].max())
    stuck: set[int] = set()
    while not questions.deadline.over:
        able = [
            k
            for k in np.flatnonzero(free).tolist()
            if k not in stuck
            and tree.twin[k] >= k
            and (cells[k] + 1) / asked[k] <= most * (1 + HOLDS)
        ]
        if not able:
            break
        part = min(able, key=lambda k: (cells[k] / asked[k], k))
        longer = cells.copy()
        longer[[part, tree.twin[part]]] = cells[part] + 1
        try:
            made = questions.longer(filling, balanced(tree, tuple(longer.tolist())))
        except KeyboardInterrupt:
            questions.interrupted = True
            break
        if made is None:
            stuck.add(part)
        else:
            filling, cells = made, longer
    return filling
