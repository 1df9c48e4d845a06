"""Frames: a packing while somebody pulls at it, one local solve after each small change.

A frame is what can be drawn of a packing within the time of a picture. The local solver goes from
the tips of the frame before to a gap of `FRAME_GAP`, and its multipliers tell at once what each part
costs, which paths are active and which flaps are loose. What needs the last digits (certificate,
slack, bound) waits until the pulling stops: see `packer.search.from_here`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.errors import SearchError
from packer.local_solver.flexible_lengths import flexible
from packer.local_solver.newton_steps import InteriorPointResult, NewtonSteps
from packer.local_solver.nonlinear_program import compile_program, kept_with
from packer.local_solver.params import WARM, InteriorPointParams, Termination
from packer.local_solver.range_assignment import assigned_ranges
from packer.local_solver.solver import LocalOptimum
from packer.model.packing import Packing
from packer.search.memetic.run import SearchGoal, begin, stepped
from packer.search.warm_start import start_near

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from packer.local_solver.newton_steps import State
    from packer.local_solver.nonlinear_program import NonlinearProgram, RangeChoice
    from packer.model.problem import Problem
    from packer.model.sheet import Point

    Floats = NDArray[np.float64]

FRAME_GAP: Final = 1e-4
"""Gap, as a share of the scale, at which the solve of a frame ends.

Costs are then within 2.3e-2 of the largest one, and at 1e-6 within 6e-5; a thousandth of the sheet is
less than a pointer can aim at.
"""
HELD: Final = 1e-3
"""How far a held tip may give way along an axis, as a share of the sheet's shorter side."""
STAYS: Final = 1e-9
"""Share of the scale that a loose tip may cost by staying where it was."""
MOST_PROGRAMS: Final = 16
"""Programs kept from frame to frame."""
SHARE_FELT: Final = 1e-3
"""Share of all multipliers times lengths above which a tip counts as held by its paths."""


@dataclass(frozen=True, eq=False)
class Frame:
    """A packing between two changes.

    Attributes
    ----------
    problem
        What it answers.
    choice
        For each tip, which of its ranges it lies in.
    points
        (tips, 2) in sheet units, read-only.
    change
        (w,) changes of the flexible lengths, in the figure's unit.
    scale
        The largest scale that tips and lengths allow.
    costs
        (edges,) the derivative of the scale by each length, zero or negative; approximate.
    loose
        (tips,) whether no path holds the tip.
    active
        Pairs of tips whose path is active.
    crowded
        Whether a held tip left the others too little paper, so that they stayed where they were:
        `scale` is then that of the frame before.
    """

    problem: Problem
    choice: RangeChoice
    points: Floats
    change: Floats
    scale: float
    costs: Floats
    loose: NDArray[np.bool_]
    active: tuple[tuple[int, int], ...]
    crowded: bool = False

    def __post_init__(self) -> None:
        for array in (self.points, self.change, self.costs, self.loose):
            array.setflags(write=False)

    @property
    def lengths(self) -> Floats:
        """(edges,) the lengths used, in the figure's unit."""
        tree = self.problem.tree
        return flexible(tree).lengths(tree.lengths, self.change)

    @property
    def packing(self) -> Packing:
        """The same tips and lengths as a packing without certificate or bound."""
        points = tuple((x, y) for x, y in self.points.tolist())
        return Packing(self.problem, points, tuple(self.lengths.tolist()))

    @property
    def optimum(self) -> LocalOptimum:
        """The same as the local solver has it."""
        program = compile_program(self.problem, self.choice)
        return LocalOptimum(
            self.choice, program.variables(self.points), self.change, self.scale
        )


def frame_of(packing: Packing) -> Frame:
    """Return a packing as a frame, its tips untouched."""
    problem, tree = packing.problem, packing.tree
    index = {name: tip for tip, name in enumerate(tree.flaps)}
    loose = np.zeros(tree.n_tips, dtype=bool)
    loose[[index[name] for name in packing.loose]] = True
    return Frame(
        problem,
        assigned_ranges(problem, packing.points, np.random.default_rng(0), noise=1e-9),
        packing.points.copy(),
        flexible(tree).changes(tree.lengths, np.array(packing.lengths)),
        packing.scale,
        np.array([packing.costs[name] for name in tree.names]),
        loose,
        tuple((index[a], index[b]) for a, b in packing.active),
    )


def first_frame(problem: Problem, seed: int = 0) -> Frame:
    """Return the best of a few solves from fresh starts, as a place to begin from.

    Raises
    ------
    SearchError
        Where none of them ends with a scale above zero.
    """
    best = stepped(SearchGoal(problem), begin(seed, 0)).best
    if best is None or not best.scale > 0:
        raise SearchError("no packing was found to begin from; change a length or a place")
    program = compile_program(problem, best.choice)
    return _solved(program, best.z, best.change, FRAME_GAP)


def next_frame(
    problem: Problem,
    frame: Frame,
    held: Mapping[int, Point] | None = None,
    *,
    least: float = 0.0,
    tolerance: float = FRAME_GAP,
    give: float = HELD,
) -> Frame:
    """Return the packing that one local solve from a frame's tips reaches.

    Parameters
    ----------
    problem
        What is packed now: the frame's own problem, or one whose lengths, places, sheet or flaps
        have changed. Flaps are matched by name; new ones begin where clearance is greatest.
    frame
        The packing before.
    held
        Tips, by index in the problem, that are held at a point of the sheet, or as near to it as
        their places allow. A twin is held with its mirror image.
    least
        Scale below which the others stay where they were (see `Frame.crowded`).
    tolerance
        Gap, as a share of the scale, at which the solve ends.
    give
        How far a held tip may give way along an axis, as a share of the sheet's shorter side.

    Raises
    ------
    SearchError
        Where the frame is of no use to the problem and no fresh start is either.
    """
    begun = _begun(problem, frame, held or {})
    if begun is None:
        return first_frame(problem)
    program, points, change = begun
    z = program.variables(points)
    narrowed = _narrowed(program, z, held or {}, give)
    end = _solved(narrowed, z, change, tolerance, beat=least if held else -np.inf)
    if held and end.scale < least and len(frame.points) == len(points):
        return replace(
            frame,
            problem=problem,
            choice=program.choice,
            points=program.tips(z),
            change=change,
            crowded=True,
        )
    return _with_loose_staying(program, end, points)


def exchanged(frame: Frame, one: int, other: int) -> Frame:
    """Return a frame in which two tips, and under a symmetry their twins, have changed places."""
    problem, points = frame.problem, frame.points.copy()
    for a, b in ((one, other), (problem.mirror[one], problem.mirror[other])):
        points[[a, b]] = frame.points[[b, a]]
    choice = assigned_ranges(problem, points, np.random.default_rng(0), noise=1e-9)
    return replace(frame, points=points, choice=choice, crowded=False)


# --- where a solve begins


def _begun(
    problem: Problem, frame: Frame, held: Mapping[int, Point]
) -> tuple[NonlinearProgram, Floats, Floats] | None:
    """Return a program, points and changed lengths; None where the frame is of no use."""
    before, lengths = frame.problem, flexible(problem.tree)
    if before.tree.flaps == problem.tree.flaps and before.symmetry == problem.symmetry:
        stretch = (
            problem.sheet.width / before.sheet.width,
            problem.sheet.height / before.sheet.height,
        )
        points = frame.points * stretch
        change = frame.change
        if problem is not before:
            change = lengths.changes(problem.tree.lengths, frame.lengths)
            if not (lengths.ends @ change + lengths.end_scale >= 0).all():
                change = np.zeros_like(change)
    else:
        near = start_near(problem, frame.packing, np.random.default_rng(0))
        if near is None:
            return None
        points = compile_program(problem, near.choice).tips(near.z)
        change = near.change
    for tip, (x, y) in held.items():
        points[tip] = x, y
        points[problem.mirror[tip]] = problem.reflect(points[tip])
        if problem.mirror[tip] == tip:
            points[tip] = x, y
    choice = assigned_ranges(problem, points, np.random.default_rng(0), noise=1e-9)
    return _program(problem, choice), points, change


@lru_cache(maxsize=MOST_PROGRAMS)
def _program(problem: Problem, choice: RangeChoice) -> NonlinearProgram:
    """Return the program of a choice; the next frame of a drag mostly asks for the same."""
    return compile_program(problem, choice)


def _narrowed(
    program: NonlinearProgram, z: Floats, held: Mapping[int, Point], give: float
) -> NonlinearProgram:
    """Return the program with the bounds of held tips drawn close about where they are."""
    if not held:
        return program
    reach = give * min(program.problem.sheet.width, program.problem.sheet.height)
    own = [
        int(program.index[axis, tip])
        for tip in held
        for axis in (0, 1)
        if program.sign[axis, tip]
    ]
    lower, upper = program.lower.copy(), program.upper.copy()
    lower[own] = np.maximum(lower[own], z[own] - reach)
    upper[own] = np.minimum(upper[own], z[own] + reach)
    return replace(program, lower=lower, upper=upper)


# --- the solve, and what its multipliers tell


@dataclass(frozen=True, eq=False)
class MultipliedResult(InteriorPointResult):
    """Where a solve ended, with its last multipliers, which the search has no use for.

    Attributes
    ----------
    path_multipliers, path_slacks
        (pairs,) of all paths; zero and infinite for those outside the working set.
    row_multipliers
        (rows,) of the further constraints.
    """

    path_multipliers: Floats
    path_slacks: Floats
    row_multipliers: Floats


class _MultipliedSteps(NewtonSteps):
    """Steps that tell their last multipliers."""

    def result(self, state: State, k: int, gap: float, steps: int) -> MultipliedResult:
        """Return where one solve stands, with multipliers and slacks of all paths."""
        at, dual = state
        of_paths, near = at.working.solve == k, at.near[k]
        multipliers, slacks = np.zeros(near.shape), np.full(near.shape, np.inf)
        multipliers[near] = at.working.paths(dual.values)[of_paths]
        slacks[near] = at.working.paths(at.slack)[of_paths]
        rows = at.working.rest(dual.values)[k, : len(self.program.rows)].copy()
        end = super().result(state, k, gap, steps)
        return MultipliedResult(
            end.z, end.change, end.scale, end.gap, end.steps, multipliers, slacks, rows
        )


def _solved(
    program: NonlinearProgram,
    z: Floats,
    change: Floats,
    tolerance: float,
    beat: float = -np.inf,
) -> Frame:
    """Solve from some variables, until `beat` is out of reach, and return the frame at the end."""
    method = _MultipliedSteps(program, InteriorPointParams())
    (end,) = method.run(
        method.first(z[None], change[None], WARM), Termination(tolerance, beat=beat)
    )
    assert isinstance(end, MultipliedResult)
    problem, tree = program.problem, program.problem.tree
    first, second = program.first, program.second
    weight = end.path_multipliers * program.distance
    disc = end.row_multipliers * -program.row_scale
    whole = weight.sum() + disc.sum()
    felt, tight = np.zeros(tree.n_tips), np.zeros(len(first), dtype=bool)
    total = np.zeros(len(tree.names))
    if whole > 0:
        share = weight / whole
        tight = end.path_slacks <= share * end.scale * program.distance
        np.add.at(felt, first[tight], share[tight])
        np.add.at(felt, second[tight], share[tight])
        total = kept_with(program, _used) @ (end.path_multipliers / whole)
        for tip, row in zip(_disc_tips(program), disc / whole, strict=False):
            felt[tip] += row
            total[tip] += row / tree.lengths[tip]
    if problem.symmetry != "none":  # of two mirror images one path stands for both
        total = (total + total[tree.twin]) / 2
        felt = np.maximum(felt, felt[problem.mirror])
    return Frame(
        problem,
        program.choice,
        program.tips(end.z),
        end.change.copy(),
        end.scale,
        0.0 - end.scale * total,
        felt < SHARE_FELT,
        _active(problem, first[tight], second[tight]),
    )


def _used(program: NonlinearProgram) -> Floats:
    """Return (edges, pairs) whether a path uses an edge."""
    beyond = program.problem.tree.beyond
    used: Floats = (beyond[:, program.first] != beyond[:, program.second]).astype(float)
    return used


def _disc_tips(program: NonlinearProgram) -> list[int]:
    """Return for each row of discs that stay on the sheet whose it is."""
    problem = program.problem
    chosen = [ranges[k] for ranges, k in zip(problem.ranges, program.choice, strict=True)]
    return [tip for tip, box in enumerate(chosen) if box.margin > 0 for _ in range(4)]


def _active(
    problem: Problem, first: NDArray[np.intp], second: NDArray[np.intp]
) -> tuple[tuple[int, int], ...]:
    """Return pairs of tips with their mirror images, in order."""
    mirror = problem.mirror
    pairs = set(zip(first.tolist(), second.tolist(), strict=True))
    pairs |= {
        (min(a, b), max(a, b))
        for a, b in zip(mirror[first].tolist(), mirror[second].tolist(), strict=True)
    }
    return tuple(sorted(pairs))


def _with_loose_staying(program: NonlinearProgram, frame: Frame, before: Floats) -> Frame:
    """Return the frame with its loose tips where they were, as far as that costs nothing.

    A solve leaves them in the middle of their clearance, which shifts with every frame.
    """
    problem = frame.problem
    loose = [tip for tip in np.flatnonzero(frame.loose).tolist() if tip <= problem.mirror[tip]]
    points = frame.points.copy()
    least = frame.scale * (1 - STAYS)
    for group in (loose, *([tip] for tip in loose)):
        stayed = points.copy()
        for tip in group:
            both = [tip, int(problem.mirror[tip])]
            stayed[both] = before[both]
        z = program.variables(stayed)
        if program.scale(z, frame.change) >= least:
            points = program.tips(z)
            if group is loose:
                break
    scale = program.scale(program.variables(points), frame.change)
    return replace(frame, points=points, scale=scale)
