"""The gallery: the best few packings of a figure that are really different from each other."""

from __future__ import annotations

import math
import time as clock
from concurrent.futures import wait
from typing import TYPE_CHECKING, Final

from packer.errors import OptionError
from packer.model.packing import SearchRecord
from packer.model.problem import Problem, pose
from packer.search.memetic.run import SearchGoal, advance, begin
from packer.search.pack import pack
from packer.search.parallel.executors import WorkerPool
from packer.search.parallel.threads import one_thread
from packer.search.result.finalise import finalised
from packer.search.result.packing_distance import difference, oriented_like
from packer.units import SAME_SCALE

if TYPE_CHECKING:
    from collections.abc import Callable
    from concurrent.futures import Executor

    from packer.local_solver.solver import LocalOptimum
    from packer.model.figure import Figure, Symmetry
    from packer.model.packing import Packing
    from packer.model.sheet import Sheet
    from packer.search.pack import Progress

DIFFERENT: Final = 0.3
"""Least difference of two packings in a gallery: a designer sees it at a glance.

Three tenths of all flap length lie elsewhere. At 0.15 the plates of two samples showed packings
that differed by small flaps only: toes that had changed places, an eye that had moved.
"""
WORST: Final = 0.25
"""Loss of scale, against the best, up to which a packing is shown."""
STARTS_EACH: Final = 4
"""Further starts for each packing asked for."""
KEPT: Final = 12
"""Local optima kept of each start, the largest."""
ASCENTS: Final = 10_000
"""Ascents of one further start, times flaps: half a minute for five packings of 80 flaps."""
SEED_APART: Final = 1_000_003
"""Added to the seed, so that the further starts are not those of the search."""


def gallery(
    figure: Figure | Problem,
    count: int,
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
) -> tuple[Packing, ...]:
    """Find the best packing and others that are really different, the largest first.

    What `pack` finds is shown with local optima of further starts, half of which prefer whole
    rivers, in the order of their scale; each differs from all before it by `DIFFERENT` or more
    (see `packer.search.result.packing_distance.difference`). There may be fewer than asked for: some figures
    have no other good packing.

    Parameters
    ----------
    figure, sheet, symmetry, seed, starts, patience, workers, executor, progress, near
        As for `pack`.
    count
        How many at most.
    time
        Seconds in all, half of them for the best.
    whole_rivers
        As for `pack`; where true, all of them prefer whole rivers.

    Raises
    ------
    OptionError
        Where a limit or the count is not above zero.
    SearchError
        Where the search was ended before any packing was found.
    """
    if not count > 0:
        raise OptionError(f"{count} packings are no gallery; write 1 or more", "gallery")
    problem = figure if isinstance(figure, Problem) else pose(figure, sheet, symmetry)
    best = pack(
        problem,
        seed=seed,
        time=time if time is None or count == 1 else time / 2,
        starts=starts,
        patience=patience,
        workers=workers,
        executor=executor,
        progress=progress,
        near=near,
        whole_rivers=whole_rivers,
    )
    if count == 1 or best.search.stopped == "interrupted":
        return (best,)
    whole = problem.figure.whole_rivers if whole_rivers is None else whole_rivers
    quests = [SearchGoal(problem, True), SearchGoal(problem, whole)]
    pool: list[LocalOptimum] = []
    began = clock.monotonic()
    until = math.inf if time is None else began + time / 2
    with one_thread(), WorkerPool(workers, executor) as crew:
        legs = range(STARTS_EACH * count)
        try:
            for first in range(0, len(legs), crew.count):
                left = until - clock.monotonic()
                if left < 0:
                    break
                running = [
                    crew.submit(optima, quests[k % 2], seed + SEED_APART, k, left)
                    for k in legs[first : first + crew.count]
                ]
                wait(running)
                for leg in running:
                    pool += crew.result(leg) or []
        except KeyboardInterrupt:
            pass
    record = SearchRecord(seed, len(legs), 1, clock.monotonic() - began, "starts")
    return chosen(best, pool, count, record, whole)


def optima(quest: SearchGoal, seed: int, index: int, seconds: float) -> list[LocalOptimum]:
    """Return the distinct local optima that the population of one start passes through."""
    end = clock.monotonic() + seconds
    walk = begin(seed, index)
    seen: dict[int, LocalOptimum] = {}
    most = ASCENTS / quest.problem.tree.n_tips
    while not walk.done and walk.solves < most and clock.monotonic() < end:
        walk = advance(quest, walk, 0.0)
        seen |= {id(spot): spot for spot in walk.spots}
    found = list(seen.values())
    found.sort(key=lambda spot: -spot.scale)
    distinct: list[LocalOptimum] = []
    for spot in found:
        if not distinct or spot.scale < distinct[-1].scale * (1 - SAME_SCALE):
            distinct.append(spot)
    return distinct[:KEPT]


def chosen(
    best: Packing, pool: list[LocalOptimum], count: int, record: SearchRecord, whole: bool
) -> tuple[Packing, ...]:
    """Return packings that differ from all taken before, largest first.

    Parameters
    ----------
    best
        What a search found; first of all where whole rivers were wished for. A larger spot that
        is much like it takes its place.
    pool
        Spots to choose from.
    count, record, whole
        How many at most, the record of those from the pool, whether whole rivers were wished for.
    """
    taken = [best] if whole else []
    waiting = None if whole else best
    for spot in sorted(pool, key=lambda spot: -spot.scale):
        if len(taken) == count or spot.scale < best.scale * (1 - WORST):
            break
        packing = finalised(best.problem, spot, record, best.bound)
        if waiting is not None and packing.scale <= waiting.scale * (1 + SAME_SCALE):
            _take(taken, waiting)
            waiting = None
        if len(taken) < count:
            _take(taken, packing)
    if waiting is not None and len(taken) < count:
        _take(taken, waiting)
    return tuple(taken)


def _take(taken: list[Packing], packing: Packing) -> None:
    """Add a packing if it differs from all there are, lying as the first does."""
    if all(difference(packing, other) >= DIFFERENT for other in taken):
        taken.append(oriented_like(packing, taken[0]) if taken else packing)
