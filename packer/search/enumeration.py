"""Many packings of one problem: the local optima that starts pass through.

A search keeps the best of what it meets. Whoever wants to choose among many packings, a gallery or
the settling of creases, takes the members of one population after another instead.
"""

from __future__ import annotations

from itertools import count
from typing import TYPE_CHECKING, Final

from packer.deadline import NEVER, Deadline
from packer.model.packing import SearchRecord
from packer.search.gallery_params import DEFAULT
from packer.search.memetic.run import SearchGoal, begin, stepped
from packer.search.parallel.threads import one_thread
from packer.search.result.finalise import finalised
from packer.search.result.packing_distance import oriented_like
from packer.units import SAME_SCALE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from packer.local_solver.solver import LocalOptimum
    from packer.model.packing import Packing
    from packer.search.gallery_params import EnumerationParams
    from packer.search.memetic.run import Run

ENUMERATION_SEED: Final = 2_000_003
"""Added to the seed, so that these starts are not those of a search."""


def stages(
    goal: SearchGoal,
    seed: int,
    index: int,
    params: EnumerationParams = DEFAULT.enumeration,
    last: Deadline = NEVER,
) -> Iterator[Run]:
    """Yield a start after each of its steps, until it is done or has made its local solves.

    A step is cut short at the last deadline.
    """
    run = begin(seed, index)
    most = params.most_solves / goal.problem.tree.n_tips
    while not run.done and run.solves < most:
        run = stepped(goal, run, last)
        yield run


def distinct_optima(
    goal: SearchGoal,
    seed: int,
    index: int,
    deadline: Deadline = NEVER,
    params: EnumerationParams = DEFAULT.enumeration,
) -> tuple[tuple[LocalOptimum, ...], bool, int]:
    """Return the largest local optima of different scales that a start passes through.

    Returns
    -------
    tuple of LocalOptimum, bool, int
        At most `params.kept`, the largest first; whether the start ended before the deadline; and
        how many local solves it made.
    """
    seen: dict[int, LocalOptimum] = {}
    in_time, tried = True, 0
    for run in stages(goal, seed, index, params, deadline):
        seen |= {id(optimum): optimum for optimum in run.population}
        in_time, tried = not deadline.over, run.solves
        if not in_time:
            break
    distinct: list[LocalOptimum] = []
    for optimum in sorted(seen.values(), key=lambda optimum: -optimum.scale):
        if not distinct or optimum.scale < distinct[-1].scale * (1 - SAME_SCALE):
            distinct.append(optimum)
    return tuple(distinct[: params.kept]), in_time, tried


def pool(model: Packing, least: float = 0.0, seed: int = 0) -> Iterator[Packing | None]:
    """Yield packings of a problem with as few split rivers as can be, without end.

    None is yielded after every step of a start, so that the caller can do other work in between. The
    packings are the members of one population after another, each in the order in which they were
    met: at first small ones, then ever larger.

    Parameters
    ----------
    model
        A packing of the problem; the others are turned to lie as it does, so that head and tail
        stay where they were seen.
    least
        Smallest scale of use.
    seed
        The same seed gives the same packings.
    """
    problem = model.problem
    goal = SearchGoal(problem, whole_rivers=True)
    for index in count():
        seen: set[tuple[int, str]] = set()
        steps = stages(goal, seed + ENUMERATION_SEED, index)
        while (run := _next_of(steps)) is not None:
            for optimum in run.population:
                if optimum.scale >= least and _key(optimum) not in seen:
                    seen.add(_key(optimum))
                    record = SearchRecord(seed, index + 1, 1, 0.0, "starts")
                    yield oriented_like(finalised(problem, optimum, record), model)
            yield None


def _next_of(steps: Iterator[Run]) -> Run | None:
    """Return the next stage of a start, computed with one thread; None at its end."""
    with one_thread():
        return next(steps, None)


def _key(optimum: LocalOptimum) -> tuple[int, str]:
    """Tell packings apart by their splits and their scale to seven digits."""
    return optimum.splits, f"{optimum.scale:.7g}"
