"""Improve a settled plan by small steps that keep its active paths active."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np
from scipy.sparse import csr_matrix

from packer.creases.active import bounds_of, pairs_below, snapped
from packer.creases.attempt import finished, inner_pairs
from packer.creases.freedom import freedom, shifted, slack_rows, symmetrised
from packer.creases.programme import minimised
from packer.units import ACTIVE_GAP, NO_LENGTH

if TYPE_CHECKING:
    from packer.creases.attempt import Attempt
    from packer.creases.plan import Plan

OPEN_REACH: Final = 0.01
"""Share of the diagonal by which a coordinate may change while polygons are opened."""

OPEN_ENOUGH: Final = 0.03
"""Slack of an inner pair, as a share of the diagonal, beyond which opening more is no use."""


def step(found: Attempt, size: float, rng: np.random.Generator) -> Plan:
    """Return the plan after a random step in the null space of its active paths.

    Parameters
    ----------
    found
        Where to step from.
    size
        Length of the step, as a share of the diagonal, per free number.
    rng
        Source of the direction.
    """
    plan = found.exact
    free = freedom(plan)
    i, j = pairs_below(plan, ACTIVE_GAP * plan.sheet.diagonal)
    rows = free.reduce(slack_rows(plan, i, j)) / free.norms
    way = rng.normal(size=len(free.lead)) * (rng.uniform(size=len(free.lead)) < 0.3)
    if len(i):
        _, s, vt = np.linalg.svd(rows, full_matrices=False)
        kept = vt[s > 1e-9 * s.max()]
        way = way - kept.T @ (kept @ way)
    way = way * size * plan.sheet.diagonal / free.norms
    return snapped_like(shifted(plan, free.expand(way)), plan)


def snapped_like(moved: Plan, plan: Plan) -> Plan:
    """Make exactly those paths of a moved plan active that were so before it moved."""
    return snapped(
        symmetrised(moved), pairs=pairs_below(plan, ACTIVE_GAP * plan.sheet.diagonal)
    )


def opened(found: Attempt, shortest: dict[str, float], rounds: int = 3) -> Attempt:
    """Return a try whose polygons are opened: inner pairs pushed away from being nearly active.

    Nearly active inner pairs make low gussets, which are hard to fold.
    """
    for k in range(rounds):
        plan = _opened_once(found, shortest, OPEN_REACH / 2**k)
        better = None if plan is None else finished(snapped_like(plan, found.exact), shortest)
        if better is None or better.worth <= found.worth:
            continue
        found = better
    return found


def _opened_once(found: Attempt, shortest: dict[str, float], reach: float) -> Plan | None:
    plan = found.exact
    inner = inner_pairs(found)
    if not inner:
        return None
    n, unit = plan.tree.n_tips, plan.sheet.diagonal
    free = freedom(plan)
    active = pairs_below(plan, ACTIVE_GAP * unit)
    near = pairs_below(plan, 12 * reach * unit)
    pairs = np.array(inner).T
    slack = plan.slack[pairs[0], pairs[1]]
    weights = 1 / (slack / unit + 0.1 * OPEN_ENOUGH)
    gain = free.reduce(slack_rows(plan, *pairs))
    k, m = len(free.lead), len(inner)
    low, high = bounds_of(plan, free, reach * unit)
    grows = free.lead >= 2 * n
    parts = free.lead[grows] - 2 * n
    least = np.array([shortest.get(name, NO_LENGTH) for name in plan.tree.names])
    low[grows] = np.maximum(low[grows], np.minimum(least - plan.lengths, 0)[parts])
    best = minimised(
        np.concatenate([np.zeros(k), -weights]),
        A_ub=csr_matrix(
            np.block(
                [
                    [-free.reduce(slack_rows(plan, *near)), np.zeros((len(near[0]), m))],
                    [-gain, np.eye(m)],
                ]
            )
        ),
        b_ub=np.concatenate([np.maximum(plan.slack[near], 0), slack]),
        A_eq=csr_matrix(
            np.hstack([free.reduce(slack_rows(plan, *active)), np.zeros((len(active[0]), m))])
        ),
        b_eq=np.zeros(len(active[0])),
        bounds=np.stack(
            [
                np.concatenate([low, np.full(m, -unit)]),
                np.concatenate([high, np.full(m, OPEN_ENOUGH * unit)]),
            ],
            axis=1,
        ),
    )
    return None if best is None else shifted(plan, free.expand(best[:k]))
