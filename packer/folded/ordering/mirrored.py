"""Orders of a mirrored pattern that fold each crease like its mirror image, wherever that can be.

In the order of a mirror image above and below are exchanged. An order that is its own image is
searched first, since it has half the unknowns, with ridges as valleys and gussets as mountains, as in a
tour, wherever they can be; there need not be one: of two creases on the mirror
line that lie across each other's layers, one has all its layers above the other's, and in the image
below. Then one whose folds are mirrored, which asks less. Where there is none either, creases that
differ from their image are made alike, as many at a time as can be. What remains is a maximal
satisfiable subset (M. Liffiton and K. Sakallah, "Algorithms for computing minimal unsatisfiable
subsets of constraints", J. Autom. Reason. 40, 2008, take the complement): of each crease that still
differs a search shows that it cannot be alike while all others that are stay so.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.folded.ordering.mirror import unlike_images
from packer.folded.ordering.search import MOST_LAYERS, holds
from packer.folded.pair_conditions import (
    NO_ORDER,
    PairConditions,
    SearchedOrder,
    pair_conditions,
    searched_order,
    wish_of,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.folded.ordering.mirror import MirrorImages
    from packer.folded.ordering.rings import Molecules

MOST_CONFLICTS: Final = 300
"""Contradictions after which the search for a whole mirrored order ends."""

TO_PROVE: Final = 5000
"""Contradictions after which it stays open whether a crease can be folded like its image."""


@dataclass(frozen=True, eq=False)
class MirroredOrder:
    """An order of a mirrored pattern.

    Attributes
    ----------
    rank
        (layers,) the place of each layer.
    shown
        How many creases differ from their image of which it is shown that they must, while all
        others stay alike.
    """

    rank: NDArray[np.intp]
    shown: int = 0


class MirroredSearch:
    """The pairs of layers of a mirrored pattern's folded form, and which creases are images.

    Attributes
    ----------
    own_image
        Whether the folded form is its own mirror image, with all flaps pointing away from a joint on
        the mirror line; else some hinges are folded whose images are flat.
    """

    def __init__(self, molecules: Molecules, mirror: MirrorImages) -> None:
        self.molecules, self.mirror = molecules, mirror
        folded = molecules.form.folded
        self.own_image = bool((folded == folded[mirror.edges]).all())
        edges = molecules.creases[:, 0]
        row = np.full(len(folded), -1)
        row[edges] = np.arange(len(edges))
        image = row[mirror.edges[edges]]
        here = np.flatnonzero((edges < mirror.edges[edges]) & (image >= 0))
        self.edges = edges[here]
        self._creases, self._images = molecules.creases[here], molecules.creases[image[here]]
        few = len(molecules.flipped) <= MOST_LAYERS
        self.conditions = pair_conditions(molecules.crossings) if few else None
        if self.conditions is not None:
            # Ridges are valleys and gussets mountains in a tour without crossed polygons.
            edge, left, right = molecules.creases.T
            role = np.array(molecules.pattern.roles)[edge]
            valley = self.conditions.literal[left, right] ^ molecules.flipped[left]
            usual = valley ^ (role == "gusset")
            self._usual = usual[np.isin(role, ("ridge", "gusset"))]

    def whole(self, place: NDArray[np.floating]) -> NDArray[np.intp] | None:
        """Return the ranks of an order that folds every crease like its image; None where none was found.

        Parameters
        ----------
        place
            (layers,) the place of each layer in an order that this one should be like.
        """
        if self.conditions is None or not self.own_image:
            return None
        image = self.mirror.of_sets(self.molecules.layer_of)
        like = place - place[image]
        for alike in (self._turned(self.conditions, image), self._alike(self.conditions)):
            for first in (self._usual, None):
                found = self._found(alike, like, MOST_CONFLICTS, first)
                if found.rank is not None:
                    return found.rank
                if found.impossible:
                    break
        return None

    def most_alike(self, rank: NDArray[np.intp]) -> MirroredOrder:
        """Return an order in which no further crease can be folded like its image.

        Parameters
        ----------
        rank
            A valid order of the layers.
        """
        if self.conditions is None:
            return MirroredOrder(rank)
        unlike = self._unlike(rank)
        one, other = self._valleys(self.conditions)
        rows = np.argsort(unlike, kind="stable")  # those that are alike first
        equal = np.sort(np.column_stack([one, other])[rows], axis=1)
        equal ^= equal[:, :1] & 1
        _, first = np.unique(equal, axis=0, return_index=True)
        first.sort()
        equal = equal[first]
        equal = equal[equal[:, 0] >> 1 != equal[:, 1] >> 1]
        asked, preferred = self.conditions.with_preferred(*equal.T)
        found = self._found(asked, rank.astype(float), TO_PROVE, preferred)
        if found.rank is None:
            return MirroredOrder(rank)
        return MirroredOrder(
            found.rank, len(unlike_images(self.molecules, found.rank, self.mirror))
        )

    def _found(
        self,
        conditions: PairConditions | None,
        place: NDArray[np.floating],
        conflicts: int,
        first: NDArray[np.intp] | None = None,
    ) -> SearchedOrder:
        if conditions is None:
            return NO_ORDER
        found = searched_order(conditions, wish_of(conditions, place), conflicts, first)
        if found.rank is not None and not holds(self.molecules.crossings, found.rank):
            return SearchedOrder(None)
        return found

    def _turned(
        self, conditions: PairConditions, image: NDArray[np.intp]
    ) -> PairConditions | None:
        """Ask that of every two layers the images lie the other way."""
        one, two = np.nonzero(np.triu(conditions.literal >= 0, 1))
        here, there = conditions.below(one, two), conditions.below(image[two], image[one])
        both = there >= 0
        return conditions.with_equal(here[both], there[both])

    def _alike(self, conditions: PairConditions) -> PairConditions | None:
        """Ask that all creases are folded like their images."""
        return conditions.with_equal(*self._valleys(conditions))

    def _valleys(self, conditions: PairConditions) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        """Return for each crease and its image the literal that says that it is a valley."""
        flipped = self.molecules.flipped
        (_, left, right), (_, image_left, image_right) = self._creases.T, self._images.T
        return (
            conditions.below(left, right) ^ flipped[left],
            conditions.below(image_left, image_right) ^ flipped[image_left],
        )

    def _unlike(self, rank: NDArray[np.intp]) -> NDArray[np.bool_]:
        """Return (k,) which creases an order folds otherwise than their image."""
        return np.isin(self.edges, unlike_images(self.molecules, rank, self.mirror))
