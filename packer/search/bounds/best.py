"""The best proven upper bound within the time given: the quick rules first, then the search."""

from __future__ import annotations

from time import process_time
from typing import TYPE_CHECKING

from packer.search.bounds.area import area_bound
from packer.search.bounds.proof import subset_bounds
from packer.search.bounds.rules import classical_bounds

if TYPE_CHECKING:
    from collections.abc import Callable

    from packer.packing import Bound, Packing
    from packer.problem import Problem


def quick_bound(problem: Problem) -> Bound:
    """Return the best of the bounds that take no time: a few hundredths of a second."""
    best = classical_bounds(problem)[0]
    return min(best, area_bound(problem, best.scale), key=lambda bound: bound.scale)


def upper_bound(
    problem: Problem,
    seconds: float,
    best: Packing | None = None,
    stop: Callable[[], bool] | None = None,
    report: Callable[[Bound], None] | None = None,
) -> Bound:
    """Return the best upper bound on the scale that can be proven in the time given.

    Parameters
    ----------
    problem
        What is packed. Everything handed over can be pickled, so this may run in a process of
        its own beside the search.
    seconds
        CPU time of this process; the quick rules run even when it is zero.
    best
        The best packing known. It guides which tips are looked at and ends the work as soon as
        the bound meets it; no bound depends on it being right.
    stop
        Asked now and then; the work ends early where it returns true.
    report
        Called with each better bound as it is proven.
    """
    until = process_time() + seconds
    bound = quick_bound(problem)
    if report is not None:
        report(bound)
    for better in subset_bounds(problem, bound.scale, until, best, stop):
        bound = better
        if report is not None:
            report(bound)
    return bound
