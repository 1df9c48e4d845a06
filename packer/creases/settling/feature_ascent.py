"""Climb: enlarge the smallest features of a pattern while its polygons stay as they are.

A linear programme over the tips and lengths pushes up all of the finest features at once. Every
side of a polygon stays an active path, so that only few directions are left, about ten at
twenty flaps; along these the features have derivatives (`packer.creases.settling.feature_derivatives`). Single tries on
samples of 21 and 13 flaps rose from 0.02 to 0.50 % and from 0.18 to 1.26 % of the side, in three or
four steps of about 0.15 CPU s.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from packer.creases.constraints.active_paths import (
    bounds_of,
    pairs_below,
    pairs_in_reach,
    solved,
)
from packer.creases.constraints.convexity import bend_rows, bends, corners_of, straight_corners
from packer.creases.constraints.equations import equations
from packer.creases.constraints.linear_program import minimised, prices
from packer.creases.constraints.variables import freedom, shifted, slack_rows
from packer.creases.settling.feature_derivatives import slopes
from packer.creases.settling.trial import built_from
from packer.units import ACTIVE_GAP, RANK, UNBENT

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from packer.creases.constraints.equations import Held
    from packer.creases.constraints.length_bounds import Limits
    from packer.creases.constraints.variables import Freedom
    from packer.creases.settling.trial import Attempt

FIRST_REACH: Final = 0.01
MOST_REACH: Final = 0.03
LEAST_REACH: Final = 3e-4
"""Shares of the diagonal by which a coordinate or a length may change in one step."""

LEAST_GAIN: Final = 1.002
"""Growth of the smallest feature below which a climb has reached the top."""

MORE_GAINS: Final = 3
"""A climb is given up where so many gains like its last would not reach the best known."""

KEPT_BEND: Final = 1e-4
"""Bend, as a share of the diagonal, that a corner keeps, so that polygons stay convex."""


def climb(start: Attempt, limits: Limits, beat: float = 0.0) -> Iterator[Attempt]:
    """Yield a pattern, then ever coarser ones with the same polygons, to the top.

    Parameters
    ----------
    start
        Where to climb from.
    limits
        How short and how long parts may become.
    beat
        Size of a feature, in sheet units; a climb that will hardly reach it is given up.
    """
    reach = FIRST_REACH
    found: Attempt | None = start
    while found is not None:
        yield found
        before = found.feature.size
        found, reach = _higher(found, limits, reach)
        if found is not None:
            gain = found.feature.size / before
            if found.feature.size * gain**MORE_GAINS < beat:
                return


def helpful(found: Attempt, limits: Limits) -> str | None:
    """Return the part that would help most were it shorter, as the programme prices lengths.

    None where no part's least length is in the way.
    """
    base = _base(found)
    if base is None:
        return None
    programme, parts = _programme(found, base, limits, LEAST_REACH * found.plan.sheet.diagonal)
    marginal = prices(**programme)
    if marginal is None:
        return None
    gains = -marginal[parts] * limits.least
    names = list(limits.shortest)
    return names[int(gains.argmax())] if gains.max() > 0 else None


@dataclass(frozen=True, eq=False)
class _Base:
    """What does not depend on the reach of a step.

    Attributes
    ----------
    ways
        (k, m) orthonormal directions in the free numbers of a plan that keep what is held.
    sizes, rates
        (f,) and (f, m): the finest features and their derivatives.
    """

    free: Freedom
    held: Held
    ways: NDArray[np.float64]
    sizes: NDArray[np.float64]
    rates: NDArray[np.float64]


def _base(found: Attempt) -> _Base | None:
    plan = found.plan
    free = freedom(plan)
    sides = pairs_below(plan, ACTIVE_GAP * plan.sheet.diagonal)
    held = equations(plan, sides, straight_corners(plan, found.polygons))
    ways = _null_space(free.reduce(held.rows(plan)))
    if not ways.shape[1]:
        return None
    return _Base(free, held, ways, *slopes(found, np.array([free.expand(w) for w in ways.T])))


def _higher(found: Attempt, limits: Limits, reach: float) -> tuple[Attempt | None, float]:
    """Return the next pattern of a climb, None at the top, and the reach to go on with."""
    base, goal = _base(found), found.feature.size * LEAST_GAIN
    while base is not None and reach >= LEAST_REACH:
        programme, _ = _programme(found, base, limits, reach * found.plan.sheet.diagonal)
        best = minimised(**programme)
        if best is None or best[-1] < goal:
            break
        moved = shifted(found.plan, base.free.expand(base.ways @ best[:-1]))
        made = built_from(solved(moved, base.held, limits), found.polygons, limits)
        if made is not None and made.feature.size > goal:
            return made, min(reach * 2, MOST_REACH)
        reach /= 3
    return None, reach


def _null_space(rows: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return (k, m) an orthonormal basis of what (r, k) rows leave free."""
    _, s, vt = np.linalg.svd(rows, full_matrices=True)
    found: NDArray[np.float64] = vt[int((s > RANK * s.max()).sum()) :].T
    return found


def _programme(
    found: Attempt, base: _Base, limits: Limits, reach: float
) -> tuple[dict[str, Any], slice]:
    """Return the programme that makes the finest feature largest within a reach, if all is linear.

    Its unknowns are a step along each way and then the size of the finest feature. Also returns
    which of its rows keep the least lengths of parts.
    """
    plan, unit = found.plan, found.plan.sheet.diagonal
    free, ways = base.free, base.ways
    low, high = bounds_of(plan, free, reach)
    i, j = pairs_in_reach(plan, reach)
    loose = plan.slack[i, j] > ACTIVE_GAP * unit
    i, j = i[loose], j[loose]
    corners = corners_of(found.polygons)
    out = bends(plan, corners)
    near = (out < 8 * reach) & (out > UNBENT * unit)
    corners, spare = corners[near], np.maximum(out[near] - KEPT_BEND * unit, 0.0)
    pieces = limits.pieces(plan)
    built = pieces @ plan.lengths
    points = np.zeros((len(pieces), 2 * plan.tree.n_tips))
    parts = free.reduce(np.hstack([points, pieces])) @ ways
    at_least = [
        (parts, np.minimum(limits.least - built, 0.0)),
        (-parts, np.minimum(built - limits.most, 0.0)),
        (ways, low),
        (-ways, -high),
        (free.reduce(slack_rows(plan, i, j)) @ ways, -plan.slack[i, j]),
        (free.reduce(bend_rows(plan, corners)) @ ways, -spare),
        (base.rates, -base.sizes),
    ]
    m, size = ways.shape[1], len(base.sizes)
    rows = np.vstack([-rows for rows, _ in at_least])
    last = np.zeros((len(rows), 1))
    last[-size:] = 1.0
    programme = {
        "objective": np.append(np.zeros(m), -1.0),
        "A_ub": np.hstack([rows, last]),
        "b_ub": np.concatenate([-floor for _, floor in at_least]),
        "bounds": [(None, None)] * (m + 1),
    }
    return programme, slice(0, len(pieces))
