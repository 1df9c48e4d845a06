"""Bring tips that lie close to a border onto it, and a tip or a filler into every corner."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.creases.completion.filler_insertion import with_filler
from packer.creases.completion.filler_search import corner_filler, joint_filler

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.creases.tip_layout import Plan

NEAREST: Final = 3
"""Tips tried for a free corner before a filler is put there."""

LEAST_FILLER: Final = 0.01
"""Shortest filler at a joint that is worth its creases, as a share of the sheet's shorter side."""

CORNER_SHARE: Final = 0.9
"""Most of the distance to the nearest tip that a corner filler off the joints may be long."""


def at_borders(plan: Plan, within: float) -> Plan:
    """Return the plan with tips moved onto borders and into corners where inequalities allow.

    Parameters
    ----------
    plan
        A plan whose slacks are not negative.
    within
        Distance from a border, as a share of the sheet's shorter side, from which a tip is
        brought onto it.
    """
    size = np.array([plan.sheet.width, plan.sheet.height])
    for corner in plan.sheet.corners.values():
        far = np.hypot(*(plan.points - corner).T)
        if far.min() <= plan.room:
            continue
        for tip in np.argsort(far, kind="stable")[:NEAREST].tolist():
            moved = _moved(plan, tip, np.array(corner))
            if moved is not None:
                plan = moved
                break
    near = within * size.min()
    for tip in range(plan.tree.n_tips):
        for axis in range(2):
            for side in (0.0, float(size[axis])):
                if 0 < abs(plan.points[tip, axis] - side) <= near:
                    goal = plan.points[tip].copy()
                    goal[axis] = side
                    plan = _moved(plan, tip, goal) or plan
    return plan


def _moved(plan: Plan, tip: int, goal: NDArray[np.float64]) -> Plan | None:
    """Return the plan with one tip and its mirror image moved, if placements and distances allow."""
    image = int(plan.mirror[tip])
    points = plan.points.copy()
    points[tip] = goal
    if image == tip and plan.symmetry != "none":
        goal = points[tip] = (goal + plan.reflect(goal)) / 2
    else:
        points[image] = plan.reflect(goal)
    room = 10 * plan.room
    if (points < plan.low - room).any() or (points > plan.high + room).any():
        return None
    if plan.symmetry != "none" and image == tip and not _still_on_border(plan, goal):
        return None
    moved = replace(plan, points=points)
    slack = moved.slack[[tip, image]].copy()
    slack[[0, 1], [tip, image]] = 0.0
    return moved if slack.min() >= 0 else None


def _still_on_border(plan: Plan, goal: NDArray[np.float64]) -> bool:
    size = np.array([plan.sheet.width, plan.sheet.height])
    return bool(np.minimum(goal, size - goal).min() <= plan.room)


def with_corner_fillers(plan: Plan) -> Plan:
    """Return the plan with a filler in each corner without a tip, hung from a joint if it can."""
    least = LEAST_FILLER * min(plan.sheet.width, plan.sheet.height)
    for corner in plan.sheet.corners.values():
        point = np.array(corner)
        if np.hypot(*(plan.points - point).T).min() <= plan.room:
            continue
        filler = joint_filler(plan, point[None], least)
        if filler is None:
            filler = corner_filler(plan, point, CORNER_SHARE)
        plan = with_filler(plan, filler.point, filler.place, filler.length)
    return plan
