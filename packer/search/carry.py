"""Carry a packing on to another problem: to the local optimum next to it, and no further."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from packer.bounds.upper_bound import quick_bound
from packer.deadline import NEVER, Deadline
from packer.local_solver.solver import LocalSolver, StartPoint, better
from packer.search.parallel.threads import one_thread
from packer.search.result.finalise import finalised, finishing_seconds, finishing_until
from packer.search.warm_start import start_near

if TYPE_CHECKING:
    from packer.model.packing import Packing
    from packer.model.problem import Problem


def carried(problem: Problem, near: Packing, deadline: Deadline = NEVER) -> Packing | None:
    """Return the packing that one local solve from another problem's packing reaches.

    It takes some hundredths of a second where a start takes seconds. The scale is never below
    what the other packing's tips, stretched over this sheet, allow. The bound is the quick one.

    Parameters
    ----------
    problem
        What is packed.
    near
        A packing of the same or a similar figure, on any sheet.
    deadline
        Of this and what else is carried: when the solve of a large figure ends where it is.

    Returns
    -------
    Packing
        None where `packer.search.warm_start.start_near` finds no place to begin.
    """
    with one_thread():
        first = start_near(problem, near, np.random.default_rng(near.search.seed))
        if first is None:
            return None
        solver = LocalSolver(problem, problem.figure.whole_rivers, deadline=deadline)
        (end,) = solver.solve([StartPoint(first.choice, first.z)], [first])
        best = end if better(end, first) else first
        finish = finishing_until(finishing_seconds(problem, deadline))
        return finalised(problem, best, near.search, quick_bound(problem), finish)
