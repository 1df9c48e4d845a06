"""Equations on a tip layout: paths active, corners straight, parts at their least lengths."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from packer.creases.constraints.convexity import bend_jacobian, bends
from packer.creases.constraints.variables import slack_jacobian

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.creases.constraints.length_bounds import LengthBounds
    from packer.creases.tip_layout import TipLayout

Pairs = tuple["NDArray[np.intp]", "NDArray[np.intp]"]


@dataclass(frozen=True, eq=False)
class Equations:
    """A system of equations in the tips and lengths of a layout.

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

    def residual(self, layout: TipLayout) -> NDArray[np.float64]:
        """Return (equations,) by how much a layout misses each of them, in sheet units."""
        short = self.pieces @ layout.lengths - self.lengths
        return np.concatenate([layout.slack[self.pairs], bends(layout, self.corners), short])

    def jacobian(self, layout: TipLayout) -> NDArray[np.float64]:
        """Return (equations, 2 tips + edges): the derivatives of `residual`."""
        points = np.zeros((len(self.pieces), 2 * layout.tree.n_tips))
        return np.vstack(
            [
                slack_jacobian(layout, *self.pairs),
                bend_jacobian(layout, self.corners),
                np.hstack([points, self.pieces]),
            ]
        )


def equations(
    layout: TipLayout, pairs: Pairs, corners: NDArray[np.intp] | None = None
) -> Equations:
    """Return the equations that paths are active and corners straight."""
    none = np.empty((0, 3), dtype=np.intp)
    edges = len(layout.lengths)
    return Equations(
        pairs, none if corners is None else corners, np.empty((0, edges)), np.empty(0)
    )


def with_violated(
    system: Equations, layout: TipLayout, below: float, bounds: LengthBounds | None
) -> Equations:
    """Return a system with one more equation for each path and each part that is too short.

    It is the same object where there is none.
    """
    low = layout.slack < -below
    low[system.pairs] = low[system.pairs[::-1]] = False
    i, j = np.nonzero(np.triu(low))
    if len(i):
        pairs = np.append(system.pairs[0], i), np.append(system.pairs[1], j)
        system = replace(system, pairs=pairs)
    if bounds is not None:
        violated = bounds.violated(layout)
        if violated.any():
            system = replace(
                system,
                pieces=np.vstack([system.pieces, bounds.pieces(layout)[violated]]),
                lengths=np.append(system.lengths, bounds.least[violated]),
            )
    return system
