"""Carry a packing on to another problem: to the local optimum next to it, and no further."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from packer.search.bounds.best import quick_bound
from packer.search.climbing import Foothold, Workshop, better
from packer.search.finish import finished
from packer.search.near import spot_near

if TYPE_CHECKING:
    from packer.packing import Packing
    from packer.problem import Problem


def carried(problem: Problem, near: Packing) -> Packing | None:
    """Return the packing that one climb from another problem's packing reaches.

    It takes some hundredths of a second where a start takes seconds, and is never worse than the
    other's tips, stretched over this sheet, are. The bound beside it is a quick one.

    Parameters
    ----------
    problem
        What is packed.
    near
        A packing of the same or a similar figure, on any sheet.

    Returns
    -------
    Packing
        None where `packer.search.near.spot_near` finds no place to begin.
    """
    first = spot_near(problem, near, np.random.default_rng(near.search.seed))
    if first is None:
        return None
    shop = Workshop(problem, problem.figure.whole_rivers)
    (end,) = shop.climb([Foothold(first.choice, first.z)], [first])
    best = end if better(end, first) else first
    return finished(problem, best, near.search, quick_bound(problem))
