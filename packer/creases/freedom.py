"""What may change in a plan: tips slide on the sheet, lengths grow, mirror images keep step.

A change is one vector: x and y of every tip, then the length of every edge. The columns of
`freedom` span the changes allowed, so that the rest of the stage knows nothing of borders and
mirror lines.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from packer.units import ON_EDGE

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.creases.plan import Plan


def held(plan: Plan) -> NDArray[np.bool_]:
    """Return (tips, 2): the coordinates that a border of the sheet holds."""
    size = np.array([plan.sheet.width, plan.sheet.height])
    room = ON_EDGE * size.min()
    held: NDArray[np.bool_] = (plan.points <= room) | (plan.points >= size - room)
    return held


def freedom(plan: Plan) -> NDArray[np.float64]:
    """Return (2 tips + edges, k): one column, of entries 1 and -1, for each free number."""
    n, e = plan.tree.n_tips, len(plan.lengths)
    columns = _tip_columns(plan)
    twins = plan.tree.twin.tolist() if plan.symmetry != "none" else range(e)
    for edge, twin in enumerate(twins):
        if twin >= edge:
            column = np.zeros(2 * n + e)
            column[[2 * n + edge, 2 * n + twin]] = 1.0
            columns.append(column)
    return np.array(columns).T


def _tip_columns(plan: Plan) -> list[NDArray[np.float64]]:
    columns = []
    fixed = held(plan) | _held_by_axis(plan)
    for tip, image in enumerate(plan.mirror.tolist()):
        for axis in range(2):
            if image < tip or fixed[tip, axis]:
                continue
            column = np.zeros(2 * plan.tree.n_tips + len(plan.lengths))
            column[2 * tip + axis] = 1.0
            if plan.symmetry == "book":
                column[2 * image + axis] = -1.0 if axis == 0 else 1.0
            elif plan.symmetry == "diagonal":
                column[2 * image + 1 - axis] = 1.0
            columns.append(column)
    return columns


def _held_by_axis(plan: Plan) -> NDArray[np.bool_]:
    """(tips, 2) coordinates that the mirror line holds; on a diagonal y follows x."""
    found = np.zeros((plan.tree.n_tips, 2), dtype=bool)
    if plan.symmetry != "none":
        own = plan.mirror == np.arange(plan.tree.n_tips)
        found[own, 0 if plan.symmetry == "book" else 1] = True
        if plan.symmetry == "diagonal":
            found[own, 0] = held(plan)[own].any(axis=1)
    return found


def slack_rows(plan: Plan, i: NDArray[np.intp], j: NDArray[np.intp]) -> NDArray[np.float64]:
    """Return (pairs, 2 tips + edges): the derivative of the slack of each pair of tips."""
    n = plan.tree.n_tips
    k = np.arange(len(i))
    ways = (plan.points[i] - plan.points[j]) / plan.gaps[i, j][:, None]
    rows = np.zeros((len(i), 2 * n + len(plan.lengths)))
    for axis in range(2):
        rows[k, 2 * i + axis] = ways[:, axis]
        rows[k, 2 * j + axis] = -ways[:, axis]
    beyond = plan.tree.beyond
    rows[:, 2 * n :] = -(beyond[:, i] != beyond[:, j]).T.astype(float)
    return rows


def shifted(plan: Plan, change: NDArray[np.float64]) -> Plan:
    """Return the plan after a change."""
    n = plan.tree.n_tips
    return replace(
        plan,
        points=plan.points + change[: 2 * n].reshape(n, 2),
        lengths=plan.lengths + change[2 * n :],
    )


def symmetrised(plan: Plan) -> Plan:
    """Return the plan with rounding taken out of its mirror images."""
    if plan.symmetry == "none":
        return plan
    points = (plan.points + plan.reflect(plan.points[plan.mirror])) / 2
    twin = plan.tree.twin
    return replace(plan, points=points, lengths=(plan.lengths + plan.lengths[twin]) / 2)
