"""The best proven upper bound within the time given: the quick rules first, then the search."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from packer.bounds.bound_params import DEFAULT
from packer.bounds.classical_rules import classical_bounds
from packer.bounds.subset_proofs import subset_bounds
from packer.bounds.tree_area import area_bound
from packer.bounds.work_budget import WorkBudget
from packer.deadline import NEVER, Deadline

if TYPE_CHECKING:
    from collections.abc import Callable

    from packer.bounds.bound_params import BoundParams
    from packer.model.packing import Bound, Packing
    from packer.model.problem import Problem


def quick_bound(problem: Problem, params: BoundParams = DEFAULT) -> Bound:
    """Return the best of the bounds that take no time: a few hundredths of a second."""
    best = classical_bounds(problem)[0]
    return min(best, area_bound(problem, best.scale, params), key=lambda bound: bound.scale)


def upper_bound(
    problem: Problem,
    deadline: Deadline = NEVER,
    best: Packing | None = None,
    *,
    known: Bound | None = None,
    boxes: float = math.inf,
    stop: Callable[[], bool] | None = None,
    report: Callable[[Bound], None] | None = None,
    params: BoundParams = DEFAULT,
) -> Bound:
    """Return the best upper bound on the scale that can be proven with the work granted.

    Without any limit the work ends where the bound meets the best packing, which may be never.

    Parameters
    ----------
    problem
        What is packed. Everything handed over can be pickled, so this may run in a process of
        its own beside the search.
    deadline
        Until when; the quick rules run even when it is over.
    best
        The best packing known. It guides which tips are looked at and ends the work as soon as
        the bound meets it; no bound depends on it being right.
    known
        A bound proven already; that of the quick rules by default.
    boxes
        Work in boxes narrowed, some 250 000 in a second. Limited by this alone, the bound is the
        same in every run.
    stop
        Asked now and then; the work ends early where it returns true.
    report
        Called with each better bound as it is proven.
    params
        Of the tree area bound and of the proof by subsets.
    """
    budget = WorkBudget(boxes, deadline, stop)
    bound = known or quick_bound(problem, params)
    if report is not None:
        report(bound)
    for better in subset_bounds(problem, bound.scale, budget, best, params):
        bound = better
        if report is not None:
            report(bound)
    return bound
