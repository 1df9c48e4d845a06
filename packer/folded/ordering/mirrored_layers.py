"""The layers and creases of a mirrored pattern's folded form, and which are each other's images."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from packer.folded.layer_relations import LayerRelations, layer_relations
from packer.folded.ordering.mirror import crease_pairs, unlike_images
from packer.folded.ordering.search import holds

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.folded.ordering.grid_rings import GridRings
    from packer.folded.ordering.mirror import MirrorImages
    from packer.folded.ordering.rings import Molecules
    from packer.folded.pair_conditions import PairConditions


class MirroredLayers:
    """What a search for folds like their mirror images asks of a folded form.

    Parameters
    ----------
    base
        The layers and creases of the folded form, seen from a root.
    mirror
        The images of the pattern's parts.

    Attributes
    ----------
    own_image
        Whether the folded form is its own mirror image, with all flaps pointing away from a joint on
        the mirror line; else some hinges are folded whose images are flat.
    image
        (layers,) the image of each layer.
    pairs
        (k, 2, 2) the layers on the left and right of a crease, and of its image.
    """

    def __init__(self, base: Molecules | GridRings, mirror: MirrorImages) -> None:
        self.base, self.mirror = base, mirror
        folded = base.form.folded
        self.own_image = bool((folded == folded[mirror.edges]).all())
        self.image = mirror.of_sets(base.layer_of)
        creases, images = crease_pairs(base, mirror)
        self.pairs = np.stack([creases[:, 1:], images[:, 1:]], axis=1)
        self._edges = creases[:, 0]

    @cached_property
    def relations(self) -> LayerRelations:
        """How the layers lie to each other."""
        return layer_relations(self.base.crossings)

    def valleys(
        self,
        conditions: PairConditions,
        rows: NDArray[np.intp] | None = None,
        number: NDArray[np.intp] | None = None,
    ) -> NDArray[np.intp]:
        """Return (k, 2) the literals that say that a crease, and its image, is a valley.

        Parameters
        ----------
        conditions
            On pairs of layers.
        rows
            (k,) of `pairs`, all by default.
        number
            (layers,) the number of each layer in the conditions, its own by default.
        """
        sides = self.pairs if rows is None else self.pairs[rows]
        asked = sides if number is None else number[sides]
        literals = conditions.below(asked[..., 0], asked[..., 1])
        valleys: NDArray[np.intp] = literals ^ self.base.flipped[sides[..., 0]]
        return valleys

    def unlike(self, rank: NDArray[np.intp]) -> NDArray[np.bool_]:
        """Return (k,) which of the pairs an order folds otherwise than their image."""
        return np.isin(self._edges, unlike_images(self.base, rank, self.mirror))

    def creases_unlike(self, rank: NDArray[np.intp]) -> int:
        """Return how many creases an order folds otherwise than their image."""
        return len(unlike_images(self.base, rank, self.mirror))

    def valid(self, rank: NDArray[np.intp]) -> bool:
        """Whether an order breaks nothing."""
        return holds(self.base.crossings, rank)
