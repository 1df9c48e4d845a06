"""Enlarge the smallest features of a pattern while its polygons stay as they are.

Every side of a polygon stays an active path and every straight corner straight. That leaves few
directions in which tips and lengths can move: the null space of these equations, about ten
dimensions at twenty flaps. Along it the sizes of the features have derivatives
(`packer.creases.settling.feature_derivatives`), and a linear program raises the smallest of all
of them at once. Newton's method then brings the layout back onto the equations.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from packer.creases.constraints.active_paths import (
    pairs_below,
    pairs_in_reach,
    projected,
    step_box,
)
from packer.creases.constraints.convexity import (
    bend_jacobian,
    bends,
    corners_of,
    straight_corners,
)
from packer.creases.constraints.equations import equations
from packer.creases.constraints.linear_program import minimise, shadow_prices
from packer.creases.constraints.variables import free_variables, shifted, slack_jacobian
from packer.creases.settling.feature_derivatives import feature_derivatives
from packer.creases.settling.trial import candidate_of
from packer.units import ACTIVE_GAP, RANK, UNBENT

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from packer.creases.constraints.equations import Equations
    from packer.creases.constraints.length_bounds import LengthBounds
    from packer.creases.constraints.variables import FreeVariables
    from packer.creases.settling.settling_params import AscentParams
    from packer.creases.settling.trial import Candidate


def feature_ascent(
    start: Candidate, bounds: LengthBounds, params: AscentParams, to_beat: float = 0.0
) -> Iterator[Candidate]:
    """Yield a candidate, then candidates with the same polygons and ever larger features.

    Parameters
    ----------
    start
        The first candidate.
    bounds
        How short and how long parts may become.
    params
        The constants of the ascent.
    to_beat
        Smallest feature, in sheet units, of the best candidate known; the ascent ends where it
        is unlikely to reach it.
    """
    reach = params.first_reach
    candidate: Candidate | None = start
    while candidate is not None:
        yield candidate
        before = candidate.feature.size
        candidate, reach = _next_candidate(candidate, bounds, reach, params)
        if candidate is not None:
            gain = candidate.feature.size / before
            if candidate.feature.size * gain**params.outlook < to_beat:
                return


def limiting_part(
    candidate: Candidate, bounds: LengthBounds, params: AscentParams
) -> str | None:
    """Return the part that would enlarge the smallest feature most if it might be shorter.

    It is the part whose least length has the largest shadow price in the linear program of a
    small step. None where no least length is in the way.
    """
    directions = _directions(candidate, params)
    if directions is None:
        return None
    reach = params.least_reach * candidate.layout.sheet.diagonal
    program, parts = _linear_program(candidate, directions, bounds, reach, params)
    prices = shadow_prices(**program)
    if prices is None:
        return None
    gains = -prices[parts] * bounds.least
    names = list(bounds.shortest)
    return names[int(gains.argmax())] if gains.max() > 0 else None


@dataclass(frozen=True, eq=False)
class _Directions:
    """The directions of an ascent: what does not depend on the reach of a step.

    Attributes
    ----------
    free
        The free variables of the layout.
    kept
        The equations that every step keeps.
    basis
        (k, m) orthonormal basis of the null space of `kept`, in the free variables.
    sizes, rates
        (f,) and (f, m): the smallest features and their derivatives along the basis.
    """

    free: FreeVariables
    kept: Equations
    basis: NDArray[np.float64]
    sizes: NDArray[np.float64]
    rates: NDArray[np.float64]


def _directions(candidate: Candidate, params: AscentParams) -> _Directions | None:
    """Return the directions in which a candidate can move; None where there are none."""
    layout = candidate.layout
    free = free_variables(layout)
    sides = pairs_below(layout, ACTIVE_GAP * layout.sheet.diagonal)
    kept = equations(layout, sides, straight_corners(layout, candidate.polygons))
    basis = _null_space(free.reduce(kept.jacobian(layout)))
    if not basis.shape[1]:
        return None
    changes = np.array([free.expand(column) for column in basis.T])
    return _Directions(free, kept, basis, *feature_derivatives(candidate, changes, params))


def _next_candidate(
    candidate: Candidate, bounds: LengthBounds, reach: float, params: AscentParams
) -> tuple[Candidate | None, float]:
    """Return the candidate after one step, None where no step gains, and the next reach."""
    directions = _directions(candidate, params)
    goal = candidate.feature.size * params.least_gain
    layout = candidate.layout
    while directions is not None and reach >= params.least_reach:
        program, _ = _linear_program(
            candidate, directions, bounds, reach * layout.sheet.diagonal, params
        )
        best = minimise(**program)
        if best is None or best[-1] < goal:
            break
        moved = shifted(layout, directions.free.expand(directions.basis @ best[:-1]))
        exact = projected(moved, directions.kept, bounds)
        after = candidate_of(exact, candidate.polygons, bounds)
        if after is not None and after.feature.size > goal:
            return after, min(reach * params.grow, params.most_reach)
        reach /= params.shrink
    return None, reach


def _null_space(jacobian: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return (k, m) an orthonormal basis of the null space of an (r, k) matrix."""
    _, s, vt = np.linalg.svd(jacobian, full_matrices=True)
    basis: NDArray[np.float64] = vt[int((s > RANK * s.max()).sum()) :].T
    return basis


def _linear_program(
    candidate: Candidate,
    directions: _Directions,
    bounds: LengthBounds,
    reach: float,
    params: AscentParams,
) -> tuple[dict[str, Any], slice]:
    """Return the linear program that makes the smallest feature largest within a reach.

    Its unknowns are a step along each vector of the basis, then the size of the smallest
    feature. Also returns which of its rows keep the least lengths of parts.
    """
    layout, unit = candidate.layout, candidate.layout.sheet.diagonal
    free, basis = directions.free, directions.basis
    low, high = step_box(layout, free, reach)
    i, j = pairs_in_reach(layout, reach)
    loose = layout.slack[i, j] > ACTIVE_GAP * unit
    i, j = i[loose], j[loose]
    corners = corners_of(candidate.polygons)
    out = bends(layout, corners)
    near = (out < params.bend_reach * reach) & (out > UNBENT * unit)
    corners, spare = corners[near], np.maximum(out[near] - params.kept_bend * unit, 0.0)
    pieces = bounds.pieces(layout)
    built = pieces @ layout.lengths
    points = np.zeros((len(pieces), 2 * layout.tree.n_tips))
    parts = free.reduce(np.hstack([points, pieces])) @ basis
    at_least = [
        (parts, np.minimum(bounds.least - built, 0.0)),
        (-parts, np.minimum(built - bounds.most, 0.0)),
        (basis, low),
        (-basis, -high),
        (free.reduce(slack_jacobian(layout, i, j)) @ basis, -layout.slack[i, j]),
        (free.reduce(bend_jacobian(layout, corners)) @ basis, -spare),
        (directions.rates, -directions.sizes),
    ]
    m, size = basis.shape[1], len(directions.sizes)
    rows = np.vstack([-rows for rows, _ in at_least])
    last = np.zeros((len(rows), 1))
    last[-size:] = 1.0
    program = {
        "objective": np.append(np.zeros(m), -1.0),
        "A_ub": np.hstack([rows, last]),
        "b_ub": np.concatenate([-floor for _, floor in at_least]),
        "bounds": [(None, None)] * (m + 1),
    }
    return program, slice(0, len(pieces))
