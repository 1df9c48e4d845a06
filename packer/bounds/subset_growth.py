"""Which few tips to look at: a subset grown one tip, or one mirrored pair, at a time.

Nothing here needs to be right for a bound to be true: a subset that is badly chosen, or whose
optimum is badly estimated, costs only time.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.bounds.bound_params import BoundParams
from packer.bounds.subsets import (
    closed_under_mirror,
    places_of,
    relaxed,
    subproblem,
    subset_program,
)
from packer.local_solver.initial_points import fresh_points
from packer.local_solver.interior_point import maximise
from packer.local_solver.params import INITIAL, Termination
from packer.local_solver.range_assignment import assigned_ranges
from packer.model.tree import least_distances

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.bounds.branch_and_bound import TipRanges
    from packer.bounds.work_budget import WorkBudget
    from packer.local_solver.nonlinear_program import NonlinearProgram
    from packer.model.problem import Problem

    Floats = NDArray[np.float64]

EXACT: Final = 1e-9
"""Noise, as a share of the diagonal, with which a known packing is put into ranges: its own."""


@dataclass(frozen=True, eq=False)
class Subset:
    """Some tips of a problem, and the best packing of them that was found.

    Attributes
    ----------
    tips
        Indices in the whole, ascending.
    problem
        Of these tips alone.
    program
        Of the problem in which tips with several ranges may lie anywhere.
    places
        Those ranges.
    points
        (tips, 2) where they lie.
    scale
        Of that packing: an estimate, from below, of the subset's optimum.
    """

    tips: tuple[int, ...]
    problem: Problem
    program: NonlinearProgram
    places: TipRanges
    points: Floats
    scale: float


@dataclass(eq=False)
class SubsetGrowth:
    """Grows subsets of the tips of one problem, and counts the work.

    Attributes
    ----------
    problem
        The whole.
    best
        (all tips, 2) a good packing of it, if known.
    budget
        What the work is taken from.
    params
        How many starts and additions.
    rng
        Makes fresh starts.
    """

    problem: Problem
    best: Floats | None
    budget: WorkBudget
    params: BoundParams = field(default_factory=BoundParams)
    rng: np.random.Generator = field(default_factory=lambda: np.random.default_rng(0))

    def first(self) -> Subset:
        """Return the two tips farthest apart, with their mirror images."""
        d = least_distances(self.problem.tree)
        i, j = np.unravel_index(int(d.argmax()), d.shape)
        return self.solve(closed_under_mirror(self.problem, (int(i), int(j))), [])

    def whole(self) -> list[Subset]:
        """Return all tips as a subset of their own where they are few."""
        if len(self.problem.leaders) > self.params.few:
            return []
        return [self.solve(tuple(range(self.problem.tree.n_tips)), [])]

    def solve(
        self, tips: tuple[int, ...], more: list[Floats], fresh: int | None = None
    ) -> Subset:
        """Return the best packing of some tips over several starts.

        Parameters
        ----------
        tips
            Those to pack.
        more
            Further starts, each (tips, 2).
        fresh
            How many fresh ones; as the parameters say by default.
        """
        count = self.params.starts if fresh is None else fresh
        small = subproblem(self.problem, tips)
        starts = [(points, False) for points in more]
        starts += [(fresh_points(small, self.rng), True) for _ in range(count)]
        if self.best is not None:
            starts.append((self.best[list(tips)], False))
        free, places = subset_program(self.problem, relaxed(small), tips), places_of(small)
        best, scale = starts[0][0], -np.inf
        for points, is_fresh in starts:
            program, here = free, points
            if places:
                if is_fresh:  # to the nearest places from where the tips went freely
                    end = maximise(
                        free, free.variables(points), termination=Termination(self.params.rough)
                    )
                    self.budget.spend(self.params.solve_boxes * end.steps)
                    here = free.tips(end.z)
                noise = INITIAL.tie_noise if is_fresh else EXACT
                choice = assigned_ranges(small, here, self.rng, noise)
                program = subset_program(self.problem, small, tips, choice)
            limits = Termination(self.params.estimate, beat=scale)
            end = maximise(program, program.variables(here), termination=limits)
            self.budget.spend(self.params.solve_boxes * end.steps)
            if end.scale > scale:
                best, scale = program.tips(end.z), end.scale
        return Subset(tips, small, free, places, best, scale)

    def grown(self, subset: Subset) -> Subset | None:
        """Return the subset with the tip added that lowers its optimum most.

        None if all tips are in, or where the budget ends before one was tried.
        """
        problem = self.problem
        left = [k for k in problem.leaders.tolist() if k not in subset.tips]
        mesh = self.params.mesh
        clearances = [_clearance(problem, subset, tip, mesh) for tip in left]
        self.budget.spend(self.params.clearance_boxes * len(left))
        order = np.argsort([clearance for clearance, _ in clearances], kind="stable")
        order = order[: self.params.additions]
        tried: list[Subset] = []
        for k in order.tolist():
            if self.budget.over:
                break
            tips = closed_under_mirror(problem, (*subset.tips, left[k]))
            places = dict(zip(subset.tips, subset.points, strict=True))
            places[left[k]] = clearances[k][1]
            places[int(problem.mirror[left[k]])] = _image(problem, left[k], clearances[k][1])
            tried.append(self.solve(tips, [np.array([places[tip] for tip in tips])]))
        return min(tried, key=lambda s: s.scale, default=None)

    def improved(self, subset: Subset, z: Floats, target: float) -> Subset:
        """Return the subset with the packing that variables near one of scale `target` lead to."""
        solved = self.solve(subset.tips, [subset.points, subset.program.tips(z)], 0)
        # hardly below the target, if at all: another attempt just above it is not worth while
        return replace(solved, scale=max(solved.scale, subset.scale, target))

    def second_look(self, subset: Subset) -> Subset:
        """Return the subset with its optimum estimated anew from many starts."""
        return self.solve(subset.tips, [subset.points], self.params.second_starts)


def _image(problem: Problem, tip: int, point: Floats) -> Floats:
    return point if problem.mirror[tip] == tip else problem.reflect(point)


def _clearance(problem: Problem, subset: Subset, tip: int, mesh: int) -> tuple[float, Floats]:
    """Return the greatest clearance that a place leaves to a tip beside a subset, and the place."""
    sheet = problem.sheet
    d = least_distances(problem.tree)
    x, y = (np.linspace(0, side, mesh) for side in (sheet.width, sheet.height))
    places = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    twin = int(problem.mirror[tip])
    if problem.symmetry != "none" and twin == tip:
        places = (places + problem.reflect(places)) / 2
    gaps = np.hypot(*(places[:, None] - subset.points[None]).transpose(2, 0, 1))
    ratio = (gaps / d[tip, list(subset.tips)]).min(axis=1)
    if twin != tip:
        own = np.hypot(*(places - problem.reflect(places)).T) / d[tip, twin]
        ratio = np.minimum(ratio, own)
    k = int(ratio.argmax())
    return float(ratio[k]), places[k]
