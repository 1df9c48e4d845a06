"""A pool: one packing of a problem after another, for whoever has to choose among many."""

from __future__ import annotations

from itertools import count
from typing import TYPE_CHECKING, Final

from packer.model.packing import SearchRecord
from packer.search.memetic.run import SearchGoal, advance, begin
from packer.search.parallel.threads import one_thread
from packer.search.result.finalise import finalised
from packer.search.result.packing_distance import oriented_like

if TYPE_CHECKING:
    from collections.abc import Iterator

    from packer.local_solver.solver import LocalOptimum
    from packer.model.packing import Packing

SEED_APART: Final = 2_000_003
"""Added to the seed, so that these starts are not those of a search."""

ASCENTS: Final = 10_000
"""Ascents of one start, times flaps, as for a gallery."""


def pool(model: Packing, least: float = 0.0, seed: int = 0) -> Iterator[Packing | None]:
    """Yield packings of a problem with as few split rivers as can be, without end.

    None is yielded after every step of a walk, so that whoever draws may turn to other things. The
    packings are the members of one population after another, each in the order in which they were
    found: at first small ones, then ever larger.

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
    quest = SearchGoal(problem, whole_rivers=True)
    most = ASCENTS / problem.tree.n_tips
    for index in count():
        walk = begin(seed + SEED_APART, index)
        seen: set[tuple[int, str]] = set()
        while not walk.done and walk.solves < most:
            with one_thread():
                walk = advance(quest, walk, 0.0)
            for spot in walk.spots:
                if spot.scale >= least and _key(spot) not in seen:
                    seen.add(_key(spot))
                    record = SearchRecord(seed, index + 1, 1, 0.0, "starts")
                    yield oriented_like(finalised(problem, spot, record), model)
            yield None


def _key(spot: LocalOptimum) -> tuple[int, str]:
    """Tell packings apart by their splits and their scale to seven digits."""
    return spot.splits, f"{spot.scale:.7g}"
