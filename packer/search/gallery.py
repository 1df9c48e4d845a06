"""The gallery: the best few packings of a figure that are really different from each other."""

from __future__ import annotations

from concurrent.futures import wait
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from packer.deadline import NEVER, Deadline
from packer.errors import OptionError
from packer.model.laying import laid
from packer.model.packing import SearchRecord
from packer.model.problem import posed
from packer.search.enumeration import distinct_optima
from packer.search.gallery_params import DEFAULT
from packer.search.memetic.run import SearchGoal
from packer.search.options import SearchOptions
from packer.search.pack import searched, usable
from packer.search.parallel.coordinator import Progress
from packer.search.parallel.executors import WorkerPool
from packer.search.parallel.threads import one_thread
from packer.search.result.finalise import (
    FINISHING_SHARE,
    SOON_FINISHED,
    finalised,
    finishing_until,
)
from packer.search.result.packing_distance import difference, oriented_like
from packer.units import SAME_SCALE

if TYPE_CHECKING:
    from collections.abc import Callable

    from packer.local_solver.solver import LocalOptimum
    from packer.model.figure import Figure, Symmetry
    from packer.model.packing import Packing
    from packer.model.problem import Problem
    from packer.model.sheet import Sheet
    from packer.search.gallery_params import EnumerationParams, GalleryParams

FURTHER_SECONDS: Final = 40.0
"""Most time for the further starts where nothing is said: as long as the search before them."""
GALLERY_SEED: Final = 1_000_003
"""Added to the seed, so that the further starts are not those of the search."""


def gallery(
    figure: Figure | Problem,
    count: int,
    sheet: Sheet | None = None,
    symmetry: Symmetry | None = None,
    *,
    options: SearchOptions | None = None,
    near: Packing | None = None,
    whole_rivers: bool | None = None,
    params: GalleryParams = DEFAULT,
) -> tuple[Packing, ...]:
    """Find the best packing and others that are really different, the largest first.

    What `pack` finds is shown with local optima of further starts, half of which prefer whole
    rivers, in the order of their scale; each differs enough from all before it
    (see `packer.search.result.packing_distance.difference`). There may be fewer than asked for:
    some figures have no other good packing.

    Parameters
    ----------
    figure, sheet, symmetry, near
        As for `pack`.
    count
        How many at most.
    options
        As for `pack`; half of a time limit is for the best packing, the rest for the others, which
        have `FURTHER_SECONDS` where no stopping rule is given.
    whole_rivers
        As for `pack`; where true, all of them prefer whole rivers.
    params
        How different packings are to be, and from how many they are chosen.

    Returns
    -------
    tuple of Packing
        The record of each says by how many starts of which search it was found.

    Raises
    ------
    OptionError
        Where the count is not above zero.
    SearchError
        Where the search was ended before any packing was found.
    """
    if not count > 0:
        raise OptionError(f"{count} packings are no gallery; write 1 or more", "gallery")
    problem = posed(figure, sheet, symmetry)
    options = options or SearchOptions()
    whole_time = options.deadline()
    first = whole_time.share(0.5) if whole_time.limited and count > 1 else None
    usual = None if options.rules else FURTHER_SECONDS
    options = usable(options)
    told: list[Progress] = []
    heard = replace(options, progress=_heard(options.progress, told))
    best = searched(problem, heard, first or options.deadline(), near, whole_rivers)
    if count == 1 or best.search.stopped == "interrupted":
        return (laid(best),)
    whole = problem.figure.whole_rivers if whole_rivers is None else whole_rivers
    goals = (SearchGoal(problem, True), SearchGoal(problem, whole))
    deadline = whole_time.share(1.0) if usual is None else Deadline.after(usual)
    # of few flaps a packing is finished in a moment, and of a gallery many are that are not taken then
    few = count * problem.tree.n_tips <= SOON_FINISHED
    finishing = 0.0 if few or not deadline.limited else FINISHING_SHARE * deadline.total
    further = further_starts(
        goals,
        params.starts_each * count,
        _after(options, best, told),
        deadline.leaving(finishing),
        params.enumeration,
    )
    with one_thread():
        packings = chosen(best, further, count, whole, finishing_until(finishing), params)
    return tuple(map(laid, packings))


@dataclass(frozen=True)
class FurtherStarts:
    """The result of the starts made after a search: the local optima that each passed through.

    Attributes
    ----------
    optima
        For each start those kept, the largest first.
    record
        How many starts were completed and why they ended; its hits are to be filled in.
    """

    optima: tuple[tuple[LocalOptimum, ...], ...]
    record: SearchRecord

    def record_of(self, optimum: LocalOptimum) -> SearchRecord:
        """Return the record of one of the optima: how many starts came as far as its scale."""
        least = optimum.scale * (1 - SAME_SCALE)
        hits = sum(any(other.scale >= least for other in start) for start in self.optima)
        return replace(self.record, hits=hits)


def further_starts(
    goals: tuple[SearchGoal, ...],
    count: int,
    options: SearchOptions,
    deadline: Deadline,
    params: EnumerationParams = DEFAULT.enumeration,
) -> FurtherStarts:
    """Make starts with each of the goals in turn, until the deadline or the keyboard ends them."""
    optima: list[tuple[LocalOptimum, ...]] = []
    completed, tried, stopped = 0, 0, "starts"
    with one_thread(), WorkerPool(options.workers, options.executor) as workers:
        try:
            for first in range(0, count, workers.count):
                if deadline.over:
                    break
                running = [
                    workers.submit(
                        distinct_optima,
                        goals[k % len(goals)],
                        options.seed + GALLERY_SEED,
                        k,
                        deadline,
                        params,
                    )
                    for k in range(first, min(first + workers.count, count))
                ]
                wait(running)
                for leg in running:
                    passed, ended, solves = workers.result(leg) or ((), False, 0)
                    optima.append(passed)
                    completed, tried = completed + ended, tried + solves
                if options.progress is not None:
                    scale = max((o.scale for start in optima for o in start), default=0.0)
                    now = Progress(deadline.elapsed, completed, scale, 0, None, tried)
                    options.progress(now)
        except KeyboardInterrupt:
            stopped = "interrupted"
    if stopped == "starts" and completed < count:
        stopped = "time" if deadline.over else "workers lost"
    starts = completed or len(optima)
    record = SearchRecord(options.seed, starts, 0, deadline.elapsed, stopped)
    return FurtherStarts(tuple(optima), record)


def _heard(
    tell: Callable[[Progress], None] | None, told: list[Progress]
) -> Callable[[Progress], None] | None:
    """Return a listener that keeps the last of what it is told in a list."""
    if tell is None:
        return None

    def progress(now: Progress) -> None:
        told[:] = [now]
        tell(now)

    return progress


def _after(options: SearchOptions, best: Packing, told: list[Progress]) -> SearchOptions:
    """Return options whose progress counts further starts on from those of the search before."""
    tell, before = options.progress, best.search
    if tell is None:
        return options
    tried = sum(last.tried for last in told)

    def progress(now: Progress) -> None:
        bound = None if best.bound is None else best.bound.scale
        seconds, starts = before.seconds + now.seconds, before.starts + now.starts
        scale = max(best.scale, now.scale)
        tell(Progress(seconds, starts, scale, before.hits, bound, tried + now.tried))

    return replace(options, progress=progress)


def chosen(
    best: Packing,
    further: FurtherStarts,
    count: int,
    whole: bool,
    finish: Deadline = NEVER,
    params: GalleryParams = DEFAULT,
) -> tuple[Packing, ...]:
    """Return packings that differ from all taken before, largest first.

    Parameters
    ----------
    best
        What a search found; first of all where whole rivers are wanted. A larger packing
        that is much like it takes its place.
    further
        The local optima to choose from.
    count, whole
        How many at most, and whether whole rivers are wanted.
    finish
        When no other is solved to its last digits.
    params
        How different and how large they are to be.
    """
    taken = [best] if whole else []
    waiting = None if whole else best
    optima = [optimum for start in further.optima for optimum in start]
    for optimum in sorted(optima, key=lambda optimum: -optimum.scale):
        if len(taken) == count or optimum.scale < best.scale * (1 - params.worst):
            break
        if finish.over:
            break
        record = further.record_of(optimum)
        packing = finalised(best.problem, optimum, record, best.bound, finish)
        if waiting is not None and packing.scale <= waiting.scale * (1 + SAME_SCALE):
            _take(taken, waiting, params.different)
            waiting = None
        if len(taken) < count:
            _take(taken, packing, params.different)
    if waiting is not None and len(taken) < count:
        _take(taken, waiting, params.different)
    return tuple(taken)


def _take(taken: list[Packing], packing: Packing, different: float) -> None:
    """Add a packing, turned to lie as the first does, if it differs from all taken before."""
    if all(difference(packing, other) >= different for other in taken):
        taken.append(oriented_like(packing, taken[0]) if taken else packing)
