"""Mirrored packings of equal flaps, from which a brood of free ones hatches.

Of the largest packings that the search found of 31 to 100 equal flaps in a square 25 mirror themselves
in a line through the middle of two sides or in a diagonal, with 2 to 9 tips on it, and more do but for
a few tips. Among packings that are held to such a line the best are found much sooner, since half of
the tips follow from the other half. At first each has a line of its own and as many tips on it as may
be; then all are held to the line of the best; after both they are shaken a little and let go.

The best known packing of 89 is .02 % larger than one that is held to a line with three tips on it, and
was seldom found otherwise.

Constants without an experiment beside them were set once and not varied.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.local_solver.flexible_lengths import flexible
from packer.local_solver.nonlinear_program import compile_program
from packer.local_solver.solver import LocalSolver, StartPoint, batch_of, better
from packer.model.figure import Figure, Flap
from packer.model.problem import Problem, Range
from packer.search.memetic.population import climbed, moved_on
from packer.search.memetic.preselection import screened_starts

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.local_solver.nonlinear_program import NonlinearProgram, RangeChoice
    from packer.local_solver.solver import LocalOptimum
    from packer.model.figure import Symmetry
    from packer.model.tree import Tree

LINES: Final[tuple[Symmetry, ...]] = ("book", "diagonal")
STARTS: Final = 2
"""Fresh starts for each flap, twice: with lines of their own, and with one line.

With two, one and none for the one line 16 of 44, 4 of 14 and 2 of 14 such searches led to the best
known packing of 89 flaps.
"""
PATIENCE: Final = 3
"""Ascents after moves, for each flap, that may bring no better best."""
ON_LINE: Final = 0.25
"""Distance from a line below which a tip is put on it, as a share of the side of one tip's share of
the sheet."""
SHAKEN: Final = 0.05
"""How far tips are shaken before they are let go, as a share of the same."""
SAME_PLACE: Final = 1e-9
"""Difference of two places along a line, as a share of the diagonal, up to which they are one."""


@dataclass(frozen=True, eq=False)
class SymmetricSearch:
    """A population of mirrored packings.

    Attributes
    ----------
    spots
        Best first.
    line
        The line of all of them, by position in `LINES`, and how many tips lie on it; None while
        each has its own. Then that is its choice.
    fresh
        Fresh ascents made since the line was chosen, or not yet.
    failures
        Ascents after moves since the best improved.
    """

    spots: tuple[LocalOptimum, ...] = ()
    line: RangeChoice | None = None
    fresh: int = 0
    failures: int = 0

    def ripe(self, tree: Tree) -> bool:
        """Whether it has been searched for long enough with one line, or without."""
        return self.failures >= PATIENCE * tree.n_tips

    @property
    def spent(self) -> bool:
        """Whether all have been let go."""
        return self.line is not None and not self.spots


def mirrorable(problem: Problem) -> bool:
    """Whether any two flaps may be twins: all are equal and free to lie anywhere."""
    width, height = problem.sheet.width, problem.sheet.height
    return (
        problem.symmetry == "none"
        and not problem.tree.rivers
        and problem.ranges[0] == (Range((0.0, width), (0.0, height)),)
        and not len(flexible(problem.tree).ends)
        and bool(problem.alike.all())
    )


def searched(
    problem: Problem, mirrored: SymmetricSearch, best: float, rng: np.random.Generator
) -> tuple[SymmetricSearch, int]:
    """Return a population after another batch of ascents, and how many these were.

    Parameters
    ----------
    problem
        Of equal flaps, without a symmetry.
    mirrored
        The population.
    best
        The scale of a packing that is known.
    rng
        Makes the starts and moves.
    """
    shop = _workshop(problem, mirrored.line)
    if (left := STARTS * problem.tree.n_tips - mirrored.fresh) > 0:
        bases = screened_starts(shop, best, min(left, shop.at_once), rng)
        spots = climbed(shop, mirrored.spots, bases)
        return replace(mirrored, spots=spots, fresh=mirrored.fresh + len(bases)), len(bases)
    spots, count = moved_on(shop, mirrored.spots, rng)
    rose = better(spots[0], mirrored.spots[0])
    return replace(
        mirrored, spots=spots, failures=0 if rose else mirrored.failures + count
    ), count


def narrowed(problem: Problem, mirrored: SymmetricSearch) -> SymmetricSearch:
    """Return what is searched next: those with the line of the best, or none if all have it."""
    if mirrored.line is not None:
        return replace(mirrored, spots=())
    line = mirrored.spots[0].choice
    spots = [spot for spot in mirrored.spots if spot.choice == line]
    plain = (0,) * problem.tree.n_tips
    return SymmetricSearch(tuple(replace(spot, choice=plain) for spot in spots), line)


def let_go(
    shop: LocalSolver, mirrored: SymmetricSearch, rng: np.random.Generator
) -> list[StartPoint]:
    """Return where mirrored packings come to lie, shaken a little, once all tips are free."""
    held = _workshop(shop.problem, mirrored.line)
    shock = SHAKEN * _side(shop.problem)
    points = np.stack([held.points(spot) for spot in mirrored.spots])
    points += shock * rng.standard_normal(points.shape)
    return [shop.start_point(row, rng) for row in points]


class Folding(LocalSolver):
    """Climbs among the packings of one problem that mirror themselves, each in a line of its own."""

    @property
    def at_once(self) -> int:
        """How many climbs are made at once: half of the tips follow from the others."""
        return batch_of(self.problem.tree.n_tips // 2)

    def program(self, choice: RangeChoice) -> NonlinearProgram:
        """Return the program of a line and so many tips on it."""
        return _program(self.problem, *choice)

    def start_point(self, points: NDArray[np.float64], rng: np.random.Generator) -> StartPoint:
        """Return where (tips, 2) points settle: those on one side of a line, and their images.

        The line is that in which more of them mirror each other, the side that on which more lie;
        those that are too many there are left out at random.
        """
        line = _line(self.problem, points, rng)
        off = _off(self.problem, points, line)
        single = _single(self.problem, off, rng)
        order = np.argsort(np.abs(off), kind="stable")
        rest = order[single:]
        sides = [rest[off[rest] > 0], rest[off[rest] <= 0]]
        side = max(rng.permutation(2), key=lambda k: len(sides[k]))
        program = self.program((line, single))
        image, own = program.problem.mirror, np.arange(len(points))
        placed = np.empty_like(points)
        placed[image == own] = points[order[:single]]
        placed[image > own] = points[rng.permutation(sides[side])[: len(rest) // 2]]
        return StartPoint(program.choice, program.variables(placed))


def _workshop(problem: Problem, line: RangeChoice | None) -> LocalSolver:
    return Folding(problem) if line is None else LocalSolver(_twinned(problem, *line))


@lru_cache(maxsize=64)
def _program(problem: Problem, line: int, single: int) -> NonlinearProgram:
    twinned = _twinned(problem, line, single)
    program = compile_program(twinned, (0,) * twinned.tree.n_tips)
    return replace(program, choice=(line, single))


@lru_cache(maxsize=64)
def _twinned(problem: Problem, line: int, single: int) -> Problem:
    """Return the problem with so many tips on a line and the others in pairs."""
    n, length = problem.tree.n_tips, float(problem.tree.lengths[0])
    pairs = [Flap(f"pair {k}", "hub", length, pair=True) for k in range((n - single) // 2)]
    alone = [Flap(f"flap {k}", "hub", length) for k in range(single)]
    return Problem(
        Figure(problem.figure.name, (*pairs, *alone), ()), problem.sheet, LINES[line]
    )


def _side(problem: Problem) -> float:
    """Return the side of one tip's share of the sheet."""
    return math.sqrt(problem.sheet.area / problem.tree.n_tips)


def _line(problem: Problem, points: NDArray[np.float64], rng: np.random.Generator) -> int:
    """Return the line in which more points mirror others: such two lie as far along it."""
    if not problem.sheet.is_square:
        return 0
    along = np.sort(np.stack([points[:, 1], points.sum(axis=1)]), axis=1)
    paired = (np.diff(along, axis=1) < SAME_PLACE * problem.sheet.diagonal).sum(axis=1)
    return int((paired + rng.random(2)).argmax())


def _off(problem: Problem, points: NDArray[np.float64], line: int) -> NDArray[np.float64]:
    """Return (tips,) how far points lie to one side of a line."""
    x, y = points.T
    off: NDArray[np.float64] = (y - x) / math.sqrt(2) if line else x - problem.sheet.width / 2
    return off


def _single(problem: Problem, off: NDArray[np.float64], rng: np.random.Generator) -> int:
    """Return how many tips are put on the line; an even number is left."""
    near = int((np.abs(off) < ON_LINE * _side(problem)).sum())
    if (len(off) - near) % 2 == 0:
        return near
    return near + (1 if near == 0 or rng.random() < 0.5 else -1)
