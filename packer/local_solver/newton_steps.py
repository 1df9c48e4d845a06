"""The steps of the local solver: several solves of one program, side by side.

The variables of the solves are rows of the same arrays, their slacks stand one after the other: on
small figures the calls cost more than the numbers. On large ones only nearly active paths, the
working set, enter the system of a step, and a step that makes another path too short is halved.
The method is described in `packer.local_solver.interior_point`, the order of the slacks in
`packer.local_solver.working_set`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.local_solver.nonlinear_program import kept_with
from packer.local_solver.normal_equations import NormalEquations
from packer.local_solver.working_set import WorkingSet, taken

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.local_solver.nonlinear_program import NonlinearProgram
    from packer.local_solver.params import InitialIterate, InteriorPointParams, Termination

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

ULP: Final = float(np.finfo(float).eps)
ROUNDING: Final = 1e-9
"""Share of the scale by which a path of the working set may seem too short."""
GOLDEN: Final = 0.618034
"""Multiples of it, modulo 1, are spread evenly: they part tips that lie on one point."""


@dataclass(frozen=True, eq=False)
class InteriorPointResult:
    """Where the local solver ended.

    Attributes
    ----------
    z, change
        The coordinates and the changes of length, in the figure's unit.
    scale
        The largest m they allow.
    gap
        The sum of multipliers times slacks: to first order, by how much m can still rise.
    steps
        How many linear systems were solved.
    """

    z: Floats
    change: Floats
    scale: float
    gap: float
    steps: int


@dataclass(frozen=True, eq=False)
class Iterates:
    """The primal variables of the solves under way, and the paths in their working sets.

    Attributes
    ----------
    row
        (solves,) from which start point each began.
    z, w, m
        (solves, z), (solves, w), (solves,) coordinates, changes of sheet length and scale.
    allowed
        (solves, pairs) the scale that each path allows.
    near
        (solves, pairs) which paths are in the working set.
    working
        The slacks in their order.
    unit
        (2, paths) unit vectors of the paths of the working set.
    slack
        (slacks,)
    """

    row: NDArray[np.intp]
    z: Floats
    w: Floats
    m: Floats
    allowed: Floats
    near: Flags
    working: WorkingSet
    unit: Floats
    slack: Floats


@dataclass(frozen=True, eq=False)
class Multipliers:
    """The dual side of the solves under way.

    Attributes
    ----------
    values
        (slacks,) multipliers, in the order of the slacks.
    barrier
        (solves,) barrier parameters.
    """

    values: Floats
    barrier: Floats


State = tuple[Iterates, Multipliers]


class NewtonSteps:
    """Steps of solves of one program; all state is in the values handed to its methods."""

    def __init__(self, program: NonlinearProgram, params: InteriorPointParams) -> None:
        self.program = program
        self.params = params
        self.normal = kept_with(program, NormalEquations)
        self.selects = program.problem.tree.n_tips >= params.working_set_from

    def first(self, z: Floats, change: Floats, initial: InitialIterate) -> State:
        """Return the iterates and multipliers with which solves begin.

        Parameters
        ----------
        z, change
            (starts, z), (starts, w) as of `packer.local_solver.interior_point.maximise_batch`.
        initial
            First scale and barrier parameter.
        """
        program = self.program
        inset = self.params.inset * (program.upper - program.lower)
        inside = np.clip(z, program.lower + inset, program.upper - inset)
        z = np.stack([_apart(program, row, inset) for row in inside])
        scales = [program.scale(a, b) for a, b in zip(z, change, strict=True)]
        m = initial.scale * np.array(scales)
        w = self.params.inside_flex * m[:, None] * change
        allowed = self.survey(z, w)
        near = self.short(allowed, m) if self.selects else np.ones(allowed.shape, dtype=bool)
        iterates = self.measured(np.arange(len(z)), z, w, m, allowed, near)
        # every path counts for the first barrier parameter, in the working set or not
        paths = (1.0 / (allowed - m[:, None])).sum(axis=1)
        disc = np.maximum(-program.row_scale, 0.0)
        rest = iterates.working.rest(iterates.slack)
        discs = (disc / rest[:, : len(disc)]).sum(axis=1)
        barrier = initial.barrier / (paths + discs)
        values = barrier[iterates.working.owner] / iterates.slack
        return iterates, Multipliers(values, barrier)

    def survey(self, z: Floats, w: Floats) -> Floats:
        """Return (solves, pairs) the scale that each path allows, in the working set or not."""
        program = self.program
        p = self.coordinates(z) + program.offset
        gap = taken(p, program.first) - taken(p, program.second)
        length: Floats = np.sqrt(gap[:, 0] * gap[:, 0] + gap[:, 1] * gap[:, 1])
        if program.n_w:
            length += w @ program.bend.T
        return length / program.distance

    def coordinates(self, z: Floats) -> Floats:
        """Return (solves, 2, tips) coordinates of (solves, z) variables, but for their offset."""
        return taken(z, self.program.index) * self.program.sign

    def short(self, allowed: Floats, m: Floats) -> Flags:
        """Return (solves, pairs) which paths are short enough to be in the working set."""
        level = np.maximum(m, self.params.level * allowed.min(axis=1))
        near: Flags = allowed < self.params.working_set_ratio * level[:, None]
        return near

    def measured(
        self,
        row: NDArray[np.intp],
        z: Floats,
        w: Floats,
        m: Floats,
        allowed: Floats,
        near: Flags,
        working: WorkingSet | None = None,
    ) -> Iterates:
        """Return iterates with unit vectors and slacks computed from the true distances.

        Parameters are the attributes of `Iterates`; the working set is made where it is not given.
        """
        program = self.program
        working = working or self.normal.working_set(near)
        gap = _differences(working, self.coordinates(z) + program.offset)
        length = np.sqrt(gap[0] * gap[0] + gap[1] * gap[1])
        slack = length - m[working.solve] * working.distance
        if program.n_w:
            slack += np.einsum("pw,pw->p", working.bend, w[working.solve])
        # what rounding leaves of the last slacks may be none at all
        slack = np.maximum(slack, ULP * length)
        rest = [z - program.lower, program.upper - z]
        if len(program.rows):
            both = np.hstack([z, w])
            value = both @ program.rows.T + program.row_offset
            rest.insert(0, value + m[:, None] * program.row_scale)
        slack = np.concatenate([slack, np.hstack(rest).ravel()])
        return Iterates(row, z, w, m, allowed, near, working, gap / length, slack)

    def reselected(self, state: State) -> State:
        """Return the state with the paths that are near now in the working set, if any is new.

        A path that enters gets a centred multiplier: barrier parameter over slack.
        """
        at, dual = state
        near = self.short(at.allowed, at.m)
        new = near & ~at.near
        if not new.any():
            return state
        values, rest = np.zeros(near.shape), at.working.rest(dual.values)
        values[at.near] = at.working.paths(dual.values)
        entering = new[near]
        at = self.measured(at.row, at.z, at.w, at.m, at.allowed, near)
        centred = dual.barrier[at.working.solve] / at.working.paths(at.slack)
        paths = np.where(entering, centred, values[near])
        return at, replace(dual, values=np.concatenate([paths, rest.ravel()]))

    def run(self, state: State, termination: Termination) -> list[InteriorPointResult]:
        """Step until every solve has ended, and return where, in the order of the start points."""
        ended: dict[int, InteriorPointResult] = {}
        params = self.params
        length = np.full(len(state[0].z), params.long_step)
        steps = 0
        while len(state[0].row):
            if self.selects:
                state = self.reselected(state)
            at, dual = state
            gap = at.working.sums(dual.values * at.slack)
            over = gap < termination.tolerance * np.abs(at.m)
            over |= self.hopeless(state, gap, termination.beat)
            over |= self.leads_to(at.m, gap, np.array(termination.known))
            over |= steps >= params.max_steps or termination.deadline.over
            if over.any():
                for k in np.flatnonzero(over):
                    ended[int(at.row[k])] = self.result(state, int(k), float(gap[k]), steps)
                state = self.kept(state, ~over)
                gap, length = gap[~over], length[~over]
                if not len(state[0].row):
                    break
            state, length = self.step(self.with_barrier(state, gap, length))
            steps += 1
            if not length.all():
                lost = length == 0
                for k in np.flatnonzero(lost):
                    row = int(state[0].row[k])
                    ended[row] = self.result(state, int(k), np.inf, steps)
                state = self.kept(state, ~lost)
                length = length[~lost]
        return [ended[k] for k in sorted(ended)]

    def with_barrier(self, state: State, gap: Floats, length: Floats) -> State:
        """Return the state with the barrier parameters that the next step aims at.

        Parameters
        ----------
        state
            The solves.
        gap, length
            (solves,) their gaps and the lengths of their last steps.
        """
        at, dual = state
        params = self.params
        count = np.bincount(at.working.owner)
        centring = np.where(
            length > params.long_step, params.long_step_centring, params.centring
        )
        barrier = np.where(length < params.short_step, 1.0, centring) * gap / count
        return at, replace(dual, barrier=barrier)

    def hopeless(self, state: State, gap: Floats, beat: float) -> Flags:
        """Return which solves, by their gaps, will not reach a value."""
        at, dual = state
        params = self.params
        error = np.abs(1.0 - at.working.sums(dual.values * at.working.weight))
        hopeless: Flags = (
            (error < params.multiplier_error)
            & (gap < params.give_up_gap * at.m)
            & (at.m + params.give_up_reach * gap < beat)
        )
        return hopeless

    def leads_to(self, m: Floats, gap: Floats, known: Floats) -> Flags:
        """Return which solves end near a known scale."""
        above = known - m[:, None]
        near = (above > -gap[:, None]) & (above < 2 * gap[:, None])
        ends: Flags = near.any(axis=1) & (gap < self.params.known_gap * m)
        return ends

    def result(self, state: State, k: int, gap: float, steps: int) -> InteriorPointResult:
        """Return where one solve stands."""
        at, _ = state
        change = at.w[k] / at.m[k]
        return InteriorPointResult(
            at.z[k], change, self.program.scale(at.z[k], change), gap, steps
        )

    def kept(self, state: State, goes_on: Flags) -> State:
        """Return the state of some of the solves alone."""
        at, dual = state
        values = dual.values[goes_on[at.working.owner]]
        at = self.measured(
            at.row[goes_on],
            at.z[goes_on],
            at.w[goes_on],
            at.m[goes_on],
            at.allowed[goes_on],
            at.near[goes_on],
        )
        return at, Multipliers(values, dual.barrier[goes_on])

    def step(self, state: State) -> tuple[State, Floats]:
        """Take one step of each solve; return with it the shorter of its two lengths, 0 where none."""
        at, dual = state
        working, values = at.working, dual.values
        inverse = 1.0 / at.slack
        pull, stiff = dual.barrier[working.owner] * inverse, values * inverse
        delta = self.normal.solve(working, at.unit, pull, stiff, self.params.least_pivot)
        good = np.asarray(np.isfinite(delta).all(axis=1))
        delta[~good] = 0.0
        slope = self.slopes(at, delta)
        rise = pull - values - stiff * slope
        primal = working.largest(-slope * inverse)
        dual_limit = working.largest(-rise / (values + 1e-300))
        boundary = self.params.to_boundary
        with np.errstate(divide="ignore"):
            up = np.where(primal > 0, np.minimum(1.0, boundary / primal), 1.0)
            along = np.where(dual_limit > 0, np.minimum(1.0, boundary / dual_limit), 1.0)
        up, along = np.where(good, up, 0.0), np.where(good, along, 0.0)
        values = values + along[working.owner] * rise
        at, up = self.moved(at, delta, up)
        return (at, replace(dual, values=values)), np.minimum(up, along)

    def slopes(self, at: Iterates, delta: Floats) -> Floats:
        """Return how the slacks change along (solves, z + w + 1) steps, in their order."""
        program, working, n_z = self.program, at.working, self.program.n_z
        dz, dw, dm = delta[:, :n_z], delta[:, n_z:-1], delta[:, -1]
        away = (at.unit * _differences(working, self.coordinates(dz))).sum(axis=0)
        of_paths = away - dm[working.solve] * working.distance
        if program.n_w:
            of_paths += np.einsum("pw,pw->p", working.bend, dw[working.solve])
        rest = [dz, -dz]
        if len(program.rows):
            rest.insert(0, delta[:, :-1] @ program.rows.T + dm[:, None] * program.row_scale)
        return np.concatenate([of_paths, np.hstack(rest).ravel()])

    def moved(self, at: Iterates, delta: Floats, up: Floats) -> tuple[Iterates, Floats]:
        """Take (solves,) shares of (solves, z + w + 1) steps; return with it what is left of them.

        A share is halved until no path outside the working set is too short; those in it cannot be.
        """
        n_z = self.program.n_z
        while True:
            by = up[:, None] * delta
            z, w, m = at.z + by[:, :n_z], at.w + by[:, n_z:-1], at.m + by[:, -1]
            if not self.selects:
                return self.measured(at.row, z, w, m, at.allowed, at.near, at.working), up
            allowed = self.survey(z, w)
            crossed = allowed.min(axis=1) < m * (1 - ROUNDING)
            if not crossed.any():
                return self.measured(at.row, z, w, m, allowed, at.near, at.working), up
            up = np.where(crossed, 0.5 * up, up)


def _differences(working: WorkingSet, p: Floats) -> Floats:
    """Return (2, paths) the differences of (solves, 2, tips) coordinates along the working set."""
    flat = p.transpose(1, 0, 2).reshape(2, -1)
    return taken(flat, working.first) - taken(flat, working.second)


def _apart(program: NonlinearProgram, z: Floats, inset: Floats) -> Floats:
    """Return variables whose tips are all apart: where two lie on one point, all move a little."""
    tips = program.tips(z)
    order = tips[np.lexsort(tips.T)]
    if (order[1:] != order[:-1]).any(axis=1).all():
        return z
    spread = np.modf(np.arange(1, len(z) + 1) * GOLDEN)[0]
    middle = (program.lower + program.upper) / 2
    moved: Floats = z + np.where(z > middle, -1.0, 1.0) * spread * inset
    return moved
