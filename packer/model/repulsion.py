"""Spread the branches of a layout: its parts repel each other until they rest.

The equal-angle layout never crosses but crowds small branches. Here every part turns freely
about its joint, with its length kept, until the charges on all parts are at rest.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import minimize

from packer.model.tree import walk

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.model.tree import Tree

CHARGED_SHARES = (0.4, 0.7, 1.0)
"""Where on each part charges sit, as shares of its length from its joint."""

CHARGES = (0.4, 0.4, 1.0)
"""Their charges: a tip counts most, for its name needs room."""

NEAREST = 1e-2
"""Distance below which a pair of charges pushes no harder, where the longest part is 1."""

TURN = 0.25
"""Radians that a part may turn in one round, little enough not to leap over its neighbour."""

ROUNDS = 25
"""Rounds at most; 80 flaps come to rest in fewer."""

STEPS = 20
"""Looks at the energy in one round at most."""

WORK = 1.5e8
"""Pairs of charges looked at in all: some 1.5 s. Up to 130 flaps every round is made, from 900 none."""

SHARES = (1.0, 0.7, 0.4, 0.2, 0.1)
"""Shares of a round's turns that are tried until no two parts cross."""

ROWS = 64
"""Charges whose pairs are looked at at once: few enough for the processor's cache
(`tests/benchmarks/trials.md`)."""

REST = 1e-2
"""Radians below which a round's largest turn ends the search."""


def spread(
    tree: Tree,
    root: int,
    directions: NDArray[np.float64],
    fixed: NDArray[np.bool_],
    pairs: NDArray[np.intp],
) -> NDArray[np.float64]:
    """Return directions at rest, or as near to rest as no two parts cross.

    Parameters
    ----------
    tree, root
        The tree and the node it is seen from.
    directions
        (edges,) in radians clockwise from upright, without crossings.
    fixed
        (edges,) whether a part keeps its direction.
    pairs
        (edges,) each part's mirror image, which points and turns the other way; its own for a
        part that turns alone.
    """
    reach, charge = _reach(tree, root)
    owner = pairs < np.arange(len(pairs))  # a twin follows the first of its pair
    free = np.flatnonzero(~fixed & ~owner)
    if len(free) == 0 or len(charge) < 2:
        return directions

    def whole(angles: NDArray[np.float64]) -> NDArray[np.float64]:
        out = directions.copy()
        out[free] = angles
        out[owner] = -out[pairs[owner]]
        return out

    def energy(angles: NDArray[np.float64]) -> tuple[float, NDArray[np.float64]]:
        turn = whole(angles)
        value, slope = _energy(reach, charge, turn)
        twin = np.where(pairs != np.arange(len(pairs)), -slope[pairs], 0.0)
        return value, (slope + twin)[free]

    angles = directions[free]
    for _ in range(min(ROUNDS, int(WORK / (STEPS * len(charge) ** 2)))):
        turns = (
            minimize(
                energy,
                angles,
                jac=True,
                method="L-BFGS-B",
                bounds=np.column_stack([angles - TURN, angles + TURN]),
                options={"maxiter": STEPS},
            ).x
            - angles
        )
        share = next(
            (s for s in SHARES if not crosses(tree, root, whole(angles + s * turns))), 0.0
        )
        angles = angles + share * turns
        if share * np.abs(turns).max() < REST:
            break
    return whole(angles)


def _reach(tree: Tree, root: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the (charges, edges) matrix of lengths that lead to each charge, and the charges.

    A charge lies at ``reach @ sin(directions)``, ``reach @ cos(directions)`` from the root,
    in units of the longest part.
    """
    rows: dict[int, NDArray[np.float64]] = {root: np.zeros(len(tree.ends))}
    reach, charge = [rows[root]], [1.0]
    for node, parent, edge in walk(tree, root):
        if edge < 0:
            continue
        rows[node] = rows[parent].copy()
        rows[node][edge] = tree.lengths[edge]
        for share, amount in zip(CHARGED_SHARES, CHARGES, strict=True):
            reach.append(rows[parent] + share * (rows[node] - rows[parent]))
            charge.append(amount)
    return np.array(reach) / tree.lengths.max(), np.array(charge)


def _energy(
    reach: NDArray[np.float64], charge: NDArray[np.float64], turn: NDArray[np.float64]
) -> tuple[float, NDArray[np.float64]]:
    """Return the energy of charges, the sum of products over distances, and its slope."""
    sin, cos = np.sin(turn), np.cos(turn)
    x, y = reach @ sin, reach @ cos
    value, fx, fy = 0.0, np.empty_like(x), np.empty_like(y)
    for first in range(0, len(x), ROWS):
        rows = slice(first, first + ROWS)
        dx, dy = x[rows, None] - x, y[rows, None] - y
        square = np.maximum(dx * dx + dy * dy, NEAREST**2)
        weight = charge[rows, None] * charge / np.sqrt(square)
        np.fill_diagonal(weight[:, first:], 0.0)
        value += 0.5 * float(weight.sum())
        pull = weight / square
        fx[rows], fy[rows] = -(pull * dx).sum(axis=1), -(pull * dy).sum(axis=1)
    return value, cos * (fx @ reach) - sin * (fy @ reach)


def crosses(tree: Tree, root: int, directions: NDArray[np.float64]) -> bool:
    """Return whether two parts that share no joint cross."""
    at = np.zeros((tree.n_nodes, 2))
    for node, parent, edge in walk(tree, root):
        if edge >= 0:
            way = np.array([np.sin(directions[edge]), np.cos(directions[edge])])
            at[node] = at[parent] + tree.lengths[edge] * way
    a, b = at[tree.ends[:, 0]], at[tree.ends[:, 1]]
    i, j = np.triu_indices(len(a), 1)
    apart = (tree.ends[i][:, :, None] != tree.ends[j][:, None, :]).all(axis=(1, 2))
    i, j = i[apart], j[apart]

    def side(
        p: NDArray[np.float64], q: NDArray[np.float64], r: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        u, v = q - p, r - p
        return np.sign(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0])

    meet = (side(a[i], b[i], a[j]) * side(a[i], b[i], b[j]) < 0) & (
        side(a[j], b[j], a[i]) * side(a[j], b[j], b[i]) < 0
    )
    return bool(meet.any())
