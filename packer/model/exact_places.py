"""Tips put exactly where they may lie, and the scale that they have there.

A packing permits itself a little: tips lie off their ranges, and off the mirror images of their
twins, by up to `packer.units.ON_EDGE`. A bound is proven for tips that do not. How far a packing may
lie above one therefore depends on the packing: between two fixed points that are close together
the little is much. So the bound is held against the scale of the same tips in their exact places,
and nothing has to be allowed but the last digits of that scale.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from packer.model.tree import least_distances, least_lengths

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.model.packing import Packing
    from packer.model.problem import Problem, Range

    Floats = NDArray[np.float64]


def exact_scale(packing: Packing) -> float:
    """Return the scale of a packing with its tips in exact places and its lengths within flex.

    Every bound is a statement on such tips: |q_i - q_j| >= m d_ij with d_ij no less than the
    least distance that flex permits, and on discs that stay on the sheet. So no bound lies
    below this scale but by the rounding of one root and one quotient.
    """
    tree = packing.tree
    points, kept = exact_places(packing.problem, packing.points)
    d = np.maximum(packing.distances, least_distances(tree))
    i, j = np.triu_indices(len(points), 1)
    scale = float((np.hypot(*(points[i] - points[j]).T) / d[i, j]).min())
    if kept.any():
        size = [packing.sheet.width, packing.sheet.height]
        room = np.minimum(points, size - points).min(axis=1)
        lengths = np.maximum(packing.lengths, least_lengths(tree))[: tree.n_tips]
        scale = min(scale, float((room / lengths)[kept].min()))
    return scale


def exact_places(problem: Problem, points: Floats) -> tuple[Floats, NDArray[np.bool_]]:
    """Return the nearest exact place of each tip, and which tips keep their disc on the sheet.

    The place is in the range that the tip chose, the nearest one; of ranges that hold it alike
    one without a margin, as `Problem.keeps_disc` has it. A twin is the mirror image of its other.

    Parameters
    ----------
    problem
        Where tips may lie.
    points
        (tips, 2) where they lie.
    """
    exact = np.array(points)
    kept = np.zeros(len(exact), bool)
    for tip in problem.leaders.tolist():
        x, y = points[tip].tolist()
        inside = [box for box in problem.ranges[tip] if box.holds(x, y, problem.tolerance)]
        nearest = [
            (box.margin > 0 if inside else float(np.hypot(*(_onto(box, x, y) - (x, y)))), k)
            for k, box in enumerate(inside or problem.ranges[tip])
        ]
        box = (inside or problem.ranges[tip])[min(nearest)[1]]
        twin = problem.mirror[tip]
        exact[tip] = _onto(box, x, y)
        if twin != tip:
            exact[twin] = problem.reflect(exact[tip])
        kept[[tip, twin]] = box.margin > 0
    return exact, kept


def _onto(box: Range, x: float, y: float) -> Floats:
    """Return the point of a range that is nearest to a point."""
    if box.on_axis and box.x == box.y:  # (t, t), on the diagonal
        x = y = (x + y) / 2
    (left, right), (bottom, top) = box.x, box.y
    return np.array([min(max(x, left), right), min(max(y, bottom), top)])
