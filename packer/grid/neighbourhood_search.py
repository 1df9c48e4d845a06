"""The search for the least grid: a proven bound from below, packings from above.

A packing stays one when its grid grows, cut open along a line: so a grid that is refuted refutes
all smaller ones. Only tips bound to fixed points of the sheet break that, and then every grid
from the bound up is refuted one by one.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.deadline import NEVER
from packer.grid import cp_sat, milp
from packer.grid.greedy import greedy
from packer.grid.lower_bounds import smallest_left, widely_spaced
from packer.grid.neighbourhoods import kept, set_free

if TYPE_CHECKING:
    from collections.abc import Callable

    from packer.deadline import Deadline
    from packer.grid.board import Board, GridPoint, Pair, Size
    from packer.grid.cp_sat import Answer
    from packer.grid.grid_problem import GridProblem

TRIES: Final = 2
"""Random orders of the quick filling on each grid, each a thirtieth larger than the one before.
For 40 random flaps 8 orders on every grid reach 63 cells in CPU 1.9 s; these reach 67 in 0.6 s, and
placing anew reaches 60 in 5 s more."""

NEIGHBOURS: Final = 8
"""Tips that are placed anew at a time, or a few more. On 40 random flaps, from 63 cells, CPU 20 s:
6 reach 60, 10 reach 59, 14 reach 61."""

SHAKES: Final = 0.3
"""Share of questions that only place tips anew. On 40 random flaps, CPU 25 s: none reach 60 cells,
0.3 reach 59, 0.6 reach 60."""


@dataclass(frozen=True)
class GridProgress:
    """How far a search is.

    Attributes
    ----------
    seconds
        Elapsed time.
    best
        The smallest grid filled so far, if any.
    bound
        The smallest grid not proven too small.
    doing
        What is going on, in a few words.
    """

    seconds: float
    best: Size | None
    bound: Size
    doing: str


class NeighbourhoodSearch:
    """The state of a search: grids below `lower` are refuted, grid `upper` is filled by `places`."""

    def __init__(
        self,
        grid: GridProblem,
        seed: int,
        effort: float,
        deadline: Deadline = NEVER,
        progress: Callable[[GridProgress], None] | None = None,
    ) -> None:
        self.grid = grid
        self.seed = seed
        self.left = effort
        self.deadline = deadline
        self.progress = progress
        self.decide = cp_sat.decide if cp_sat.available() else milp.decide
        self.rng = np.random.default_rng(seed)
        self.lower = 0
        self.upper: int | None = None
        self.places: tuple[GridPoint, ...] | None = None
        self.rule = ""
        self.asked = 0

    @property
    def over(self) -> bool:
        """Whether effort or time are used up."""
        return self.left <= 0 or self.deadline.over

    @property
    def done(self) -> bool:
        """Whether the least grid is proven."""
        return self.upper is not None and self.lower >= self.upper

    def note(self, doing: str) -> None:
        """Tell whoever listens how far the search is."""
        if self.progress is not None:
            best = None if self.upper is None else self.grid.sizes[self.upper]
            bound = self.grid.sizes[min(self.lower, len(self.grid.sizes) - 1)]
            self.progress(GridProgress(self.deadline.elapsed, best, bound, doing))

    def ask(self, board: Board, effort: float, fixed: dict[Pair, int] | None = None) -> Answer:
        """Decide a board within what is left of effort and time."""
        effort = min(effort, self.left)
        self.asked += 1
        answer = self.decide(
            board,
            max(effort, 0.01),
            self.seed + self.asked,
            deadline=self.deadline,
            fixed=fixed,
        )
        # Writing a model takes time as well: for the 780 pairs of 40 flaps 0.08 of a CPU second.
        self.left -= answer.effort + 1e-4 * len(board.pairs)
        return answer

    def count(self) -> None:
        """Refute grids by counting tips that are pairwise far apart, and by area."""
        self.lower, self.rule = smallest_left(
            self.grid.sizes, self.grid.problem.tree, self.grid.rounding.lengths
        )

    def fill(self) -> None:
        """Fill a first grid quickly, the smallest on which it succeeds or a few more.

        Where time is up already any grid will do: the next one is then a quarter larger.
        """
        k = self.lower
        while k < len(self.grid.sizes) and self.upper is None:
            self.note("filling")
            board = self.grid.board(k)
            places = greedy(board, self.rng, 1 if self.over else TRIES)
            if places is not None:
                self.take(k, places)
            k += 1 + k // (4 if self.over else 30)

    def take(self, k: int, places: tuple[GridPoint, ...]) -> None:
        """Keep a filling of the k-th grid."""
        self.upper, self.places = k, places

    def learn(self, k: int, answer: Answer, rule: str) -> None:
        """Keep what the answer about the k-th grid says."""
        if answer.places is not None:
            self.take(k, answer.places)
        if answer.refuted and (k == self.lower or self.grid.monotone):
            self.lower = max(self.lower, k + 1)
            self.rule = rule

    def descend(self, effort: float) -> None:
        """Ask for ever smaller grids until one is refuted or not decided."""
        while self.upper is not None and not self.done and not self.over:
            self.note("searching")
            k = self.upper - 1
            answer = self.ask(self.grid.board(k), effort)
            self.learn(k, answer, "exact search")
            if answer.places is None:
                return

    def climb(self, effort: float) -> None:
        """Refute the smallest grid left, and the next, until one is filled or not decided."""
        last = len(self.grid.sizes)
        while self.lower < last and not self.done and not self.over:
            self.note("proving")
            answer = self.ask(self.grid.board(self.lower), effort)
            self.learn(self.lower, answer, "exact search")
            if not answer.refuted:
                return

    def climb_by_parts(self, effort: float) -> None:
        """Refute small grids by a few tips that need much room, then by more of them."""
        size = 6
        while not self.done and not self.over:
            board = self.grid.board(self.lower)
            tips = widely_spaced(board, size)
            if len(tips) == board.n:
                return
            self.note(f"proving with {len(tips)} flaps")
            answer = self.ask(board.only(tips), effort)
            if answer.refuted:
                names = ", ".join(board.names[t] for t in tips)
                self.learn(self.lower, answer, f"exact search with {len(tips)} flaps: {names}")
            elif answer.places is None:
                return
            else:
                size += 2

    def improve(self, patience: int) -> None:
        """Place some tips anew on the next smaller grid, the others keeping their order.

        Ends after as many questions in a row without a smaller grid as there is patience.

        One side of the grid is made smaller at a time. In between tips are placed anew where
        nothing is gained, so that others become free to move.
        """
        misses = 0
        assert self.upper is not None
        assert self.places is not None
        size, places = self.grid.sizes[self.upper], self.places
        while not self.done and not self.over and misses < patience:
            self.note("improving")
            goal = self.grid.sizes[self.upper - 1]
            smaller = size if self.rng.random() < SHAKES else self._next(size, goal)
            board = self.grid.on(smaller)
            free = set_free(board, places, self.rng, NEIGHBOURS)
            answer = self.ask(board, 0.5, kept(self.grid.on(size), places, free))
            misses += 1
            if answer.places is None:
                continue
            if smaller != size:
                misses = 0
            size, places = smaller, answer.places
            if size == goal:
                self.take(self.upper - 1, places)

    def _next(self, size: Size, goal: Size) -> Size:
        """Return a grid with one side of a size and one of the goal, or the goal itself."""
        steps = [step for step in ((goal[0], size[1]), (size[0], goal[1])) if step != size]
        if self.grid.problem.symmetry == "diagonal" or len(steps) < 2:
            return goal
        return steps[int(self.rng.integers(2))]
