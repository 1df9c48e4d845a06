"""The search: many starts over any executor, and the best of them solved to the last digits."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from packer.errors import FigureError, OptionError, SearchError
from packer.limits import MOST_FLEXED
from packer.model.laying import laid
from packer.model.packing import SearchRecord
from packer.model.problem import posed
from packer.search.memetic.run import SearchGoal
from packer.search.options import SearchOptions
from packer.search.parallel.background_bound import BackgroundBound
from packer.search.parallel.coordinator import Coordinator, Progress
from packer.search.parallel.executors import WorkerPool
from packer.search.parallel.threads import one_thread
from packer.search.result.finalise import finalised, finishing_seconds, finishing_until
from packer.search.stopping import MaxEffort, hits_of
from packer.search.warm_start import start_near

if TYPE_CHECKING:
    from packer.deadline import Deadline
    from packer.model.figure import Figure, Symmetry
    from packer.model.packing import Bound, Packing
    from packer.model.problem import Problem
    from packer.model.sheet import Sheet

__all__ = ["Progress", "pack"]

MOST_FINISHED: Final = 12
"""Packings finished in search of one with whole rivers, where the best of a search has none."""


def pack(
    figure: Figure | Problem,
    sheet: Sheet | None = None,
    symmetry: Symmetry | None = None,
    *,
    options: SearchOptions | None = None,
    near: Packing | None = None,
    whole_rivers: bool | None = None,
    proof: float = 1.0,
    known: Bound | None = None,
) -> Packing:
    """Find the largest packing of a figure.

    Parameters
    ----------
    figure
        A figure, or a problem already posed.
    sheet, symmetry
        Override those of the figure.
    options
        Seed, stopping rules and workers. Without a stopping rule the search ends by itself, after
        a start without improvement or 40 seconds. Progress is told by a `Progress`.
    near
        A packing to begin from; flaps are matched by name, and the scale of the result is never
        below what its tips allow for this figure.
    whole_rivers
        Whether a packing with fewer split rivers is preferred to a larger one; as the figure
        says by default.
    proof
        Work on the long proof of an upper bound, as a multiple of the usual; 0 leaves the quick
        bounds alone.
    known
        A bound proven already; that of the quick rules by default.

    Returns
    -------
    Packing
        The best found; after a KeyboardInterrupt the best until then.

    Raises
    ------
    OptionError
        Where a stopping rule is one of grids alone.
    SearchError
        Where the search was ended before any packing was found.
    """
    problem = posed(figure, sheet, symmetry)
    options = usable(options)
    return laid(
        searched(problem, options, options.deadline(), near, whole_rivers, proof, known)
    )


def usable(options: SearchOptions | None) -> SearchOptions:
    """Return the options of a search of circle packings.

    Raises
    ------
    OptionError
        Where a rule never ends such a search.
    """
    options = (options or SearchOptions()).by_itself()
    if any(isinstance(rule, MaxEffort) for rule in options.rules):
        raise OptionError(
            "effort ends the exact search on whole cells alone; limit the starts or the time",
            "effort",
        )
    return options


def refuse_widths(figure: Figure) -> None:
    """Refuse a figure with wide tips, which circles do not know.

    Raises
    ------
    FigureError
        Names the first, and what to do instead.
    """
    for flap in figure.flaps:
        if flap.width:
            raise FigureError(
                f"circles are drawn about a point, and this tip is {flap.width} cells wide; pack "
                "the figure with packer grid, or leave the width out and make the flap longer or "
                "put it on an edge or in a corner, where its paper is broad",
                f"flaps.{flap.name}.width",
            )


def refuse_many_flexible(problem: Problem) -> None:
    """Refuse so many flexible lengths that the solver's inequalities would fill the memory.

    Raises
    ------
    FigureError
        Where they times the pairs of tips are more than `packer.limits.MOST_FLEXED`.
    """
    n, flexible = problem.tree.n_tips, int(np.count_nonzero(problem.tree.flex))
    most = MOST_FLEXED // (n * (n - 1) // 2)
    if flexible > most:
        raise FigureError(
            f"{flexible} lengths may stray, and with {n} flaps at most {most} can; let fewer stray, or "
            "none with --flex 0",
            "flex",
        )


def searched(
    problem: Problem,
    options: SearchOptions,
    deadline: Deadline,
    near: Packing | None = None,
    whole_rivers: bool | None = None,
    proof: float = 1.0,
    known: Bound | None = None,
) -> Packing:
    """Return the best packing found until a rule or the deadline ends the search; see `pack`."""
    refuse_widths(problem.figure)
    refuse_many_flexible(problem)
    whole = problem.figure.whole_rivers if whole_rivers is None else whole_rivers
    finishing = finishing_seconds(problem, deadline)
    deadline = deadline.leaving(finishing)
    bound = BackgroundBound(problem, deadline, proof, known=known)
    goal = SearchGoal(problem, whole, bound.bound.scale)
    first = start_near(problem, near, np.random.default_rng(options.seed)) if near else None
    with one_thread(), WorkerPool(options.workers, options.executor) as workers:
        coordinator = Coordinator(goal, options, deadline, bound, first)
        coordinator.run(workers)
        return _packing(coordinator, finishing_until(finishing))


def _packing(search: Coordinator, finish: Deadline) -> Packing:
    """Return the best of a search, with its certificate and record, and until a deadline to the last digits."""
    best = search.best()
    if best is None:
        raise SearchError("the search ended before any packing was found; give it more time")
    problem = search.goal.problem
    scales = search.scales(search.counted)
    record = SearchRecord(
        search.options.seed,
        search.counted or len(search.runs),
        hits_of(scales) or 1,
        search.deadline.elapsed,
        search.stopped,
    )
    bound = search.proof.bound
    packing = finalised(problem, best, record, bound, finish)
    if best.splits == 0:
        return packing
    # Rivers are counted while rattlers lie anywhere; placing them may make a river whole.
    others = sorted(
        (
            optimum
            for run in search.counting_runs()
            for optimum in run.population
            if optimum is not best
        ),
        key=lambda optimum: (optimum.splits, -optimum.scale),
    )
    for optimum in others[:MOST_FINISHED]:
        if not packing.split_rivers or finish.over:
            break
        other = finalised(problem, optimum, record, bound, finish)
        packing = min(packing, other, key=lambda p: (len(p.split_rivers), -p.scale))
    return packing
