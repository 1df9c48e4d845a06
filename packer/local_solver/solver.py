"""From proposed points to local optima: ranges chosen, ascents in batches, rivers looked at."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.local_solver.interior_point import maximise_batch
from packer.local_solver.nonlinear_program import NonlinearProgram, RangeChoice, compile_program
from packer.local_solver.range_assignment import settle
from packer.model.river_connectivity import river_sides, splits
from packer.units import SAME_SCALE

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from packer.model.problem import Problem

SHARE: Final = 0.97
WARMTH: Final = 0.1
"""Share of its own scale at which a climb begins, and its first barrier parameter, as a share of one
that keeps clear of all paths.

From where springs came to rest, .9 and .3, .97 and .1 had 1488 and 1531 improvements after 3800 moves on
four figures of 22 to 25 flaps, in 4 % less time; fresh starts on five figures, bare or rested, ended
at the same scales as with .7 and 1, in a step less.
"""
MOST_PROGRAMS: Final = 200
"""Compiled programs kept in memory."""


@dataclass(frozen=True, eq=False)
class LocalOptimum:
    """A local optimum: its choice of ranges, coordinates, changes of length and scale.

    `splits` counts the strands too many of its rivers where only whole ones are wanted, else 0.
    """

    choice: RangeChoice
    z: NDArray[np.float64]
    change: NDArray[np.float64]
    scale: float
    splits: int = 0


@dataclass(frozen=True, eq=False)
class StartPoint:
    """Where a climb begins: a choice of ranges and coordinates."""

    choice: RangeChoice
    z: NDArray[np.float64]


def better(one: LocalOptimum, other: LocalOptimum) -> bool:
    """Whether a spot has fewer splits, or as many and a greater scale."""
    if one.splits != other.splits:
        return one.splits < other.splits
    return one.scale > other.scale * (1 + SAME_SCALE)


def batch_of(tips: int) -> int:
    """Return how many moves are tried at once.

    A batch of 16 took .21, .45 and .41 of the time of single ascents on 12, 24 and 40 flaps, one of 8
    .53 on 60, one of 4 .75 and .80 on 80 and 89; twice as many .18, .43, .40, .53, .72 and .79.
    """
    return max(1, min(16, 25_600 // tips**2))


class LocalSolver:
    """Climbs in one problem; keeps its compiled programs by choice of ranges."""

    def __init__(self, problem: Problem, whole_rivers: bool = False) -> None:
        self.problem = problem
        self.whole_rivers = whole_rivers
        self.sides = river_sides(problem)
        self.programs: dict[RangeChoice, NonlinearProgram] = {}

    @property
    def at_once(self) -> int:
        """How many climbs are made at once."""
        return batch_of(len(self.problem.leaders))

    def program(self, choice: RangeChoice) -> NonlinearProgram:
        """Return the program of a choice."""
        if choice not in self.programs:
            if len(self.programs) >= MOST_PROGRAMS:
                self.programs.clear()
            self.programs[choice] = compile_program(self.problem, choice)
        return self.programs[choice]

    def by_program(
        self, start_points: Sequence[StartPoint]
    ) -> list[tuple[NonlinearProgram, list[int]]]:
        """Return each program of some footholds, with the positions of those that have it."""
        groups: dict[RangeChoice, list[int]] = {}
        for k, start_point in enumerate(start_points):
            groups.setdefault(start_point.choice, []).append(k)
        return [(self.program(choice), group) for choice, group in groups.items()]

    def points(self, spot: LocalOptimum | StartPoint) -> NDArray[np.float64]:
        """Return the (tips, 2) points of a spot."""
        return self.program(spot.choice).tips(spot.z)

    def start_point(self, points: NDArray[np.float64], rng: np.random.Generator) -> StartPoint:
        """Return where (tips, 2) points settle; the generator breaks ties between ranges."""
        choice = settle(self.problem, points, rng)
        return StartPoint(choice, self.program(choice).variables(points))

    def climb(
        self,
        start_points: Sequence[StartPoint],
        parents: Sequence[LocalOptimum] | None = None,
        beat: float = -np.inf,
        known: Sequence[float] = (),
    ) -> list[LocalOptimum]:
        """Climb from each of some footholds.

        Parameters
        ----------
        footholds
            Where the climbs begin.
        parents
            The spots from which moves led there: the climbs begin with their lengths; None for
            points that come from no packing.
        beat
            Scale below which a climb may be given up.
        known
            Scales near which it may be given up.
        """
        found: dict[int, LocalOptimum] = {}
        for program, group in self.by_program(start_points):
            z = np.stack([start_points[k].z for k in group])
            change = np.zeros((len(z), program.n_w))
            if parents is not None:
                change += [parents[k].change for k in group]
            ends = maximise_batch(
                program, z, change, share=SHARE, warmth=WARMTH, beat=beat, known=known
            )
            for k, end in zip(group, ends, strict=True):
                count = self.splits(program, end.z) if end.scale > beat else 0
                found[k] = LocalOptimum(program.choice, end.z, end.change, end.scale, count)
        return [found[k] for k in range(len(start_points))]

    def splits(self, program: NonlinearProgram, z: NDArray[np.float64]) -> int:
        """Return how many strands too many the rivers have, 0 where nobody asks."""
        if not self.whole_rivers:
            return 0
        return int(splits(self.sides, program.tips(z)).sum())
