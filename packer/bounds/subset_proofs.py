"""Proofs by subsets: which tips, and how low a scale to exclude, with the work that is left."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from packer.bounds.bound_params import DEFAULT, BoundParams
from packer.bounds.branch_and_bound import exclude
from packer.bounds.subset_growth import SubsetGrowth
from packer.bounds.symmetry_breaking import one_of_equals
from packer.model.packing import Bound

if TYPE_CHECKING:
    from collections.abc import Iterator

    from packer.bounds.branch_and_bound import Outcome, Row
    from packer.bounds.subset_growth import Subset
    from packer.bounds.work_budget import WorkBudget
    from packer.model.packing import Packing
    from packer.model.problem import Problem


@dataclass(eq=False)
class _Candidate:
    """A subset with what was learnt about how hard its proofs are.

    Attributes
    ----------
    subset, params
        What it is, and how boxes are expected.
    difficulty
        Correction of the expected boxes, in bits.
    least
        Relative distance from the optimum of the next attempt, at least.
    rows
        Inequalities that at least one of all equivalent packings satisfies.
    """

    subset: Subset
    params: BoundParams
    difficulty: float = 0.0
    least: float = field(init=False)
    rows: list[Row] = field(init=False)

    def __post_init__(self) -> None:
        self.least = self.params.first_distance
        self.rows = one_of_equals(self.subset.problem, self.subset.program)

    def promise(self, boxes: float, floor: float) -> float:
        """Return the scale that so many boxes are expected to exclude in the end."""
        bits = self.constant() - np.log2(boxes)
        x = max(self.params.nearest, 2.0 ** (bits / self.params.bits_per_distance))
        return float(max(self.subset.scale, floor) * (1 + x))

    def target(self, boxes: float, floor: float) -> float:
        """Return the scale to exclude next: what is promised, or higher while little is proven."""
        near = max(self.subset.scale, floor) * (1 + self.least)
        return float(max(near, self.promise(boxes, floor)))

    def expected(self, target: float) -> float:
        """Return how many boxes a scale is expected to need, in bits."""
        x = max(self.params.nearest, target / self.subset.scale - 1)
        return float(self.constant() - self.params.bits_per_distance * np.log2(x))

    def constant(self) -> float:
        """Return the bits that do not depend on the scale."""
        variables = self.subset.program.n_z
        return self.params.bits + self.params.bits_per_variable * variables + self.difficulty

    def learn(self, outcome: Outcome, target: float, growth: SubsetGrowth) -> None:
        """Correct the estimates by how an attempt ended, and by a second look at the subset."""
        again = self.subset
        if not outcome.proven and outcome.witness is None:
            again = growth.second_look(self.subset)
        if outcome.proven:
            self.least /= 10
        if outcome.witness is not None:
            self.subset = growth.improved(self.subset, outcome.witness, target)
        elif again.scale > self.subset.scale * (1 + self.params.rise):
            self.subset = again
        else:
            surprise = np.log2(max(outcome.boxes, 1)) - self.expected(target)
            self.difficulty += (
                surprise / 2 if outcome.proven else max(self.params.least_surprise, surprise)
            )


def subset_bounds(
    problem: Problem,
    known: float,
    budget: WorkBudget,
    best: Packing | None = None,
    params: BoundParams = DEFAULT,
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
    params
        Of the choice of subsets and scales.
    """
    growth = SubsetGrowth(problem, best.points if best is not None else None, budget, params)
    floor = best.scale if best is not None else 0.0
    subset: Subset | None = growth.first()
    chosen = [_Candidate(whole, params) for whole in growth.whole()]
    share = params.first_slice
    while not budget.over and known > floor * (1 + 2 * params.nearest):
        if subset is not None:
            subset = _next(growth, subset, floor, params)
        if subset is not None:
            chosen.append(_Candidate(subset, params, chosen[-1].difficulty if chosen else 0.0))
        here = min(chosen, key=lambda c: c.promise(share, floor), default=None)
        if here is None:
            return
        target = here.target(share, floor)
        lowest = max(floor, min(c.subset.scale for c in chosen))
        if subset is None and known <= lowest * (1 + 2 * params.nearest):
            return  # no subset promises less
        if known - target < params.worth * (known - lowest):
            if subset is None:
                share *= 2
                here.least /= 10
            continue
        tips, places = here.subset.program, here.subset.places
        outcome = exclude(tips, target, here.rows, places, budget, params.patience * share)
        here.learn(outcome, target, growth)
        if outcome.proven:
            known = target
            yield Bound(target, f"branch and bound on {len(here.subset.tips)} tips")


def _next(
    growth: SubsetGrowth, subset: Subset, floor: float, params: BoundParams
) -> Subset | None:
    """Return the next larger subset, or None where it would be of no more use."""
    if subset.scale <= floor * (1 + params.nearest):
        return None
    larger = growth.grown(subset)
    if larger is None or larger.program.n_z > params.most_variables:
        return None
    return larger
