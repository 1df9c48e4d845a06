"""Flexible lengths as variables: each may stray by its flex, the total of them is held.

The sheet length of edge e is ``m l_e + w_e`` with ``|w_e| <= flex_e m l_e`` and the w of all
flexible edges summing to zero, since otherwise all would shrink. Twins keep one length. The sum is
solved for the last length, which leaves one variable fewer than there are flexible lengths, and
none where only one is flexible.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.model.tree import Tree


@dataclass(frozen=True, eq=False)
class FlexibleLengths:
    """The linear map from the free variables w to every edge's change of sheet length.

    Attributes
    ----------
    basis
        (edges, w) change of each edge's sheet length for a unit of each variable.
    ends, end_scale
        (ends, w) and (ends,) constraints ``ends @ w + end_scale * m >= 0``.
    """

    basis: NDArray[np.float64]
    ends: NDArray[np.float64]
    end_scale: NDArray[np.float64]

    def share(
        self, beyond: NDArray[np.bool_], first: NDArray[np.intp], second: NDArray[np.intp]
    ) -> NDArray[np.float64]:
        """Return (paths, w) the change of length of each path between two tips.

        Parameters
        ----------
        beyond
            (edges, tips) as of `packer.model.tree.Tree.beyond`.
        first, second
            (paths,) the tips at their ends.
        """
        flexible = beyond[self.basis.any(axis=1)]
        used = flexible[:, first] != flexible[:, second]
        share: NDArray[np.float64] = used.T.astype(float) @ self.basis[self.basis.any(axis=1)]
        return share

    def lengths(
        self, asked: NDArray[np.float64], change: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """Return the (edges,) lengths after (w,) changes, in the figure's unit."""
        return asked + self.basis @ change if len(change) else asked

    def changes(
        self, asked: NDArray[np.float64], used: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """Return the (w,) changes whose lengths come nearest to those used."""
        if not self.basis.shape[1]:
            return np.zeros(0)
        return np.asarray(np.linalg.lstsq(self.basis, used - asked, rcond=None)[0])


def flexible(tree: Tree) -> FlexibleLengths:
    """Return the map for a tree's flexes."""
    leaders = np.flatnonzero((tree.flex > 0) & (tree.twin >= np.arange(len(tree.twin))))
    if len(leaders) < 2:
        none = np.zeros((0, 0))
        return FlexibleLengths(np.zeros((len(tree.names), 0)), none, np.zeros(0))
    count = np.where(tree.twin[leaders] == leaders, 1.0, 2.0)
    free = np.vstack([np.eye(len(leaders) - 1), -count[:-1] / count[-1]])
    basis = np.zeros((len(tree.names), len(leaders) - 1))
    basis[leaders] = free
    basis[tree.twin[leaders]] = free
    reach = tree.flex[leaders] * tree.lengths[leaders]
    return FlexibleLengths(basis, np.vstack([free, -free]), np.concatenate([reach, reach]))
