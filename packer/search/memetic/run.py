"""One start of the search: a run of the memetic algorithm, in epochs.

An epoch takes the best of some local solves as its population: from fresh starts, from a population
evolved under the penalty alone (`packer.search.memetic.relaxed_population`), or from symmetric
packings that were released (`packer.search.memetic.symmetric_subspace`). Operators are then applied
to its members (`packer.search.memetic.population`).

The packings of an epoch soon descend from one ancestor, and then hardly leave its neighbourhood. So
several epochs are given little patience each, and the elite of all of them make a last one, in which
crossover joins subtrees of different descent.

A run is advanced in legs of some seconds, so that its progress is seen, a lost worker costs little
and Ctrl-C keeps the best; the legs do not change where it goes.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from packer.deadline import NEVER, Deadline
from packer.local_solver.params import InteriorPointParams
from packer.local_solver.solver import LocalSolver, better
from packer.search.memetic.memetic_params import CYCLE, MemeticParams
from packer.search.memetic.population import merged, next_generation, rank, with_starts
from packer.search.memetic.preselection import preselected_starts
from packer.search.memetic.relaxed_population import (
    first_relaxed,
    has_changed,
    is_ripe,
    next_relaxed,
    probed,
)
from packer.search.memetic.symmetric_subspace import SymmetricSearch, applies, symmetric_starts
from packer.units import SAME_SCALE

if TYPE_CHECKING:
    from collections.abc import Sequence

    from packer.local_solver.solver import LocalOptimum, StartPoint
    from packer.model.problem import Problem
    from packer.search.memetic.relaxed_population import RelaxedPopulation

Source = Literal["fresh", "relaxed", "symmetric", "elite"]

LAST: Final = 1_000_000
"""Number of an epoch that is the last one of any figure."""


@dataclass(frozen=True, eq=False)
class SearchGoal:
    """What a run looks for, and by which parameters.

    Attributes
    ----------
    problem
        What is packed.
    whole_rivers
        Whether a packing with fewer split rivers beats any of greater scale.
    enough
        A scale that ends the run: a proven upper bound.
    params, solver_params
        Of the memetic search and of its local solver.
    """

    problem: Problem
    whole_rivers: bool = False
    enough: float = np.inf
    params: MemeticParams = field(default_factory=MemeticParams)
    solver_params: InteriorPointParams = field(default_factory=InteriorPointParams)

    def meets(self, optimum: LocalOptimum) -> bool:
        """Whether nothing better can exist."""
        return optimum.splits == 0 and optimum.scale >= self.enough * (1 - SAME_SCALE)


@dataclass(frozen=True, eq=False)
class Run:
    """The state of one start between two legs.

    Attributes
    ----------
    index, rng
        Number of the start, and its own stream of random numbers.
    population
        The population of the epoch under way, best first.
    elite
        The best of the epochs before.
    epoch
        How many epochs are over.
    relaxed, symmetric
        The relaxed population, or the symmetric packings, from which the epoch under way begins.
    fresh, released
        Start points of the epoch that were solved: fresh ones, and those of the relaxed population.
    failures
        Offspring since the best of the epoch improved.
    solves
        Local solves in all.
    done
        Whether the last epoch is over.
    """

    index: int
    rng: np.random.Generator
    population: tuple[LocalOptimum, ...] = ()
    elite: tuple[LocalOptimum, ...] = ()
    epoch: int = 0
    relaxed: RelaxedPopulation | None = None
    symmetric: SymmetricSearch = field(default_factory=SymmetricSearch)
    fresh: int = 0
    released: int = 0
    failures: int = 0
    solves: int = 0
    done: bool = False

    @property
    def best(self) -> LocalOptimum | None:
        """The best packing so far."""
        leaders = (*self.population[:1], *self.elite)
        return min(leaders, key=rank) if leaders else None


def source_of(problem: Problem, epoch: int, params: MemeticParams) -> Source:
    """Return where the first packings of an epoch come from.

    Penalty relaxation leads all relaxed populations of a figure into a few valleys, and the best
    packing is not always there, so sources take turns.
    """
    if epoch >= params.epochs_for(problem.tree):
        return "elite"
    every = params.relaxed_every
    relaxes = every > 0 and len(problem.leaders) >= params.relaxed_from
    if problem.tree.rivers:
        turn = every > 0 and (epoch % every == 0 or params.large(problem.tree))
        return "relaxed" if relaxes and turn else "fresh"
    place = epoch % CYCLE
    if place == 1 and params.symmetric_epochs and applies(problem):
        return "symmetric"
    return "relaxed" if relaxes and place == 0 else "fresh"


def begin(seed: int, index: int, near: LocalOptimum | None = None) -> Run:
    """Return a start before its first leg; each has a stream of random numbers of its own.

    One that begins near a given packing makes no fresh starts: its last epoch grows there.
    """
    rng = np.random.default_rng([seed, index])
    return Run(index, rng) if near is None else Run(index, rng, (near,), epoch=LAST)


def advance(goal: SearchGoal, run: Run, deadline: Deadline, last: Deadline = NEVER) -> Run:
    """Return the run at the deadline, or at its end if that is sooner; at least one step later.

    A step is cut short at the last deadline, that of the whole search.
    """
    solver = _solver(goal, last)
    while not run.done:
        run = _step(goal, solver, run)
        if deadline.over:
            break
    return run


def stepped(goal: SearchGoal, run: Run, last: Deadline = NEVER) -> Run:
    """Return the run one step later: a batch of local solves, or a generation under the penalty.

    The step is cut short at the last deadline.
    """
    return run if run.done else _step(goal, _solver(goal, last), run)


def _solver(goal: SearchGoal, last: Deadline = NEVER) -> LocalSolver:
    return LocalSolver(
        goal.problem, goal.whole_rivers, goal.solver_params, goal.params.initial, last
    )


def _step(goal: SearchGoal, solver: LocalSolver, run: Run) -> Run:
    """Make a step of the epoch under way, and go on to the next epoch where it is over."""
    tree, params = goal.problem.tree, goal.params
    if _begun(goal, run):
        run = _with_generation(solver, run, params)
    else:
        run = _with_source(goal, solver, run)
    if run.population and goal.meets(run.population[0]):
        return replace(run, done=True)
    tired = run.failures >= params.patience_for(tree, run.epoch)
    return _next_epoch(goal, run) if tired and _begun(goal, run) else run


def _begun(goal: SearchGoal, run: Run) -> bool:
    """Whether all start points of the epoch's source are solved, so that operators go on alone."""
    match source_of(goal.problem, run.epoch, goal.params):
        case "relaxed":
            return run.relaxed is not None and run.released >= len(run.relaxed.start_points)
        case "symmetric":
            return run.symmetric.spent
        case "fresh":
            return run.fresh >= goal.params.starts * goal.problem.tree.n_tips
        case _:
            return True


def _with_source(goal: SearchGoal, solver: LocalSolver, run: Run) -> Run:
    """Take a batch from the epoch's source into its population, or make the source ready."""
    params = goal.params
    source = source_of(goal.problem, run.epoch, params)
    if source == "fresh" or run.best is None:
        return _with_fresh(solver, run, params)
    if source == "symmetric":
        return _with_symmetric(solver, run, run.best.scale, params)
    if run.relaxed is None:
        relaxed = first_relaxed(solver, run.best.scale, params, run.rng)
        return _with_probe(solver, run, relaxed, solver.batch, params)
    if not is_ripe(run.relaxed, solver, params):
        relaxed = next_relaxed(solver, run.relaxed, params, run.rng)
        if has_changed(relaxed, params):
            return _with_probe(solver, run, relaxed, 1, params)
        return replace(run, relaxed=relaxed)
    after = run.released + solver.batch
    starts = run.relaxed.start_points[run.released : after]
    return _with_starts(solver, replace(run, released=after), starts, params)


def _with_fresh(solver: LocalSolver, run: Run, params: MemeticParams) -> Run:
    """Solve a batch of fresh starts."""
    best = run.best.scale if run.best else 0.0
    count = min(solver.batch, params.starts * solver.problem.tree.n_tips - run.fresh)
    starts = preselected_starts(solver, best, count, params, run.rng)
    return _with_starts(solver, replace(run, fresh=run.fresh + count), starts, params)


def _with_probe(
    solver: LocalSolver, run: Run, relaxed: RelaxedPopulation, count: int, params: MemeticParams
) -> Run:
    """Solve the best of a relaxed population early, which tells at what scale to evolve it."""
    run = _with_starts(solver, run, relaxed.start_points[:count], params)
    return replace(run, relaxed=probed(solver, relaxed, run.population[0].scale, params))


def _with_symmetric(solver: LocalSolver, run: Run, best: float, params: MemeticParams) -> Run:
    """Go on among symmetric packings, and solve what is released."""
    symmetric, starts, count = symmetric_starts(solver, run.symmetric, best, params, run.rng)
    run = replace(run, symmetric=symmetric, solves=run.solves + count)
    return _with_starts(solver, run, starts, params) if starts else run


def _with_starts(
    solver: LocalSolver, run: Run, starts: Sequence[StartPoint], params: MemeticParams
) -> Run:
    """Return the run after solving start points that come from none of its packings."""
    population = with_starts(solver, run.population, starts, params)
    return replace(run, population=population, solves=run.solves + len(starts))


def _with_generation(solver: LocalSolver, run: Run, params: MemeticParams) -> Run:
    """Return the run after a batch of offspring."""
    population, count = next_generation(solver, run.population, params, run.rng)
    rose = better(population[0], run.population[0])
    failures = 0 if rose else run.failures + count
    return replace(run, population=population, failures=failures, solves=run.solves + count)


def _next_epoch(goal: SearchGoal, run: Run) -> Run:
    """Return the run at its next epoch, which begins empty or from the elite, or done."""
    tree, params = goal.problem.tree, goal.params
    last = params.epochs_for(tree)
    if run.epoch >= last:
        return replace(run, done=True)
    elite = (*run.elite, *run.population[: params.elite_for(tree)])
    after = Run(run.index, run.rng, epoch=run.epoch + 1, solves=run.solves)
    if after.epoch < last:
        return replace(after, elite=elite)
    return replace(after, population=merged(tree, (*run.population, *run.elite), params))
