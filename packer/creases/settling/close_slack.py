"""Grow parts and move tips until nearly every side of a triangulation is an active path.

A triangle with three active sides is a rabbit ear, whose hinges meet at the tangent points of
its incircle: nothing in it is finer than a tree edge times the angle of a wedge. With two
unknowns for each tip and one for each tree edge against about three sides for each tip, nearly
all sides of a triangulation can be made active at once if parts may grow a little.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from scipy.sparse import csr_matrix

from packer.creases.completion.convex_partition import triangulation
from packer.creases.constraints.active_paths import bounds_of, pairs_in_reach
from packer.creases.constraints.linear_program import minimised
from packer.creases.constraints.variables import freedom, shifted, slack_rows, symmetrised
from packer.units import ACTIVE_GAP

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from packer.creases.tip_layout import Plan

FLAP_COST: Final = 0.3
RIVER_COST: Final = 1.0
FILLER_COST: Final = -0.5
"""What a unit of growth costs against a unit of slack closed; a filler may as well be long."""

LEAST_REACH: Final = 1e-4
"""Share of the diagonal below which a step is not worth another programme."""


PROGRAMMES: Final = 25
"""Most linear programmes in a row."""

STALLED: Final = 1e-4
"""Gain, as a share of all slack, below which the reach of the next programme is halved."""

REMADE: Final = 3
"""The triangulation is made again for every so many programmes."""


@dataclass(frozen=True)
class Growth:
    """How far parts may grow and what it costs.

    Attributes
    ----------
    flaps, rivers
        Most growth, as a share of the length asked for.
    cost
        Weight of growth against slack.
    sharpness
        Slack, as a share of the diagonal, at which a side's weight has fallen to half: small
        slacks are closed first.
    reach
        Share of the diagonal by which a coordinate or a length may change in one programme.
    """

    flaps: float = 1.0
    rivers: float = 0.15
    cost: float = 0.03
    sharpness: float = 0.007
    reach: float = 0.03


def grown(
    plan: Plan,
    asked: NDArray[np.float64],
    growth: Growth,
    check: Callable[[], None] = lambda: None,
) -> Plan:
    """Return the plan with as many sides active as growth within its limits allows.

    Parameters
    ----------
    plan
        A plan whose slacks are not negative.
    asked
        (edges,) lengths in sheet units below which no part may fall.
    growth
        The limits.
    check
        Called before each linear programme, to raise where time is out.
    """
    unit = plan.sheet.diagonal
    caps = _caps(plan, asked, growth)
    reach = growth.reach
    sides = triangulation(plan, ACTIVE_GAP * unit)
    last = np.inf
    for k in range(PROGRAMMES):
        check()
        if k % REMADE == REMADE - 1:
            sides = triangulation(plan, ACTIVE_GAP * unit)
            last = np.inf
        i, j = np.array(sides).T
        slack = np.maximum(plan.slack[i, j], 0.0) / unit
        better = _programme(plan, (i, j), asked, caps, growth, reach * unit)
        if better is None:
            reach /= 2
        else:
            plan, value = better
            reach = reach / 2 if value > last - STALLED * float(slack.sum()) else reach
            last = value
        if reach < LEAST_REACH:
            break
    return plan


def _caps(plan: Plan, asked: NDArray[np.float64], growth: Growth) -> NDArray[np.float64]:
    """(edges,) longest lengths: fillers grow as they like, a flap bound to the middle not."""
    n = plan.tree.n_tips
    caps = asked * (1 + growth.rivers)
    caps[:n] = asked[:n] * (1 + growth.flaps)
    for k, name in enumerate(plan.tree.flaps):
        if name in plan.fillers:
            caps[k] = plan.sheet.diagonal
        elif (
            plan.low[k].min() > 0
            and (plan.high[k] < (plan.sheet.width, plan.sheet.height)).all()
        ):
            caps[k] = plan.lengths[k]
    return caps


def _costs(plan: Plan) -> NDArray[np.float64]:
    n = plan.tree.n_tips
    costs = np.full(len(plan.lengths), RIVER_COST)
    costs[:n] = [FILLER_COST if name in plan.fillers else FLAP_COST for name in plan.tree.flaps]
    return costs


def _programme(
    plan: Plan,
    sides: tuple[NDArray[np.intp], NDArray[np.intp]],
    asked: NDArray[np.float64],
    caps: NDArray[np.float64],
    growth: Growth,
    reach: float,
) -> tuple[Plan, float] | None:
    """Solve one linear programme; return the plan after it and the value of its objective."""
    n, unit = plan.tree.n_tips, plan.sheet.diagonal
    free = freedom(plan)
    slack = np.maximum(plan.slack[sides], 0.0)
    weights = growth.sharpness / (slack / unit + growth.sharpness)
    objective = weights @ slack_rows(plan, *sides)
    objective[2 * n :] += growth.cost * _costs(plan)
    objective = free.reduce(objective)
    i, j = pairs_in_reach(plan, reach)
    rows = free.reduce(slack_rows(plan, i, j))
    low, high = bounds_of(plan, free, reach)
    grows = free.lead >= 2 * n
    parts = free.lead[grows] - 2 * n
    low[grows] = np.maximum(low[grows], np.minimum((asked - plan.lengths)[parts], 0.0))
    high[grows] = np.minimum(high[grows], np.maximum((caps - plan.lengths)[parts], 0.0))
    best = minimised(
        objective,
        A_ub=csr_matrix(-rows),
        b_ub=np.maximum(plan.slack[i, j], 0.0),
        bounds=np.stack([low, high], axis=1),
    )
    if best is None:
        return None
    after = symmetrised(shifted(plan, free.expand(best)))
    closed = np.maximum(after.slack[sides], 0.0) / unit
    value = float(np.log1p(closed / growth.sharpness).sum() * growth.sharpness)
    value += growth.cost * float(_costs(plan) @ after.lengths) / unit
    return after, value
