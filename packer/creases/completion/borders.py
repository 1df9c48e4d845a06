"""Move tips that lie near the border of the sheet onto it; a tip or a filler into every corner."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.creases.completion.filler_insertion import with_filler
from packer.creases.completion.filler_search import CORNER_SHARE, corner_filler, joint_filler

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.creases.tip_layout import TipLayout

NEAREST: Final = 3
"""Tips tried for a free corner before a filler is put there."""

LEAST_FILLER: Final = 0.01
"""Shortest filler at a joint that is worth its creases, as a share of the sheet's shorter side."""


def at_borders(layout: TipLayout, within: float) -> TipLayout:
    """Return the layout with tips moved onto borders and into corners where inequalities allow.

    Parameters
    ----------
    layout
        A layout whose slacks are not negative.
    within
        Distance from a border, as a share of the sheet's shorter side, within which a tip is
        moved onto it.
    """
    size = np.array([layout.sheet.width, layout.sheet.height])
    for corner in layout.sheet.corners.values():
        far = np.hypot(*(layout.points - corner).T)
        if far.min() <= layout.tolerance:
            continue
        for tip in np.argsort(far, kind="stable")[:NEAREST].tolist():
            moved = _moved(layout, tip, np.array(corner))
            if moved is not None:
                layout = moved
                break
    near = within * size.min()
    for tip in range(layout.tree.n_tips):
        for axis in range(2):
            for side in (0.0, float(size[axis])):
                if 0 < abs(layout.points[tip, axis] - side) <= near:
                    goal = layout.points[tip].copy()
                    goal[axis] = side
                    layout = _moved(layout, tip, goal) or layout
    return layout


def _moved(layout: TipLayout, tip: int, goal: NDArray[np.float64]) -> TipLayout | None:
    """Return the layout with one tip and its mirror image moved, if placements and distances allow."""
    image = int(layout.mirror[tip])
    points = layout.points.copy()
    points[tip] = goal
    if image == tip and layout.symmetry != "none":
        goal = points[tip] = (goal + layout.reflect(goal)) / 2
    else:
        points[image] = layout.reflect(goal)
    tolerance = 10 * layout.tolerance
    if (points < layout.low - tolerance).any() or (points > layout.high + tolerance).any():
        return None
    if layout.symmetry != "none" and image == tip and not _still_on_border(layout, goal):
        return None
    moved = replace(layout, points=points)
    slack = moved.slack[[tip, image]].copy()
    slack[[0, 1], [tip, image]] = 0.0
    return moved if slack.min() >= 0 else None


def _still_on_border(layout: TipLayout, goal: NDArray[np.float64]) -> bool:
    size = np.array([layout.sheet.width, layout.sheet.height])
    return bool(np.minimum(goal, size - goal).min() <= layout.tolerance)


def with_corner_fillers(layout: TipLayout) -> TipLayout:
    """Return the layout with a filler in each corner without a tip, hung from a joint if it can."""
    least = LEAST_FILLER * min(layout.sheet.width, layout.sheet.height)
    for corner in layout.sheet.corners.values():
        point = np.array(corner)
        if np.hypot(*(layout.points - point).T).min() <= layout.tolerance:
            continue
        filler = joint_filler(layout, point[None], least)
        if filler is None:
            filler = corner_filler(layout, point, CORNER_SHARE)
        layout = with_filler(layout, filler.point, filler.tree_point, filler.length)
    return layout
