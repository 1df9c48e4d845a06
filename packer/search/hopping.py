"""One start: the best of a few ascents, then moves from the best packing so far.

A walk is advanced in legs of some seconds, so that its progress is seen, a lost
worker costs little and Ctrl-C keeps the best; the legs do not change where it goes.
"""

from __future__ import annotations

import time
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.search.interior import Ascent, ascend
from packer.search.moves import Site, propose
from packer.search.placements import settle
from packer.search.program import Choice, Program, compile_program
from packer.search.starts import fresh_points

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.problem import Problem

FIRST: Final = 6
"""Ascents from fresh points before the moves begin."""
BETTER: Final = 1e-9
"""Relative gain that counts as an improvement."""


@dataclass(frozen=True, eq=False)
class Spot:
    """A local optimum: its choice of ranges, coordinates, changes of length and scale."""

    choice: Choice
    z: NDArray[np.float64]
    change: NDArray[np.float64]
    scale: float


@dataclass(frozen=True, eq=False)
class Walk:
    """The state of one start between two legs."""

    index: int
    rng: np.random.Generator
    best: Spot | None = None
    ascents: int = 0
    failures: int = 0
    done: bool = False


def begin(seed: int, index: int) -> Walk:
    """Return the walk of a start before its first leg; each start has a stream of its own."""
    return Walk(index, np.random.default_rng([seed, index]))


def patience_of(problem: Problem) -> int:
    """Return after how many failed moves a walk ends."""
    return 25 + 3 * problem.tree.n_tips


def advance(problem: Problem, walk: Walk, seconds: float) -> Walk:
    """Return the walk after some more seconds, or at its end; at least one ascent later."""
    end = time.monotonic() + seconds
    programs = Programs(problem)
    while not walk.done:
        walk = _step(programs, walk)
        if time.monotonic() > end:
            break
    return walk


class Programs:
    """Compiled programs of one problem by choice of ranges."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.known: dict[Choice, Program] = {}

    def __getitem__(self, choice: Choice) -> Program:
        if choice not in self.known:
            if len(self.known) > 100:
                self.known.clear()
            self.known[choice] = compile_program(self.problem, choice)
        return self.known[choice]


def _step(programs: Programs, walk: Walk) -> Walk:
    """Make one ascent, from fresh points or from a move."""
    problem, best = programs.problem, walk.best
    beat = best.scale if best else -np.inf
    if walk.ascents < FIRST:
        points = fresh_points(problem, walk.rng)
        program = programs[settle(problem, points, walk.rng)]
        found = ascend(program, program.variables(points), beat=beat)
    else:
        assert best is not None
        here = programs[best.choice].tips(best.z)
        points = propose(Site(problem, here), walk.rng)
        program = programs[settle(problem, points, walk.rng)]
        z = program.variables(points)
        found = ascend(program, z, best.change, share=0.9, warmth=0.3, beat=beat)
    rise = found.scale > beat * (1 + BETTER) if best else True
    failures = 0 if rise or walk.ascents < FIRST else walk.failures + 1
    return replace(
        walk,
        best=_spot(program, found) if rise else best,
        ascents=walk.ascents + 1,
        failures=failures,
        done=failures >= patience_of(problem),
    )


def _spot(program: Program, found: Ascent) -> Spot:
    return Spot(program.choice, found.z, found.change, found.scale)
