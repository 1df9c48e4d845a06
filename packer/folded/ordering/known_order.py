"""The best order known of a mirrored pattern, and which of its creases are not folded like their images."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING, Final

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import dijkstra

from packer.folded.pair_search import ranks

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from scipy.sparse import csr_array

    from packer.folded.ordering.mirrored_layers import MirroredLayers
    from packer.folded.pair_conditions import PairConditions

FEW_LAYERS: Final = 1000
"""Layers up to which all are looked at together from the outset: that is quicker, and ends with more creases alike."""


class KnownOrder:
    """An order, which becomes another only where that folds more creases like their images.

    Parameters
    ----------
    layers
        Of the folded form, and which are each other's images.
    rank
        (layers,) a valid order, the place of each layer.

    Attributes
    ----------
    rank
        (layers,) the order known now.
    unlike
        (k,) which of the pairs of creases in `layers` differ.
    refuted
        (k,) of which of them it is shown that they must, while those that are alike stay so.
    """

    def __init__(self, layers: MirroredLayers, rank: NDArray[np.intp]) -> None:
        self.layers, self.rank = layers, rank
        self.unlike = layers.unlike(rank)
        self.refuted = np.zeros(len(self.unlike), dtype=bool)

    @property
    def open(self) -> NDArray[np.bool_]:
        """(k,) of which pairs of creases that differ nothing is shown."""
        return self.unlike & ~self.refuted

    @property
    def left(self) -> str:
        """What is left to decide, in words."""
        return f"{2 * int(self.open.sum())} folds to be like their mirror images"

    @cached_property
    def overlaps(self) -> int:
        """How many pairs of layers overlap."""
        return int(np.count_nonzero(self.layers.relations.overlap)) // 2

    def distances(self, rows: NDArray[np.intp]) -> NDArray[np.float64]:
        """Return (layers,) how many creases lie between each layer, or its image, and the nearest of some pairs."""
        far = dijkstra(
            self._beside,
            directed=False,
            unweighted=True,
            indices=np.unique(self.layers.pairs[rows]),
            min_only=True,
        )
        nearest: NDArray[np.float64] = np.minimum(far, far[self.layers.image])
        return nearest

    def asked(
        self,
        conditions: PairConditions | None,
        rows: NDArray[np.intp],
        number: NDArray[np.intp] | None = None,
    ) -> tuple[PairConditions, NDArray[np.intp], NDArray[np.bool_]]:
        """Return the conditions with all alike that are, and literals that open pairs of creases be so.

        Parameters
        ----------
        conditions
            On pairs of layers.
        rows
            (r,) the open pairs of creases.
        number
            (layers,) the number of each layer in the conditions, -1 where it is not in them; its own by
            default.

        Returns
        -------
        PairConditions
            With an unknown more for each literal.
        (a,) array
            The literals.
        (r,) array
            Which of the pairs of creases have one: the others can only be opposite.
        """
        number = np.arange(len(self.rank)) if number is None else number
        inside = (number[self.layers.pairs] >= 0).all(axis=(1, 2))
        alike = np.flatnonzero(inside & ~self.unlike)
        # what is asked holds of the order that is known
        assert conditions is not None
        joined = conditions.with_equal(*self.layers.valleys(conditions, alike, number).T)
        assert joined is not None
        pairs = self.layers.valleys(joined, rows, number)
        apart = pairs[:, 0] >> 1 != pairs[:, 1] >> 1
        return *joined.with_preferred(*pairs[apart].T), apart

    def take(self, below: NDArray[np.bool_]) -> bool:
        """Take over an order, if there is one, it breaks nothing, and what is alike stays so.

        Parameters
        ----------
        below
            (layers, layers) which are to be below which.
        """
        rank = ranks(below)
        if rank is None or not self.layers.valid(rank):
            return False
        unlike = self.layers.unlike(rank)
        # seen from a root beside the mirror line a crease may have other layers than its image
        if (unlike & ~self.unlike).any():
            return False
        self.rank, self.unlike = rank, unlike
        return True

    @cached_property
    def _beside(self) -> csr_array:
        """Which layers meet at a crease."""
        first, second = self.layers.base.creases[:, 1:].T
        size = (len(self.rank), len(self.rank))
        return coo_array((np.ones(len(first)), (first, second)), size).tocsr()
