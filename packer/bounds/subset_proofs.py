"""Proofs by subsets: which tips, and how low a scale to try, with the time that is left."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.bounds.branch_and_bound import exclude
from packer.bounds.subset_growth import SubsetGrowth
from packer.bounds.symmetry_breaking import one_of_equals
from packer.bounds.work_budget import BOXES_PER_SECOND
from packer.model.packing import Bound

if TYPE_CHECKING:
    from collections.abc import Iterator

    from packer.bounds.branch_and_bound import Outcome, Row
    from packer.bounds.subset_growth import Subset
    from packer.bounds.work_budget import WorkBudget
    from packer.model.packing import Packing
    from packer.model.problem import Problem

MOST_VARIABLES: Final = 26
"""Coordinates of a subset beyond which a proof was never finished in a minute."""
FIRST_SLICE: Final = 0.05 * BOXES_PER_SECOND
"""Boxes that the first attempts may be expected to take; doubled when nothing is left."""
PATIENCE: Final = 3.0
"""Multiple of the expected boxes after which an attempt is given up."""
FIRST: Final = 0.006
"""Relative distance from a subset's optimum of a first attempt, should its estimate be too low.

Headroom of two samples after 5 s at 0.02, 0.006 and 0.003: 0.090, 0.073, 0.080 (12 flaps) and 0.39,
0.33, 0.34 (80 flaps); at 1e-7 the first stayed at 0.42.
"""
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
    coordinates, give or take 2.6 (fitted to 150 proofs on random figures); `difficulty` corrects it.
    """

    subset: Subset
    difficulty: float = 0.0
    least: float = FIRST
    rows: list[Row] = field(init=False)

    def __post_init__(self) -> None:
        self.rows = one_of_equals(self.subset.problem, self.subset.program)

    def promise(self, boxes: float, floor: float) -> float:
        """Return the scale that so many boxes are expected to exclude in the end."""
        bits = -2.5 + 0.75 * self.subset.program.n_z + self.difficulty - np.log2(boxes)
        x = max(NEAREST, 2.0 ** (bits / 0.78))
        return float(max(self.subset.scale, floor) * (1 + x))

    def target(self, boxes: float, floor: float) -> float:
        """Return the scale to exclude next: what is promised, or higher while little is proven."""
        near = max(self.subset.scale, floor) * (1 + self.least)
        return float(max(near, self.promise(boxes, floor)))

    def expected(self, target: float) -> float:
        """Return how many boxes a scale is expected to need, in bits."""
        x = max(NEAREST, target / self.subset.scale - 1)
        return float(
            -2.5 + 0.75 * self.subset.program.n_z + self.difficulty - 0.78 * np.log2(x)
        )

    def learn(self, outcome: Outcome, target: float, growth: SubsetGrowth) -> None:
        """Correct the estimates by how an attempt ended, and by a second look at the subset."""
        again = self.subset
        if not outcome.proven and outcome.witness is None:
            again = growth.second_look(self.subset)
        if outcome.proven:
            self.least /= 10
        if outcome.witness is not None:
            self.subset = growth.improved(self.subset, outcome.witness, target)
        elif again.scale > self.subset.scale * (1 + ROSE):
            self.subset = again
        else:
            surprise = np.log2(max(outcome.boxes, 1)) - self.expected(target)
            self.difficulty += surprise / 2 if outcome.proven else max(1.5, surprise)


def subset_bounds(
    problem: Problem,
    known: float,
    budget: WorkBudget,
    best: Packing | None = None,
) -> Iterator[Bound]:
    """Yield ever better bounds, each proven by branch and bound on some of the tips.

    Parameters
    ----------
    problem
        The whole.
    known
        A bound already known.
    budget
        What the work may cost.
    best
        A good packing of the whole; guides the choice of tips and tells when all is done.
    """
    growth = SubsetGrowth(problem, best.points if best is not None else None, budget)
    floor = best.scale if best is not None else 0.0
    subset: Subset | None = growth.first()
    chosen = [_Candidate(whole) for whole in growth.whole()]
    share = FIRST_SLICE
    while not budget.over and known > floor * (1 + 2 * NEAREST):
        if subset is not None:
            subset = _next(growth, subset, floor)
        if subset is not None:
            chosen.append(_Candidate(subset, chosen[-1].difficulty if chosen else 0.0))
        here = min(chosen, key=lambda c: c.promise(share, floor), default=None)
        if here is None:
            return
        target = here.target(share, floor)
        lowest = max(floor, min(c.subset.scale for c in chosen))
        if subset is None and known <= lowest * (1 + 2 * NEAREST):
            return  # no subset promises less
        if known - target < WORTH * (known - lowest):
            if subset is None:
                share *= 2
                here.least /= 10
            continue
        tips, places = here.subset.program, here.subset.places
        outcome = exclude(tips, target, here.rows, places, budget, PATIENCE * share)
        here.learn(outcome, target, growth)
        if outcome.proven:
            known = target
            yield Bound(target, f"branch and bound on {len(here.subset.tips)} tips")


def _next(growth: SubsetGrowth, subset: Subset, floor: float) -> Subset | None:
    """Return the next larger subset, or None where it would be of no more use."""
    if subset.scale <= floor * (1 + NEAREST):
        return None
    larger = growth.grown(subset)
    if larger is None or larger.program.n_z > MOST_VARIABLES:
        return None
    return larger
