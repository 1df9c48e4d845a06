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

    from packer.creases.tip_layout import TipLayout

FLAP_COST: Final = 0.3
RIVER_COST: Final = 1.0
FILLER_COST: Final = -0.5
"""What a unit of growth costs against a unit of slack closed; a filler may as well be long."""

LEAST_REACH: Final = 1e-4
"""Share of the diagonal below which a step is not worth another program."""


PROGRAMMES: Final = 25
"""Most linear programs in a row."""

STALLED: Final = 1e-4
"""Gain, as a share of all slack, below which the reach of the next program is halved."""

REMADE: Final = 3
"""The triangulation is made again for every so many programs."""


@dataclass(frozen=True)
class GrowthLimits:
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
        Share of the diagonal by which a coordinate or a length may change in one program.
    """

    flaps: float = 1.0
    rivers: float = 0.15
    cost: float = 0.03
    sharpness: float = 0.007
    reach: float = 0.03


def close_slack(
    layout: TipLayout,
    asked: NDArray[np.float64],
    growth: GrowthLimits,
    deadline: Deadline = NEVER,
) -> TipLayout:
    """Return the layout with as many sides active as growth within its bounds allows.

    Parameters
    ----------
    layout
        A layout whose slacks are not negative.
    asked
        (edges,) lengths in sheet units below which no part may fall.
    growth
        The bounds.
    deadline
        Asked now and then; `packer.deadline.OutOfTime` is raised where it is over.
    """
    unit = layout.sheet.diagonal
    caps = _caps(layout, asked, growth)
    reach = growth.reach
    sides = triangulation(layout, ACTIVE_GAP * unit)
    last = np.inf
    for k in range(PROGRAMMES):
        deadline.check()
        if k % REMADE == REMADE - 1:
            sides = triangulation(layout, ACTIVE_GAP * unit)
            last = np.inf
        i, j = np.array(sides).T
        slack = np.maximum(layout.slack[i, j], 0.0) / unit
        better = _linear_program(layout, (i, j), asked, caps, growth, reach * unit)
        if better is None:
            reach /= 2
        else:
            layout, value = better
            reach = reach / 2 if value > last - STALLED * float(slack.sum()) else reach
            last = value
        if reach < LEAST_REACH:
            break
    return layout


def _caps(
    layout: TipLayout, asked: NDArray[np.float64], growth: GrowthLimits
) -> NDArray[np.float64]:
    """(edges,) longest lengths: fillers grow as they like, a flap bound to the middle not."""
    n = layout.tree.n_tips
    caps = asked * (1 + growth.rivers)
    caps[:n] = asked[:n] * (1 + growth.flaps)
    for k, name in enumerate(layout.tree.flaps):
        if name in layout.fillers:
            caps[k] = layout.sheet.diagonal
        elif (
            layout.low[k].min() > 0
            and (layout.high[k] < (layout.sheet.width, layout.sheet.height)).all()
        ):
            caps[k] = layout.lengths[k]
    return caps


def _costs(layout: TipLayout) -> NDArray[np.float64]:
    n = layout.tree.n_tips
    costs = np.full(len(layout.lengths), RIVER_COST)
    costs[:n] = [
        FILLER_COST if name in layout.fillers else FLAP_COST for name in layout.tree.flaps
    ]
    return costs


def _linear_program(
    layout: TipLayout,
    sides: tuple[NDArray[np.intp], NDArray[np.intp]],
    asked: NDArray[np.float64],
    caps: NDArray[np.float64],
    growth: GrowthLimits,
    reach: float,
) -> tuple[TipLayout, float] | None:
    """Solve one linear program; return the layout after it and the value of its objective."""
    n, unit = layout.tree.n_tips, layout.sheet.diagonal
    free = free_variables(layout)
    slack = np.maximum(layout.slack[sides], 0.0)
    weights = growth.sharpness / (slack / unit + growth.sharpness)
    objective = weights @ slack_jacobian(layout, *sides)
    objective[2 * n :] += growth.cost * _costs(layout)
    objective = free.reduce(objective)
    i, j = pairs_in_reach(layout, reach)
    rows = free.reduce(slack_jacobian(layout, i, j))
    low, high = step_box(layout, free, reach)
    grows = free.lead >= 2 * n
    parts = free.lead[grows] - 2 * n
    low[grows] = np.maximum(low[grows], np.minimum((asked - layout.lengths)[parts], 0.0))
    high[grows] = np.minimum(high[grows], np.maximum((caps - layout.lengths)[parts], 0.0))
    best = minimise(
        objective,
        A_ub=csr_matrix(-rows),
        b_ub=np.maximum(layout.slack[i, j], 0.0),
        bounds=np.stack([low, high], axis=1),
    )
    if best is None:
        return None
    after = symmetrised(shifted(layout, free.expand(best)))
    closed = np.maximum(after.slack[sides], 0.0) / unit
    value = float(np.log1p(closed / growth.sharpness).sum() * growth.sharpness)
    value += growth.cost * float(_costs(layout) @ after.lengths) / unit
    return after, value
