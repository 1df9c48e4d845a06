"""What may change in a plan: tips slide on the sheet, lengths grow, mirror images keep step.

A change is one vector: x and y of every tip, then the length of every edge. `Freedom` names the
numbers that may be chosen, so that the rest of the stage knows nothing of borders and mirror
lines.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from packer.units import ON_EDGE

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.creases.tip_layout import Plan


def held(plan: Plan) -> NDArray[np.bool_]:
    """Return (tips, 2): the coordinates held by a border of the sheet or by a placement."""
    size = np.array([plan.sheet.width, plan.sheet.height])
    room = ON_EDGE * size.min()
    on_border: NDArray[np.bool_] = (plan.points <= room) | (plan.points >= size - room)
    placed: NDArray[np.bool_] = plan.high - plan.low <= room
    return on_border | placed


@dataclass(frozen=True, eq=False)
class Freedom:
    """The numbers that are free, each with the entry of a change that follows it, if any.

    Attributes
    ----------
    size
        Entries of a change: 2 tips + edges.
    lead
        (k,) the entry of each free number.
    mate
        (k,) the entry that follows it, its own index where none does.
    sign
        (k,) 1 or -1 by which it follows, 0 where none does.
    """

    size: int
    lead: NDArray[np.intp]
    mate: NDArray[np.intp]
    sign: NDArray[np.float64]

    def reduce(self, rows: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return (..., k) derivatives by the free numbers from (..., size) ones by all."""
        reduced: NDArray[np.float64] = rows[..., self.lead] + self.sign * rows[..., self.mate]
        return reduced

    def expand(self, free: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the (size,) change that (k,) free numbers make."""
        change = np.zeros(self.size)
        change[self.mate] = self.sign * free
        change[self.lead] = free
        return change

    @property
    def norms(self) -> NDArray[np.float64]:
        """(k,) length of the change that one unit of each free number makes."""
        return np.sqrt(1 + self.sign**2)


def freedom(plan: Plan) -> Freedom:
    """Return what is free in a plan."""
    n = plan.tree.n_tips
    rows: list[tuple[int, int, float]] = []
    fixed = held(plan) | _held_by_axis(plan)
    diagonal = plan.symmetry == "diagonal"
    for tip, image in enumerate(plan.mirror.tolist()):
        for axis in range(2):
            if image < tip or fixed[tip, axis]:
                continue
            mate = 2 * image + (1 - axis if diagonal else axis)
            sign = -1.0 if plan.symmetry == "book" and axis == 0 else 1.0
            here = 2 * tip + axis
            rows.append((here, mate, 0.0 if mate == here else sign))
    twins = plan.tree.twin.tolist() if plan.symmetry != "none" else range(len(plan.lengths))
    rows += [
        (2 * n + edge, 2 * n + twin, float(edge != twin))
        for edge, twin in enumerate(twins)
        if twin >= edge
    ]
    lead, mates, signs = zip(*rows, strict=True)
    return Freedom(
        2 * n + len(plan.lengths),
        np.array(lead, dtype=np.intp),
        np.array(mates, dtype=np.intp),
        np.array(signs),
    )


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
