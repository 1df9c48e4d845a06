"""Proofs by subsets: which tips, and how low a scale to try, with the time that is left."""

from __future__ import annotations

from dataclasses import dataclass
from time import process_time
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.packing import Bound
from packer.search.bounds.boxes import exclude
from packer.search.bounds.growth import first_subset, grown, improved, second_look
from packer.search.bounds.names import one_of_equals

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from numpy.typing import NDArray

    from packer.packing import Packing
    from packer.problem import Problem
    from packer.search.bounds.boxes import Outcome, Row
    from packer.search.bounds.growth import Subset

MOST_VARIABLES: Final = 26
"""Coordinates of a subset beyond which a proof was never finished in a minute."""
BOXES_PER_SECOND: Final = 2.5e5
FIRST_SLICE: Final = 0.05
"""CPU seconds that the first attempts may be expected to take; doubled when nothing is left."""
PATIENCE: Final = 3.0
"""Multiple of the expected time after which an attempt is given up."""
NEAREST: Final = 1e-7
"""Relative distance from a subset's optimum below which no proof is tried."""
ROSE: Final = 1e-4
"""Relative rise of an estimated optimum that explains why a proof just above it failed."""
WORTH: Final = 0.05
"""Share of the gap to the best packing that an attempt must promise to close."""


@dataclass(eq=False)
class _Candidate:
    """A subset with what was learnt about how hard its proofs are.

    Boxes needed to exclude (1 + x) times the optimum, in bits: -2.5 + 0.75 z - 0.78 log2 x for z
    coordinates, give or take 2.6 (fitted to 150 proofs on random figures); `harder` corrects it.
    """

    subset: Subset
    rows: list[Row]
    harder: float = 0.0

    def target(self, boxes: float, floor: float) -> float:
        """Return the scale that so many boxes are expected to exclude."""
        bits = -2.5 + 0.75 * self.subset.program.n_z + self.harder - np.log2(boxes)
        x = max(NEAREST, 2.0 ** (bits / 0.78))
        return float(max(self.subset.scale, floor) * (1 + x))

    def expected(self, target: float) -> float:
        """Return how many boxes a scale is expected to need, in bits."""
        x = max(NEAREST, target / self.subset.scale - 1)
        return float(-2.5 + 0.75 * self.subset.program.n_z + self.harder - 0.78 * np.log2(x))

    def learn(self, outcome: Outcome, target: float, again: Subset) -> None:
        """Correct the estimates by how an attempt ended, and by a second look at the subset."""
        if outcome.witness is not None:
            self.subset = improved(self.subset, outcome.witness, target)
        elif again.scale > self.subset.scale * (1 + ROSE):
            self.subset = again
        else:
            surprise = np.log2(max(outcome.boxes, 1)) - self.expected(target)
            self.harder += surprise / 2 if outcome.proven else max(1.5, surprise)


def subset_bounds(
    problem: Problem,
    known: float,
    until: float,
    best: Packing | None = None,
    stop: Callable[[], bool] | None = None,
) -> Iterator[Bound]:
    """Yield ever better bounds, each proven by branch and bound on some of the tips.

    Parameters
    ----------
    problem
        The whole.
    known
        A bound already known.
    until
        Process time at which to end.
    best
        A good packing of the whole; guides the choice of tips and tells when all is done.
    stop
        Asked now and then; true ends.
    """
    rng = np.random.default_rng(0)
    points = best.points if best is not None else None
    floor = best.scale if best is not None else 0.0
    subset: Subset | None = first_subset(problem, rng, points)
    chosen: list[_Candidate] = []
    share = FIRST_SLICE
    while process_time() < until and known > floor * (1 + 2 * NEAREST):
        if stop is not None and stop():
            return
        if subset is not None:
            subset = _next(problem, subset, rng, points, floor)
        if subset is not None:
            harder = chosen[-1].harder if chosen else 0.0
            rows = one_of_equals(subset.problem, subset.program)
            chosen.append(_Candidate(subset, rows, harder))
        boxes = share * BOXES_PER_SECOND
        here = min(chosen, key=lambda c: c.target(boxes, floor), default=None)
        if here is None:
            return
        target = here.target(boxes, floor)
        lowest = max(floor, min(c.subset.scale for c in chosen))
        if known - target < WORTH * (known - lowest):
            if subset is None:
                share *= 2
            continue
        limit = min(until, process_time() + PATIENCE * share)
        outcome = exclude(here.subset.program, target, here.rows, limit, stop)
        again = here.subset
        if not outcome.proven and outcome.witness is None:
            again = second_look(problem, here.subset, rng, points)
        here.learn(outcome, target, again)
        if outcome.proven:
            known = target
            yield Bound(target, f"branch and bound on {len(here.subset.tips)} tips")


def _next(
    problem: Problem,
    subset: Subset,
    rng: np.random.Generator,
    points: NDArray[np.float64] | None,
    floor: float,
) -> Subset | None:
    """Return the next larger subset, or None where it would be of no more use."""
    if subset.scale <= floor * (1 + NEAREST):
        return None
    larger = grown(problem, subset, rng, points)
    if larger is None or larger.program.n_z > MOST_VARIABLES:
        return None
    return larger
