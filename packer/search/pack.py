"""The search: many starts over any executor, the best of them polished into a packing."""

from __future__ import annotations

from time import monotonic
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.errors import OptionError, SearchError
from packer.model.packing import SearchRecord
from packer.model.problem import Problem, pose
from packer.search.memetic.run import SearchGoal
from packer.search.parallel.background_bound import BackgroundBound
from packer.search.parallel.coordinator import Hunt, Progress
from packer.search.parallel.executors import WorkerPool
from packer.search.parallel.stopping import MaxStarts, NoImprovement, StoppingRule, hits_of
from packer.search.parallel.threads import one_thread
from packer.search.result.finalise import finalised
from packer.search.warm_start import start_near

if TYPE_CHECKING:
    from collections.abc import Callable
    from concurrent.futures import Executor

    from packer.model.figure import Figure, Symmetry
    from packer.model.packing import Packing
    from packer.model.sheet import Sheet

__all__ = ["Progress", "pack"]

PATIENCE: Final = 1
"""Starts without improvement after which a search ends by itself."""
MOST_FINISHED: Final = 12
"""Packings finished in search of one with whole rivers, where the best of a search has none."""
LONGEST: Final = 40.0
"""Seconds after which a search without a limit of its own ends by itself."""


def pack(
    figure: Figure | Problem,
    sheet: Sheet | None = None,
    symmetry: Symmetry | None = None,
    *,
    seed: int = 0,
    time: float | None = None,
    starts: int | None = None,
    patience: int | None = None,
    workers: int | None = None,
    executor: Executor | None = None,
    progress: Callable[[Progress], None] | None = None,
    near: Packing | None = None,
    whole_rivers: bool | None = None,
    proof: float = 1.0,
) -> Packing:
    """Find the largest packing of a figure.

    Parameters
    ----------
    figure
        A figure, or a problem already posed.
    sheet, symmetry
        Override those of the figure.
    seed
        The same seed gives the same packing, whatever the number of workers, unless time ends
        the search.
    time
        Seconds to search; without any limit the search ends by itself.
    starts
        How many starts to make.
    patience
        End after so many starts without improvement.
    workers
        Processes to use; one for each processor by default.
    executor
        Any executor to use instead, such as a cluster's.
    progress
        Called with a `Progress` now and then.
    near
        A packing to begin from; flaps are matched by name, and the result is never worse than
        its tips are for this figure.
    whole_rivers
        Whether a packing with fewer split rivers is preferred to a larger one; as the figure
        says by default.
    proof
        Work on the long proof of an upper bound against what is usual; at 0 the quick bounds are
        all.

    Returns
    -------
    Packing
        The best found; after a KeyboardInterrupt the best until then.

    Raises
    ------
    OptionError
        Where a limit is not above zero.
    SearchError
        Where the search was ended before any packing was found.
    """
    problem = figure if isinstance(figure, Problem) else pose(figure, sheet, symmetry)
    whole = problem.figure.whole_rivers if whole_rivers is None else whole_rivers
    seconds, rules = _limits(time, starts, patience)
    if workers is not None and not workers > 0:
        raise OptionError(f"{workers} workers do no work; write a number above zero", "workers")
    began = monotonic()
    proving = BackgroundBound(problem, seconds, proof)
    quest = SearchGoal(problem, whole, proving.bound.scale)
    first = start_near(problem, near, np.random.default_rng(seed)) if near else None
    with one_thread(), WorkerPool(workers, executor) as crew:
        hunt = Hunt(quest, proving, seed, seconds, rules, progress, first, began=began)
        hunt.run(crew)
        return _packing(hunt)


def _limits(
    time: float | None, starts: int | None, patience: int | None
) -> tuple[float, tuple[StoppingRule, ...]]:
    """Turn options into seconds and rules: where nothing is given, patience and a longest time."""
    for name, value in (("time", time), ("starts", starts), ("patience", patience)):
        if value is not None and not value > 0:
            raise OptionError(f"{value} is no limit; write a number above zero", name)
    rules: list[StoppingRule] = []
    if starts is not None:
        rules.append(MaxStarts(starts))
    if patience is not None:
        rules.append(NoImprovement(patience))
    if time is not None:
        return time, tuple(rules)
    if not rules:
        return LONGEST, (NoImprovement(PATIENCE),)
    return np.inf, tuple(rules)


def _packing(hunt: Hunt) -> Packing:
    """Return the best of a hunt, polished, with its certificate and record."""
    best = hunt.best()
    if best is None:
        raise SearchError("the search ended before any packing was found; give it more time")
    problem = hunt.quest.problem
    scales = hunt.scales(hunt.counted)
    record = SearchRecord(
        hunt.seed,
        hunt.counted or len(hunt.walks),
        hits_of(scales) or 1,
        hunt.elapsed,
        hunt.stopped,
    )
    bound = hunt.proof.bound
    packing = finalised(problem, best, record, bound)
    if best.splits == 0:
        return packing
    # Rivers are counted while loose tips lie anywhere; placing them may make a river whole.
    others = sorted(
        (spot for walk in hunt.fair() for spot in walk.spots if spot is not best),
        key=lambda spot: (spot.splits, -spot.scale),
    )
    for spot in others[:MOST_FINISHED]:
        if not packing.split_rivers:
            break
        other = finalised(problem, spot, record, bound)
        packing = min(packing, other, key=lambda p: (len(p.split_rivers), -p.scale))
    return packing
