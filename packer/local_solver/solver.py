"""From proposed points to local optima: ranges assigned, programs solved in batches, rivers counted."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.deadline import NEVER, Deadline
from packer.local_solver.interior_point import maximise_batch
from packer.local_solver.nonlinear_program import (
    MirrorLine,
    NonlinearProgram,
    RangeChoice,
    compile_program,
)
from packer.local_solver.params import (
    INITIAL,
    WARM,
    InitialPointParams,
    InteriorPointParams,
    Termination,
)
from packer.local_solver.range_assignment import assigned_ranges
from packer.model.river_connectivity import river_sides, splits
from packer.units import SAME_SCALE

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from packer.model.problem import Problem

    Floats = NDArray[np.float64]

MOST_PROGRAMS: Final = 200
"""Compiled programs kept in memory."""


@dataclass(frozen=True, eq=False)
class LocalOptimum:
    """Where a local solve ended.

    Attributes
    ----------
    choice
        The range of each tip.
    z, change
        (z,) coordinates, and (w,) changes of length in the figure's unit.
    scale
        What they allow.
    splits
        How many strands too many its rivers have, counted only where whole rivers are wanted.
    """

    choice: RangeChoice | MirrorLine
    z: Floats
    change: Floats
    scale: float
    splits: int = 0


@dataclass(frozen=True, eq=False)
class StartPoint:
    """Where a local solve begins: a choice of ranges and (z,) coordinates."""

    choice: RangeChoice | MirrorLine
    z: Floats


def better(one: LocalOptimum, other: LocalOptimum) -> bool:
    """Whether an optimum has fewer split rivers, or as many and a greater scale."""
    if one.splits != other.splits:
        return one.splits < other.splits
    return one.scale > other.scale * (1 + SAME_SCALE)


class LocalSolver:
    """Solves programs of one problem, and keeps those it has compiled, by their choice of ranges.

    Parameters
    ----------
    problem
        What is packed.
    whole_rivers
        Whether split rivers are counted.
    params, initial
        Of the interior-point method, and of the points from which it begins.
    deadline
        When the search is over: what is solved then ends where it is. Small figures, of no working
        set, are solved in milliseconds and have none.
    """

    def __init__(
        self,
        problem: Problem,
        whole_rivers: bool = False,
        params: InteriorPointParams | None = None,
        initial: InitialPointParams = INITIAL,
        deadline: Deadline = NEVER,
    ) -> None:
        self.problem = problem
        self.params = params or InteriorPointParams()
        self.initial = initial
        self.whole_rivers = whole_rivers
        large = problem.tree.n_tips >= self.params.working_set_from
        self.deadline = deadline if large else NEVER
        self.sides = river_sides(problem)
        self.programs: dict[RangeChoice | MirrorLine, NonlinearProgram] = {}

    @property
    def batch(self) -> int:
        """How many start points are solved at once."""
        return self.params.batch_for(len(self.problem.leaders))

    def program(self, choice: RangeChoice | MirrorLine) -> NonlinearProgram:
        """Return the program of a choice."""
        if choice not in self.programs:
            if len(self.programs) >= MOST_PROGRAMS:
                self.programs.clear()
            self.programs[choice] = compile_program(self.problem, choice)
        return self.programs[choice]

    def by_program(
        self, starts: Sequence[StartPoint]
    ) -> list[tuple[NonlinearProgram, list[int]]]:
        """Return each program of some start points, with the positions of those that have it."""
        groups: dict[RangeChoice | MirrorLine, list[int]] = {}
        for k, start in enumerate(starts):
            groups.setdefault(start.choice, []).append(k)
        return [(self.program(choice), group) for choice, group in groups.items()]

    def points(self, at: LocalOptimum | StartPoint) -> Floats:
        """Return the (tips, 2) points of an optimum or a start point."""
        return self.program(at.choice).tips(at.z)

    def start_point(self, points: Floats, rng: np.random.Generator) -> StartPoint:
        """Return the start point nearest to (tips, 2) points; the generator breaks ties."""
        choice = assigned_ranges(self.problem, points, rng, self.initial.tie_noise)
        return StartPoint(choice, self.program(choice).variables(points))

    def solve(
        self,
        starts: Sequence[StartPoint],
        parents: Sequence[LocalOptimum] | None = None,
        beat: float = -np.inf,
        known: Sequence[float] = (),
    ) -> list[LocalOptimum]:
        """Return the local optimum that each start point leads to.

        Parameters
        ----------
        starts
            Where the solves begin.
        parents
            The optima from which the start points were made: the solves begin with their lengths.
            None for points that come from no packing.
        beat
            Scale below which a solve may be given up; what it returns then is no optimum.
        known
            Scales of optima that need not be reached again.
        """
        optima: dict[int, LocalOptimum] = {}
        termination = Termination(beat=beat, known=tuple(known), deadline=self.deadline)
        for program, group in self.by_program(starts):
            z = np.stack([starts[k].z for k in group])
            change = np.zeros((len(z), program.n_w))
            if parents is not None:
                change += [parents[k].change for k in group]
            results = maximise_batch(
                program, z, change, initial=WARM, termination=termination, params=self.params
            )
            for k, end in zip(group, results, strict=True):
                count = self.splits(program, end.z) if end.scale > beat else 0
                optima[k] = LocalOptimum(program.choice, end.z, end.change, end.scale, count)
        return [optima[k] for k in range(len(starts))]

    def splits(self, program: NonlinearProgram, z: Floats) -> int:
        """Return how many strands too many the rivers have; 0 where whole ones are not wanted."""
        if not self.whole_rivers:
            return 0
        return int(splits(self.sides, program.tips(z)).sum())
