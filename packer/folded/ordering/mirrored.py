"""Orders of a mirrored pattern that fold each crease like its mirror image, wherever that can be.

In the order of a mirror image above and below are exchanged. An order that is its own image is
searched first, since it has half the unknowns, with ridges as valleys and gussets as mountains, as
in a tour, wherever they can be. There need not be one: of two creases on the mirror line that lie
across each other's layers, one has both its layers above the other's, and in the image below. Then
one whose folds are mirrored, which asks less. Where there is none either, as many creases as can be are
made alike (`packer.folded.ordering.most_alike`).
"""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.folded.ordering.search import MOST_PAIRS, loose_pairs, places
from packer.folded.pair_conditions import PairConditions, pair_conditions
from packer.folded.pair_search import NO_ORDER, SearchedOrder, searched_order, wish_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from packer.deadline import Deadline
    from packer.folded.ordering.mirrored_layers import MirroredLayers

FEW_CONFLICTS: Final = 50
"""Contradictions after which ridges need no longer be valleys wherever they can. Folds that are mirrored
in an order that is not are searched for three times as many, since a search for as many as can be finds
them as well."""

SOME_CONFLICTS: Final = 600
"""Contradictions after which a search for an order that is its own image ends: where that finds an order, it
took fewer than 300."""

MORE_CONFLICTS: Final = 4000
"""The same for one that is its own image from each root of a grid: on two patterns it took 149 to 1,007, on one
3,777."""

MOST_LAYERS: Final = 2000
"""Layers above which no order that folds all creases alike is searched, not even with most of them held: it
would take minutes."""

MANY_PAIRS: Final = 180_000
"""Pairs of layers above which an order is first searched with some layers held: of 600 layers."""


class MirroredSearch:
    """Searches for orders of a mirrored pattern's folded form.

    Parameters
    ----------
    layers
        Of the folded form, and which are each other's images.
    deadline
        When searches end.
    """

    def __init__(self, layers: MirroredLayers, deadline: Deadline | None = None) -> None:
        self.layers, self.deadline = layers, deadline
        self.count = len(layers.image)

    def all_alike(self, order: Sequence[int]) -> SearchedOrder:
        """Return an order that folds every crease like its image, or whether there is none.

        In large patterns first those layers keep their order whose order is its own image already.

        Parameters
        ----------
        order
            Layers in a valid order, from the lowest on; others may be missing.
        """
        if loose_pairs(self.count, None) > MANY_PAIRS:
            near = self.alike_near(order)
            if near.rank is not None:
                return near
        return self.alike_anywhere(order)

    def alike_near(self, order: Sequence[int]) -> SearchedOrder:
        """Return such an order in which those layers keep theirs whose order is its own image already."""
        if not self.layers.own_image:
            return NO_ORDER
        if self.count > MOST_LAYERS:
            return SearchedOrder(None)
        known = np.array(order, dtype=np.intp)
        return self._alike_with(known, self._own_image_part(known))

    def alike_anywhere(self, order: Sequence[int]) -> SearchedOrder:
        """Return such an order in which no layer need keep its place, or whether there is none."""
        return self._alike_with(np.array(order, dtype=np.intp), None)

    @cached_property
    def _conditions(self) -> PairConditions | None:
        """What must hold of an order in which no layer need keep its place."""
        return pair_conditions(self.layers.relations)

    @cached_property
    def own_image_conditions(self) -> PairConditions | None:
        """What must hold of an order that is its own image.

        None where that contradicts itself, or where there are too many layers.
        """
        if not self.layers.own_image or self.count > MOST_LAYERS:
            return None
        conditions = self._conditions
        return None if conditions is None else self._turned(conditions)

    def own_image_order(self, order: Sequence[int]) -> SearchedOrder:
        """Return an order that is its own image, and so folds every crease like its image.

        Parameters
        ----------
        order
            Layers in a valid order, from the lowest on; others may be missing.
        """
        place = places(self.count, np.array(order, dtype=np.intp))
        like = place - place[self.layers.image]
        return self._searched(self.own_image_conditions, like, MORE_CONFLICTS)

    def _alike_with(
        self, order: NDArray[np.intp], fixed: NDArray[np.intp] | None
    ) -> SearchedOrder:
        """Return an order that folds every crease like its image with some layers held in their order."""
        if not self.layers.own_image:
            return NO_ORDER
        count = self.count
        if count > MOST_LAYERS or loose_pairs(count, fixed) > MOST_PAIRS:
            return SearchedOrder(None)
        conditions = (
            self._conditions if fixed is None else pair_conditions(self.layers.relations, fixed)
        )
        if conditions is None:
            return NO_ORDER
        place = places(count, order)
        like, usual = place - place[self.layers.image], self._usual(conditions)
        searched = NO_ORDER
        turned, folded = self._turned(conditions), self._alike(conditions)
        for alike, some in ((turned, SOME_CONFLICTS), (folded, 3 * FEW_CONFLICTS)):
            for first, most in ((usual, FEW_CONFLICTS), (None, some)):
                searched = self._searched(alike, like, most, first)
                if searched.rank is not None:
                    return searched
                if searched.impossible:
                    break
        return searched

    def _own_image_part(self, order: NDArray[np.intp]) -> NDArray[np.intp]:
        """Return layers of an order, images with each other, whose images lie the other way round.

        One layer after the other is left out, the one with the most others against which it does
        not lie so.
        """
        count, image = self.count, self.layers.image
        rank = np.full(count, -1)
        rank[order] = np.arange(len(order))
        kept = (rank >= 0) & (rank[image] >= 0)
        below = rank[:, None] < rank
        wrong = self.layers.relations.overlap & (below == below[np.ix_(image, image)])
        wrong |= wrong[np.ix_(image, image)]
        wrong &= kept & kept[:, None]
        many = wrong.sum(axis=1)
        while many.any():
            worst = int(many.argmax())
            for layer in {worst, int(image[worst])}:
                kept[layer] = False
                many -= wrong[layer]
                wrong[layer] = wrong[:, layer] = False
                many[layer] = 0
        own = np.flatnonzero(kept)
        return own[np.argsort(rank[own])]

    def _usual(self, conditions: PairConditions) -> NDArray[np.intp]:
        """Return the literals that say that a ridge is a valley or a gusset a mountain, as in a tour."""
        base = self.layers.base
        edge, left, right = base.creases.T
        role = np.array(base.pattern.roles)[edge]
        literal = conditions.literal[left, right] ^ base.flipped[left] ^ (role == "gusset")
        usual: NDArray[np.intp] = literal[np.isin(role, ("ridge", "gusset"))].astype(np.intp)
        return usual

    def _searched(
        self,
        conditions: PairConditions | None,
        place: NDArray[np.floating],
        conflicts: int,
        first: NDArray[np.intp] | None = None,
    ) -> SearchedOrder:
        if conditions is None:
            return NO_ORDER
        wish = wish_of(conditions, place)
        searched = searched_order(conditions, wish, conflicts, first, self.deadline)
        if searched.rank is not None and not self.layers.valid(searched.rank):
            return SearchedOrder(None)
        return searched

    def _turned(self, conditions: PairConditions) -> PairConditions | None:
        """Ask that of every two layers the images lie the other way."""
        image = self.layers.image
        one, two = np.nonzero(np.triu(conditions.literal >= 0, 1))
        here, there = conditions.below(one, two), conditions.below(image[two], image[one])
        both = there >= 0
        return conditions.with_equal(here[both], there[both])

    def _alike(self, conditions: PairConditions) -> PairConditions | None:
        """Ask that all creases are folded like their images."""
        return conditions.with_equal(*self.layers.valleys(conditions).T)
