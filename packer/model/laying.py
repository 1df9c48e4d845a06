"""How a packing lies: of its positions on the sheet the one that agrees with the drawing best.

Turning a packing round, or over, changes no distance. Of the eight positions on a square, four on a
rectangle and two with a mirror line, that one is taken in which tips lie in the directions that
they have in the stick figure: the sum of the products of their places about the two middles is the
largest (the orthogonal Procrustes problem over a finite group; J. C. Gower and G. B. Dijksterhuis,
"Procrustes Problems", 2004).
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.model.side_names import name_sides
from packer.model.stick_layout import layout

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.model.packing import Packing
    from packer.model.problem import Problem

    Matrix = tuple[tuple[int, int], tuple[int, int]]

SAME: Final[Matrix] = ((1, 0), (0, 1))

POSITIONS: Final[tuple[Matrix, ...]] = (
    SAME,
    ((-1, 0), (0, -1)),
    ((-1, 0), (0, 1)),
    ((1, 0), (0, -1)),
    ((0, 1), (-1, 0)),
    ((0, -1), (1, 0)),
    ((0, 1), (1, 0)),
    ((0, -1), (-1, 0)),
)
"""The eight ways to lay a square onto itself, those of a rectangle first."""

BETTER: Final = 1e-6
"""Share of its size by which an agreement must be larger for the packing to be moved."""


def positions(problem: Problem) -> tuple[Matrix, ...]:
    """Return the ways to lay the sheet onto itself that keep its mirror line."""
    if problem.symmetry == "book":
        return (SAME, ((1, 0), (0, -1)))
    if problem.symmetry == "diagonal":
        return (SAME, ((0, -1), (-1, 0)))
    return POSITIONS if problem.sheet.is_square else POSITIONS[:4]


def agreement(
    problem: Problem, points: NDArray[np.float64], flips: tuple[Matrix, ...]
) -> NDArray[np.float64]:
    """Return (k,) how well points in each of k positions agree with the stick figure.

    Parameters
    ----------
    problem
        The problem.
    points
        (tips, 2) places of the tips about the middle of the sheet.
    flips
        The positions.
    """
    drawn = layout(problem.tree)[: problem.tree.n_tips]
    drawn = drawn - drawn.mean(axis=0)
    if problem.symmetry == "diagonal":  # up in the figure is along the diagonal
        drawn = drawn @ np.array([[1.0, -1.0], [1.0, 1.0]]) / np.sqrt(2)
    return np.array([float((points @ np.array(flip).T * drawn).sum()) for flip in flips])


def laid(packing: Packing) -> Packing:
    """Return a packing turned, or turned over, so that it agrees with the stick figure best.

    Places that the figure asks for are kept; a packing that cannot be turned stays as it is.
    """
    problem = packing.problem
    middle = np.array([problem.sheet.width, problem.sheet.height]) / 2
    about = packing.points - middle
    flips = positions(problem)
    agreed = agreement(problem, about, flips)
    least = agreed[0] + BETTER * max(float(np.abs(agreed).max()), 1e-300)
    for k in np.argsort(-agreed, kind="stable"):
        if agreed[k] <= least:
            break
        points = name_sides(problem, about @ np.array(flips[k]).T + middle)
        turned = replace(packing, tips=tuple((x, y) for x, y in points.tolist()))
        if not turned.violations() and turned.scale >= packing.scale * (1 - 1e-12):
            return turned
    return packing
