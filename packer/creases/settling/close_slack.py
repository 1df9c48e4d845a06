"""Grow parts and move tips until nearly every side of a triangulation is an active path.

A triangle with three active sides is filled with a rabbit ear, whose hinges end at the tangent
points of its incircle: none of its creases is much finer than a tree edge. A layout has two
unknowns for each tip and one for each tree edge, and a triangulation has about three sides for
each tip; so nearly all of its sides can be made active if parts may grow a little.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from packer.creases.completion.convex_partition import triangulation
from packer.creases.constraints.active_paths import pairs_in_reach, step_box
from packer.creases.constraints.linear_program import minimise
from packer.creases.constraints.variables import (
    free_variables,
    shifted,
    slack_jacobian,
    symmetrised,
)
from packer.deadline import NEVER, Deadline
from packer.units import ACTIVE_GAP

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.creases.settling.settling_params import SlackParams
    from packer.creases.tip_layout import TipLayout


@dataclass(frozen=True)
class GrowthLimits:
    """How far parts may grow and what growth costs.

    Attributes
    ----------
    flaps, rivers
        Greatest growth, as a share of the length asked for.
    cost
        Weight of growth against slack.
    half_weight
        Slack, as a share of the diagonal, at which the weight of a side has fallen to half:
        small slacks are closed first.
    """

    flaps: float
    rivers: float
    cost: float
    half_weight: float


@dataclass(frozen=True, eq=False)
class _Growth:
    """The lengths between which parts may grow, and the price of growth.

    Attributes
    ----------
    least, most
        (edges,) in sheet units.
    price
        (edges,) relative price of a unit of length.
    cost, half_weight
        As in `GrowthLimits`.
    """

    least: NDArray[np.float64]
    most: NDArray[np.float64]
    price: NDArray[np.float64]
    cost: float
    half_weight: float


def close_slack(
    layout: TipLayout,
    asked: NDArray[np.float64],
    limits: GrowthLimits,
    params: SlackParams,
    deadline: Deadline = NEVER,
) -> TipLayout:
    """Return the layout with as many sides active as the limits of growth allow.

    Sequential linear programming: each program minimises the weighted slack of the sides, to
    first order, within a reach that is halved where it gains nothing.

    Parameters
    ----------
    layout
        A layout whose slacks are not negative.
    asked
        (edges,) lengths in sheet units below which no part may fall.
    limits
        The limits of growth.
    params
        The constants of the iteration.
    deadline
        Asked before each linear program; `packer.deadline.OutOfTime` is raised where it is over.
    """
    unit = layout.sheet.diagonal
    growth = _growth(layout, asked, limits, params)
    reach = params.first_reach
    sides = triangulation(layout, ACTIVE_GAP * unit)
    last = np.inf
    for k in range(params.programs):
        deadline.check()
        if k % params.retriangulate_every == params.retriangulate_every - 1:
            sides = triangulation(layout, ACTIVE_GAP * unit)
            last = np.inf
        i, j = np.array(sides).T
        slack = np.maximum(layout.slack[i, j], 0.0) / unit
        better = _linear_program(layout, (i, j), growth, reach * unit)
        if better is None:
            reach /= 2
        else:
            layout, value = better
            stalled = value > last - params.stalled * float(slack.sum())
            reach = reach / 2 if stalled else reach
            last = value
        if reach < params.least_reach:
            break
    return layout


def _growth(
    layout: TipLayout, asked: NDArray[np.float64], limits: GrowthLimits, params: SlackParams
) -> _Growth:
    """Return longest lengths and prices: fillers grow freely, a flap bound to the middle not."""
    n = layout.tree.n_tips
    most = asked * (1 + limits.rivers)
    most[:n] = asked[:n] * (1 + limits.flaps)
    price = np.full(len(layout.lengths), params.river_cost)
    price[:n] = params.flap_cost
    for k, name in enumerate(layout.tree.flaps):
        if name in layout.fillers:
            most[k] = layout.sheet.diagonal
            price[k] = params.filler_cost
        elif (
            layout.low[k].min() > 0
            and (layout.high[k] < (layout.sheet.width, layout.sheet.height)).all()
        ):
            most[k] = layout.lengths[k]
    return _Growth(asked, most, price, limits.cost, limits.half_weight)


def _linear_program(
    layout: TipLayout,
    sides: tuple[NDArray[np.intp], NDArray[np.intp]],
    growth: _Growth,
    reach: float,
) -> tuple[TipLayout, float] | None:
    """Solve one linear program; return the layout after it and the value of its objective.

    The weight of a side is the derivative of log(1 + slack / half weight), so the value is the
    sum of these logarithms, and the cost of all lengths.
    """
    n, unit = layout.tree.n_tips, layout.sheet.diagonal
    free = free_variables(layout)
    slack = np.maximum(layout.slack[sides], 0.0)
    weights = growth.half_weight / (slack / unit + growth.half_weight)
    objective = weights @ slack_jacobian(layout, *sides)
    objective[2 * n :] += growth.cost * growth.price
    objective = free.reduce(objective)
    i, j = pairs_in_reach(layout, reach)
    jacobian = free.reduce(slack_jacobian(layout, i, j))
    low, high = step_box(layout, free, reach)
    grows = free.lead >= 2 * n
    parts = free.lead[grows] - 2 * n
    low[grows] = np.maximum(low[grows], np.minimum((growth.least - layout.lengths)[parts], 0.0))
    high[grows] = np.minimum(
        high[grows], np.maximum((growth.most - layout.lengths)[parts], 0.0)
    )
    step = minimise(
        objective,
        A_ub=-jacobian,
        b_ub=np.maximum(layout.slack[i, j], 0.0),
        bounds=np.stack([low, high], axis=1),
    )
    if step is None:
        return None
    after = symmetrised(shifted(layout, free.expand(step)))
    left = np.maximum(after.slack[sides], 0.0) / unit
    value = float(np.log1p(left / growth.half_weight).sum() * growth.half_weight)
    value += growth.cost * float(growth.price @ after.lengths) / unit
    return after, value
