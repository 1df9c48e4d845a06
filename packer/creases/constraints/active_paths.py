"""Make paths exactly active: snap what nearly is, lengthen flaps that are held by nothing."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.creases.constraints.equations import equations, with_missed
from packer.creases.constraints.linear_program import minimised
from packer.creases.constraints.variables import freedom, shifted, slack_rows, symmetrised
from packer.units import EXACT, RANK, ZERO_SLACK

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.creases.constraints.equations import Held, Pairs
    from packer.creases.constraints.length_bounds import Limits
    from packer.creases.constraints.variables import Freedom
    from packer.creases.tip_layout import Plan


FAR: Final = 0.1
"""Share of the diagonal that no step of a snap is worth."""

STEPS: Final = 12
"""Most steps of one run of Newton's method; those that converge take three to six."""

ROUNDS: Final = 4
"""Most runs, each with what the one before it missed."""


def pairs_below(plan: Plan, slack: float) -> Pairs:
    """Return the pairs i < j of tips whose slack is below a length, in sheet units."""
    i, j = np.triu_indices(plan.tree.n_tips, 1)
    near = plan.slack[i, j] < slack
    return i[near], j[near]


def pairs_in_reach(plan: Plan, reach: float) -> Pairs:
    """Return the pairs that could lose their slack where no number changes by more than `reach`.

    Neither its two tips nor the edges of its path can use up more.
    """
    i, j = np.triu_indices(plan.tree.n_tips, 1)
    beyond = plan.tree.beyond
    edges = (beyond[:, i] != beyond[:, j]).sum(axis=0)
    near = plan.slack[i, j] < reach * (3 + edges)
    return i[near], j[near]


def snapped(plan: Plan, below: float = 0.0, limits: Limits | None = None) -> Plan:
    """Return the plan moved as little as possible so that near paths are exactly active.

    Parameters
    ----------
    plan
        Any plan.
    below
        Slack, as a share of the diagonal, below which a path is made active.
    limits
        Least lengths of parts to keep, if any.
    """
    return solved(plan, equations(plan, pairs_below(plan, below * plan.sheet.diagonal)), limits)


def solved(plan: Plan, held: Held, limits: Limits | None = None) -> Plan:
    """Return the plan moved as little as possible so that it satisfies equations.

    Paths and parts that become too short on the way are held as well.
    """
    plan = symmetrised(plan)
    for _ in range(ROUNDS):
        plan = _newton(plan, held)
        more = with_missed(held, plan, ZERO_SLACK * plan.sheet.diagonal, limits)
        if more is held:
            break
        held = more
    return plan


def _newton(plan: Plan, held: Held) -> Plan:
    """Take Newton steps, each the shortest over tips and lengths, until rounding stops them."""
    free = freedom(plan)
    done = np.inf
    for _ in range(STEPS):
        if not plan.gaps[held.pairs].min(initial=np.inf) > 0:
            break  # two tips were driven onto one point
        miss = held.miss(plan)
        worst = float(np.abs(miss).max(initial=0.0)) / plan.sheet.diagonal
        if worst < EXACT or (worst < ZERO_SLACK and worst >= done):
            break
        done = worst
        rows = free.reduce(held.rows(plan)) / free.norms
        step = np.linalg.lstsq(rows, -miss, rcond=RANK)[0]
        if np.abs(step).max() > FAR * plan.sheet.diagonal:
            break  # these cannot all be satisfied near here
        plan = shifted(plan, free.expand(step / free.norms))
    return plan


def onto_borders(plan: Plan, within: float) -> Plan:
    """Return the plan with tips that nearly lie on a border of the sheet put onto it.

    Parameters
    ----------
    plan
        Any plan.
    within
        Distance from a border, as a share of the diagonal.
    """
    size = np.array([plan.sheet.width, plan.sheet.height])
    near = within * plan.sheet.diagonal
    points = np.where((plan.points < near) & (plan.low <= 0), 0.0, plan.points)
    points = np.where((points > size - near) & (plan.high >= size), size, points)
    return replace(plan, points=points)


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
    free = freedom(plan)
    i, j = pairs_below(plan, 6 * reach)
    rows = free.reduce(slack_rows(plan, i, j))
    lowest, highest = bounds_of(plan, free, reach)
    highest[free.lead >= 3 * n] = 0.0
    lowest[free.lead >= 2 * n] = 0.0
    gain = np.zeros(free.size)
    gain[2 * n : 3 * n] = weights
    best = minimised(
        -free.reduce(gain),
        A_ub=-rows,
        b_ub=np.maximum(plan.slack[i, j], 0.0),
        bounds=np.stack([lowest, highest], axis=1),
    )
    return None if best is None else symmetrised(shifted(plan, free.expand(best)))


def bounds_of(
    plan: Plan, free: Freedom, reach: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the least and greatest value of each free number: a box, cut by the sheet."""
    n = plan.tree.n_tips
    lead = free.lead
    down = (plan.low - plan.points).reshape(-1)
    up = (plan.high - plan.points).reshape(-1)
    low, high = np.full(len(lead), -reach), np.full(len(lead), reach)
    tips = lead < 2 * n
    low[tips] = np.minimum(np.maximum(low[tips], down[lead[tips]]), 0.0)
    high[tips] = np.maximum(np.minimum(high[tips], up[lead[tips]]), 0.0)
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
