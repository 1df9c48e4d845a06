"""Make paths exactly active: snap what nearly is, lengthen flaps that are held by nothing."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import linprog

from packer.creases.freedom import freedom, shifted, slack_rows, symmetrised

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.creases.plan import Plan


def pairs_below(plan: Plan, slack: float) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return the pairs i < j of tips whose slack is below a length, in sheet units."""
    i, j = np.triu_indices(plan.tree.n_tips, 1)
    near = plan.slack[i, j] < slack
    return i[near], j[near]


def snapped(plan: Plan, below: float, rounds: int = 12) -> Plan:
    """Return the plan moved as little as possible so that near paths are exactly active.

    Parameters
    ----------
    plan
        Any plan.
    below
        Slack, as a share of the diagonal, below which a path is made active.
    rounds
        Most Newton steps (minimum norm over tips and lengths).
    """
    plan = symmetrised(plan)
    i, j = pairs_below(plan, below * plan.sheet.diagonal)
    if not len(i):
        return plan
    basis = freedom(plan)
    basis = basis / np.linalg.norm(basis, axis=0)
    done = np.inf
    for _ in range(rounds):
        slack = plan.slack[i, j]
        worst = float(np.abs(slack).max())
        if worst < 1e-15 * plan.sheet.diagonal or (worst < 1e-13 and worst >= done):
            break
        done = worst
        step = np.linalg.lstsq(slack_rows(plan, i, j) @ basis, -slack, rcond=1e-10)[0]
        plan = shifted(plan, basis @ step)
    return plan


def lengthened(
    plan: Plan, rng: np.random.Generator, rounds: int = 6, reach: float = 0.05
) -> Plan:
    """Return the plan with flaps lengthened and tips moved until paths hold every flap.

    Each round is a linear programme over tips and flap lengths. A distance between points is
    convex, so its tangent plane lies below it, and what the programme allows holds exactly.

    Parameters
    ----------
    plan
        A plan whose slacks are not negative.
    rng
        Gives each flap its weight, so that a plan can be lengthened in more than one way.
    rounds
        Linear programmes to solve.
    reach
        Share of the diagonal by which a coordinate may change in the first of them.
    """
    weights = rng.uniform(0.5, 1.0, plan.tree.n_tips)
    if plan.symmetry != "none":
        weights = weights + weights[plan.mirror]
    for k in range(rounds):
        better = _one_programme(plan, weights, reach * plan.sheet.diagonal / 2**k)
        if better is None:
            break
        plan = better
    return _to_first_contact(plan)


def _one_programme(plan: Plan, weights: NDArray[np.float64], reach: float) -> Plan | None:
    n = plan.tree.n_tips
    basis = freedom(plan)
    i, j = pairs_below(plan, 6 * reach)
    rows = slack_rows(plan, i, j) @ basis
    lowest, highest = bounds_of(plan, basis, reach)
    lengths = basis[2 * n :].sum(axis=0)
    flaps = basis[2 * n : 3 * n].sum(axis=0)
    highest[(lengths > 0) & (flaps == 0)] = 0.0
    lowest[lengths > 0] = 0.0
    result = linprog(
        -(weights @ basis[2 * n : 3 * n]),
        A_ub=-rows,
        b_ub=np.maximum(plan.slack[i, j], 0.0),
        bounds=np.stack([lowest, highest], axis=1),
        method="highs",
    )
    return None if result.x is None else symmetrised(shifted(plan, basis @ result.x))


def bounds_of(
    plan: Plan, basis: NDArray[np.float64], reach: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the least and greatest value of each free number: a box, cut by the sheet."""
    n = plan.tree.n_tips
    lead = (basis == 1).argmax(axis=0)
    size = np.tile([plan.sheet.width, plan.sheet.height], n)
    here = plan.points.reshape(-1)
    low, high = np.full(len(lead), -reach), np.full(len(lead), reach)
    tips = lead < 2 * n
    low[tips] = np.maximum(low[tips], -here[lead[tips]])
    high[tips] = np.minimum(high[tips], (size - here)[lead[tips]])
    return low, high


def _to_first_contact(plan: Plan) -> Plan:
    n = plan.tree.n_tips
    for tip, image in enumerate(plan.mirror.tolist()):
        if image < tip:
            continue
        slack = plan.slack[tip].copy()
        slack[tip] = np.inf
        if image != tip:
            slack[image] /= 2
        change = np.zeros(2 * n + len(plan.lengths))
        change[[2 * n + tip, 2 * n + image]] = max(0.0, float(slack.min()))
        plan = shifted(plan, change)
    return plan
