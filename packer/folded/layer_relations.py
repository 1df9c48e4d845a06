"""How the layers of a folded form lie to each other: what an order of them must respect.

Which layers overlap, which creases lie across which layers, and which creases lie on one line. What
must hold of an order follows from that alone (`packer.folded.pair_conditions`); the relations of some
of the layers are looked up in those of all.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import shapely

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.folded.ordering.crossings import Crossings


@dataclass(frozen=True, eq=False)
class LayerRelations:
    """Which layers lie over each other, and what of their creases lies where.

    Attributes
    ----------
    overlap
        (n, n) which layers lie over each other or meet at a crease.
    creases
        (c, 2) the two layers at each crease.
    across
        (k, 2) a row of `creases` and a layer that this crease lies across.
    aligned
        (m, 2) rows of two creases on one line, whose four layers must not alternate.
    """

    overlap: NDArray[np.bool_]
    creases: NDArray[np.intp]
    across: NDArray[np.intp]
    aligned: NDArray[np.intp]

    def among(self, layers: NDArray[np.intp]) -> LayerRelations:
        """Return the relations of some layers with each other, numbered in their order.

        Parameters
        ----------
        layers
            (k,) different layers.
        """
        number = np.full(len(self.overlap), -1)
        number[layers] = np.arange(len(layers))
        creases = number[self.creases]
        inside = (creases >= 0).all(axis=1)
        row = np.where(inside, np.cumsum(inside) - 1, -1)
        across = np.column_stack([row[self.across[:, 0]], number[self.across[:, 1]]])
        aligned = row[self.aligned]
        return LayerRelations(
            self.overlap[np.ix_(layers, layers)],
            creases[inside],
            across[(across >= 0).all(axis=1)],
            aligned[(aligned >= 0).all(axis=1)],
        )

    def around(self, layers: NDArray[np.intp]) -> tuple[LayerRelations, NDArray[np.intp]]:
        """Return the relations of some layers with each other and with all that overlap them.

        Of the others' relations with each other only their overlaps are kept.

        Parameters
        ----------
        layers
            (k,) different layers.

        Returns
        -------
        LayerRelations
            Of the layers asked for, in their order, with the others behind them.
        (n,) array
            These others.
        """
        inside = np.zeros(len(self.overlap), dtype=bool)
        inside[layers] = True
        others = np.flatnonzero(self.overlap[layers].any(axis=0) & ~inside)
        touched = np.asarray(inside[self.creases].any(axis=1))
        row, layer = self.across.T
        told = replace(
            self,
            across=self.across[touched[row] | inside[layer]],
            aligned=self.aligned[touched[self.aligned].any(axis=1)],
        )
        return told.among(np.concatenate([layers, others])), others


def layer_relations(crossings: Crossings) -> LayerRelations:
    """Return the relations of all layers of a folded form."""
    tree = shapely.STRtree(crossings.inner)
    overlap = np.zeros((len(crossings.inner),) * 2, dtype=bool)
    overlap[tuple(tree.query(crossings.inner, predicate="intersects"))] = True
    creases = crossings.creases[:, 1:]
    first, second = creases.T
    overlap[first, second] = overlap[second, first] = True
    np.fill_diagonal(overlap, val=False)
    across = tree.query(crossings.lines, predicate="intersects").T
    return LayerRelations(overlap, creases, across, crossings.tacos)
