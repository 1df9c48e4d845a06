"""The search for the least grid: lower bounds by proofs, upper bounds by packings.

A packing remains one when its grid is cut along a line and a row of cells is put in; so where a
grid is refuted, all smaller ones are. Only tips bound to fixed points of the sheet break that
rule; then every grid from the bound up is refuted by itself.

The packings are improved by large neighbourhood search (Shaw, CP 1998): some tips are placed
anew by the exact solver while the others keep the direction in which they lie from each other.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from packer.deadline import NEVER
from packer.grid import cp_sat, milp
from packer.grid.greedy import greedy
from packer.grid.grid_params import DEFAULT
from packer.grid.lower_bounds import smallest_left, widely_spaced
from packer.grid.neighbourhoods import kept, set_free

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from packer.deadline import Deadline
    from packer.grid.board import Board, GridPoint, Pair, Size
    from packer.grid.cp_sat import Answer
    from packer.grid.grid_params import GridSearchParams
    from packer.grid.grid_problem import GridProblem

LEAST_EFFORT = 0.01
"""Effort that a solver is given at least, so that it answers at all."""


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
        What is being done, in a few words.
    """

    seconds: float
    best: Size | None
    bound: Size
    doing: str


class NeighbourhoodSearch:
    """A running search: the grids below `lower` are refuted, the grid `upper` has a packing.

    Grids are given by their numbers in ``grid.sizes``.

    Parameters
    ----------
    grid
        The figure in whole cells and the grids to choose from.
    seed
        For everything random.
    effort
        Deterministic seconds of exact search to spend; `left` is what remains of them.
    deadline
        When to end by the clock.
    progress
        Called with a `GridProgress`.
    params
        The constants of the search.

    Attributes
    ----------
    places
        The packing on `upper`: a grid point for each tip.
    rule
        What refuted the last grid below `lower`.
    questions
        How often the exact solver was asked.
    """

    def __init__(
        self,
        grid: GridProblem,
        seed: int,
        effort: float,
        deadline: Deadline = NEVER,
        progress: Callable[[GridProgress], None] | None = None,
        params: GridSearchParams = DEFAULT,
    ) -> None:
        self.grid = grid
        self.seed = seed
        self.left = effort
        self.deadline = deadline
        self.progress = progress
        self.params = params
        self.decide = cp_sat.decide if cp_sat.available() else milp.decide
        self.rng = np.random.default_rng(seed)
        self.lower = 0
        self.upper: int | None = None
        self.places: tuple[GridPoint, ...] | None = None
        self.upright: tuple[bool, ...] = ()
        self.rule = ""
        self.questions = 0

    @property
    def over(self) -> bool:
        """Whether effort or time are used up."""
        return self.left <= 0 or self.deadline.over

    @property
    def proven(self) -> bool:
        """Whether the least grid is proven."""
        return self.upper is not None and self.lower >= self.upper

    def report(self, doing: str) -> None:
        """Call the listener, if there is one."""
        if self.progress is not None:
            best = None if self.upper is None else self.grid.sizes[self.upper]
            bound = self.grid.sizes[min(self.lower, len(self.grid.sizes) - 1)]
            self.progress(GridProgress(self.deadline.elapsed, best, bound, doing))

    def answer(
        self, board: Board, effort: float, fixed: dict[Pair, int] | None = None
    ) -> Answer:
        """Decide a board within what is left of effort and time."""
        effort = min(effort, self.left)
        self.questions += 1
        answer = self.decide(
            board,
            max(effort, LEAST_EFFORT),
            self.seed + self.questions,
            deadline=self.deadline,
            fixed=fixed,
        )
        self.left -= answer.effort + self.params.model_effort * len(board.pairs)
        return answer

    def bound_by_counting(self) -> None:
        """Refute grids by counting tips that are pairwise far apart, and by area."""
        self.lower, self.rule = smallest_left(
            self.grid.sizes, self.grid.problem.tree, self.grid.rounding.lengths
        )

    def fill(self) -> None:
        """Fill a first grid greedily, the smallest on which that succeeds or a few more."""
        for _ in self.fillings():
            self.report("filling")

    def fillings(self) -> Iterator[Size]:
        """Yield each grid before it is filled greedily, until one is.

        Grids are tried in larger steps where time is up already.
        """
        k = self.lower
        while k < len(self.grid.sizes) and self.upper is None:
            yield self.grid.sizes[k]
            board = self.grid.board(k)
            board = board.turned(_random_turns(board, self.rng))
            tries = 1 if self.over else self.params.orders
            places = greedy(board, self.rng, tries, self.params)
            if places is not None:
                self.upper, self.places = k, places
                self.upright = tuple(board.upright.tolist())
            p = self.params
            k += 1 + int(k * (p.late_filling_step if self.over else p.filling_step))

    def record(self, k: int, answer: Answer, rule: str) -> None:
        """Take the answer about the k-th grid into the bounds."""
        if answer.places is not None:
            self.upper, self.places, self.upright = k, answer.places, answer.upright
        if answer.refuted and (k == self.lower or self.grid.monotone):
            self.lower = max(self.lower, k + 1)
            self.rule = rule

    def decrease(self, effort: float) -> None:
        """Decide ever smaller grids from above until one is refuted or not decided."""
        while self.upper is not None and not self.proven and not self.over:
            self.report("searching")
            k = self.upper - 1
            answer = self.answer(self.grid.board(k), effort)
            self.record(k, answer, "exact search")
            if answer.places is None:
                return

    def raise_bound(self, effort: float) -> None:
        """Decide ever larger grids from below until one is filled or not decided."""
        last = len(self.grid.sizes)
        while self.lower < last and not self.proven and not self.over:
            self.report("proving")
            answer = self.answer(self.grid.board(self.lower), effort)
            self.record(self.lower, answer, "exact search")
            if not answer.refuted:
                return

    def raise_bound_by_subsets(self) -> None:
        """Refute grids by a few tips that are far apart, then by more of them."""
        size = self.params.subset
        while not self.proven and not self.over:
            board = self.grid.board(self.lower)
            tips = widely_spaced(board, size)
            if len(tips) == board.n:
                return
            self.report(f"proving with {len(tips)} flaps")
            answer = self.answer(board.only(tips), self.params.subset_effort)
            if answer.refuted:
                names = ", ".join(board.names[t] for t in tips)
                self.record(self.lower, answer, f"exact search with {len(tips)} flaps: {names}")
            elif answer.places is None:
                return
            else:
                size += self.params.subset_step

    def improve(self, patience: int) -> None:
        """Improve the packing by large neighbourhood search, one side of the grid at a time.

        Ends after as many steps in a row without a smaller grid as there is patience. Some steps
        place tips anew on the same grid, so that other tips become free to move.
        """
        misses = 0
        assert self.upper is not None
        assert self.places is not None
        size, places, upright = self.grid.sizes[self.upper], self.places, self.upright
        while not self.proven and not self.over and misses < patience:
            self.report("improving")
            goal = self.grid.sizes[self.upper - 1]
            sideways = self.rng.random() < self.params.sideways
            smaller = size if sideways else self._next(size, goal)
            board = self.grid.on(smaller)
            free = set_free(
                board.turned(upright), places, self.rng, self.params.neighbourhood, self.params
            )
            directions = kept(self.grid.on(size).turned(upright), places, free)
            answer = self.answer(board, self.params.step_effort, directions)
            misses += 1
            if answer.places is None:
                continue
            if smaller != size:
                misses = 0
            size, places, upright = smaller, answer.places, answer.upright
            if size == goal:
                self.upper, self.places, self.upright = self.upper - 1, places, upright

    def _next(self, size: Size, goal: Size) -> Size:
        """Return a grid with one side of a size and one of the goal, or the goal itself."""
        steps = [step for step in ((goal[0], size[1]), (size[0], goal[1])) if step != size]
        if self.grid.problem.symmetry == "diagonal" or len(steps) < 2:
            return goal
        return steps[int(self.rng.integers(2))]


def _random_turns(board: Board, rng: np.random.Generator) -> tuple[bool, ...]:
    """Return lines of wide tips turned at random, twins as images of each other."""
    if not board.widths.any():
        return ()
    turns = rng.random(board.n) < 0.5
    turns &= [any(turn) for turn in board.turns]
    crosswise = board.symmetry == "diagonal"
    return tuple(
        bool(board.widths[k])
        and bool(turns[min(k, int(board.mirror[k]))])
        != (crosswise and bool(board.mirror[k] < k))
        for k in range(board.n)
    )
