"""Symmetric packings of equal flaps, as a source of start points: a plug-in of the search.

Many of the best known packings of equal circles in a square mirror themselves in a line through the
middles of two sides or in a diagonal, and others do except for a few circles. Among packings that are held
to such a line the best are found much sooner, since half of the tips follow from the other half. In
a first stage each packing has a line of its own, with as many tips on it as may be; in a second all
are held to the line of the best. After both they are perturbed a little and released.

The search calls `symmetric_starts` alone, where `applies` says that it may.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.local_solver.flexible_lengths import flexible
from packer.local_solver.nonlinear_program import MirrorLine, compile_program
from packer.local_solver.solver import LocalSolver, StartPoint, better
from packer.model.figure import Figure, Flap
from packer.model.problem import Problem, Range
from packer.search.memetic.population import next_generation, with_starts
from packer.search.memetic.preselection import preselected_starts

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.local_solver.nonlinear_program import NonlinearProgram, RangeChoice
    from packer.local_solver.solver import LocalOptimum
    from packer.model.figure import Symmetry
    from packer.search.memetic.memetic_params import MemeticParams

    Floats = NDArray[np.float64]

LINES: Final[tuple[Symmetry, ...]] = ("book", "diagonal")
SAME_PLACE: Final = 1e-9
"""Difference of two places along a line, as a share of the diagonal, up to which they are one."""


@dataclass(frozen=True, eq=False)
class SymmetricSearch:
    """A population of symmetric packings.

    Attributes
    ----------
    population
        Best first.
    line
        The line that all are held to in the second stage; None in the first, where each has its
        own, which is its choice.
    fresh
        Fresh starts solved in this stage.
    failures
        Offspring since the best improved.
    """

    population: tuple[LocalOptimum, ...] = ()
    line: MirrorLine | None = None
    fresh: int = 0
    failures: int = 0

    @property
    def spent(self) -> bool:
        """Whether both stages are over."""
        return self.line is not None and not self.population


def applies(problem: Problem) -> bool:
    """Whether any two flaps may be twins: all are equal and free to lie anywhere."""
    width, height = problem.sheet.width, problem.sheet.height
    return (
        problem.symmetry == "none"
        and not problem.tree.rivers
        and problem.ranges[0] == (Range((0.0, width), (0.0, height)),)
        and not len(flexible(problem.tree).ends)
        and bool(problem.alike.all())
    )


def symmetric_starts(
    solver: LocalSolver,
    search: SymmetricSearch,
    best: float,
    params: MemeticParams,
    rng: np.random.Generator,
) -> tuple[SymmetricSearch, list[StartPoint], int]:
    """Go on searching among symmetric packings for one batch.

    Parameters
    ----------
    solver
        Of equal flaps without a symmetry.
    search
        How far it has come.
    best
        The scale of a packing that is known.
    params
        Of the search.
    rng
        Makes starts and offspring.

    Returns
    -------
    search, starts, solves
        The search a batch later; at the end of a stage the start points, in the problem without
        symmetry, that its packings become when they are released; and how many solves were made.
    """
    search, count = _next_batch(solver.problem, search, best, params, rng)
    if search.failures < params.symmetric.patience * solver.problem.tree.n_tips:
        return search, [], count
    starts = _released(solver, search, params, rng)
    return _next_stage(solver.problem, search), starts, count


def _next_batch(
    problem: Problem,
    search: SymmetricSearch,
    best: float,
    params: MemeticParams,
    rng: np.random.Generator,
) -> tuple[SymmetricSearch, int]:
    """Return the search after another batch of solves, and how many these were."""
    solver = _solver(problem, search.line, params)
    left = params.symmetric.starts * problem.tree.n_tips - search.fresh
    if left > 0:
        starts = preselected_starts(solver, best, min(left, solver.batch), params, rng)
        population = with_starts(solver, search.population, starts, params)
        fresh = search.fresh + len(starts)
        return replace(search, population=population, fresh=fresh), len(starts)
    population, count = next_generation(solver, search.population, params, rng)
    rose = better(population[0], search.population[0])
    failures = 0 if rose else search.failures + count
    return replace(search, population=population, failures=failures), count


def _next_stage(problem: Problem, search: SymmetricSearch) -> SymmetricSearch:
    """Return the next stage: those with the line of the best, or none after the second."""
    if search.line is not None:
        return replace(search, population=())
    line = MirrorLine(*search.population[0].choice)
    held = [optimum for optimum in search.population if optimum.choice == line]
    plain = (0,) * problem.tree.n_tips
    return SymmetricSearch(tuple(replace(optimum, choice=plain) for optimum in held), line)


def _released(
    solver: LocalSolver,
    search: SymmetricSearch,
    params: MemeticParams,
    rng: np.random.Generator,
) -> list[StartPoint]:
    """Return the start points of symmetric packings, perturbed a little, once all tips are free."""
    held = _solver(solver.problem, search.line, params)
    noise = params.symmetric.noise * _side(solver.problem)
    points = np.stack([held.points(optimum) for optimum in search.population])
    points += noise * rng.standard_normal(points.shape)
    return [solver.start_point(row, rng) for row in points]


class SymmetricSolver(LocalSolver):
    """Solves for packings of one problem that mirror themselves, each in a line of its own."""

    def __init__(self, problem: Problem, params: MemeticParams) -> None:
        super().__init__(problem, initial=params.initial)
        self.on_line = params.symmetric.on_line * _side(problem)

    @property
    def batch(self) -> int:
        """How many start points are solved at once: half of the tips follow from the others."""
        return self.params.batch_for(self.problem.tree.n_tips // 2)

    def program(self, choice: RangeChoice | MirrorLine) -> NonlinearProgram:
        """Return the program of a line and so many tips on it."""
        return _program(self.problem, MirrorLine(*choice))

    def start_point(self, points: Floats, rng: np.random.Generator) -> StartPoint:
        """Return the start point made of the (tips, 2) points on one side of a line.

        The line is the one in which more of them mirror each other, the side the one on which more
        lie; those that are too many there are left out at random.
        """
        line = _line(self.problem, points, rng)
        off = _off(self.problem, points, line)
        single = _on_line(off, self.on_line, rng)
        order = np.argsort(np.abs(off), kind="stable")
        rest = order[single:]
        sides = [rest[off[rest] > 0], rest[off[rest] <= 0]]
        side = max(rng.permutation(2), key=lambda k: len(sides[k]))
        program = self.program(MirrorLine(line, single))
        image, own = program.problem.mirror, np.arange(len(points))
        placed = np.empty_like(points)
        placed[image == own] = points[order[:single]]
        placed[image > own] = points[rng.permutation(sides[side])[: len(rest) // 2]]
        return StartPoint(program.choice, program.variables(placed))


def _solver(problem: Problem, line: MirrorLine | None, params: MemeticParams) -> LocalSolver:
    return (
        SymmetricSolver(problem, params)
        if line is None
        else LocalSolver(_paired(problem, line), initial=params.initial)
    )


@lru_cache(maxsize=64)
def _program(problem: Problem, line: MirrorLine) -> NonlinearProgram:
    paired = _paired(problem, line)
    return replace(compile_program(paired, (0,) * paired.tree.n_tips), choice=line)


@lru_cache(maxsize=64)
def _paired(problem: Problem, line: MirrorLine) -> Problem:
    """Return the problem with some tips on a line and the others in pairs."""
    n, length = problem.tree.n_tips, float(problem.tree.lengths[0])
    pairs = (n - line.on_line) // 2
    flaps = [Flap(f"pair {k}", "hub", length, pair=True) for k in range(pairs)]
    flaps += [Flap(f"flap {k}", "hub", length) for k in range(line.on_line)]
    figure = Figure(problem.figure.name, tuple(flaps), ())
    return Problem(figure, problem.sheet, LINES[line.line])


def _side(problem: Problem) -> float:
    """Return the side of one tip's share of the sheet."""
    return math.sqrt(problem.sheet.area / problem.tree.n_tips)


def _line(problem: Problem, points: Floats, rng: np.random.Generator) -> int:
    """Return the line in which more points mirror others: such two lie as far along it."""
    if not problem.sheet.is_square:
        return 0
    along = np.sort(np.stack([points[:, 1], points.sum(axis=1)]), axis=1)
    paired = (np.diff(along, axis=1) < SAME_PLACE * problem.sheet.diagonal).sum(axis=1)
    return int((paired + rng.random(2)).argmax())


def _off(problem: Problem, points: Floats, line: int) -> Floats:
    """Return (tips,) how far points lie to one side of a line."""
    x, y = points.T
    off: Floats = (y - x) / math.sqrt(2) if line else x - problem.sheet.width / 2
    return off


def _on_line(off: Floats, near: float, rng: np.random.Generator) -> int:
    """Return how many tips are put on the line; an even number is left."""
    count = int((np.abs(off) < near).sum())
    if (len(off) - count) % 2 == 0:
        return count
    return count + (1 if count == 0 or rng.random() < 0.5 else -1)
