"""What Newton's steps hold: paths active, corners straight, parts at their least lengths."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from packer.creases.constraints.convexity import bend_rows, bends
from packer.creases.constraints.variables import slack_rows

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.creases.constraints.length_bounds import Limits
    from packer.creases.tip_layout import Plan

Pairs = tuple["NDArray[np.intp]", "NDArray[np.intp]"]


@dataclass(frozen=True, eq=False)
class Held:
    """Equations on a plan.

    Attributes
    ----------
    pairs
        Pairs of tips whose paths are active.
    corners
        (c, 3) tips of which the second lies on the line of its neighbours.
    pieces, lengths
        (p, edges) and (p,): sums of edges that have given lengths.
    """

    pairs: Pairs
    corners: NDArray[np.intp]
    pieces: NDArray[np.float64]
    lengths: NDArray[np.float64]

    def miss(self, plan: Plan) -> NDArray[np.float64]:
        """Return by how much a plan misses each equation, in sheet units."""
        short = self.pieces @ plan.lengths - self.lengths
        return np.concatenate([plan.slack[self.pairs], bends(plan, self.corners), short])

    def rows(self, plan: Plan) -> NDArray[np.float64]:
        """Return (equations, 2 tips + edges): the derivatives of `miss`."""
        points = np.zeros((len(self.pieces), 2 * plan.tree.n_tips))
        return np.vstack(
            [
                slack_rows(plan, *self.pairs),
                bend_rows(plan, self.corners),
                np.hstack([points, self.pieces]),
            ]
        )


def equations(plan: Plan, pairs: Pairs, corners: NDArray[np.intp] | None = None) -> Held:
    """Return the equations that paths are active and corners straight."""
    none = np.empty((0, 3), dtype=np.intp)
    edges = len(plan.lengths)
    return Held(pairs, none if corners is None else corners, np.empty((0, edges)), np.empty(0))


def with_missed(now: Held, plan: Plan, below: float, limits: Limits | None) -> Held:
    """Return equations that also hold what a plan misses: paths and parts that are too short.

    The same object where nothing is missed.
    """
    low = plan.slack < -below
    low[now.pairs] = low[now.pairs[::-1]] = False
    i, j = np.nonzero(np.triu(low))
    if len(i):
        pairs = np.append(now.pairs[0], i), np.append(now.pairs[1], j)
        now = replace(now, pairs=pairs)
    if limits is not None:
        missed = limits.missed(plan)
        if missed.any():
            now = replace(
                now,
                pieces=np.vstack([now.pieces, limits.pieces(plan)[missed]]),
                lengths=np.append(now.lengths, limits.least[missed]),
            )
    return now
