"""Orders of a mirrored pattern that fold each crease like its mirror image, wherever that can be.

In the order of a mirror image above and below are exchanged. An order that is its own image is
searched first, since it has half the unknowns, with ridges as valleys and gussets as mountains, as
in a tour, wherever they can be. There need not be one: of two creases on the mirror line that lie
across each other's layers, one has both its layers above the other's, and in the image below. Then
one whose folds are mirrored, which asks less. Where there is none either, creases that differ from
their image are made alike one after the other while all that are alike stay so, until of each that
still differs a search has shown that it cannot be: in no order in one row from the same root
(`packer.folded.maximal_subset`).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.folded.maximal_subset import maximal_subset
from packer.folded.ordering.mirror import crease_pairs, unlike_images
from packer.folded.ordering.search import MOST_PAIRS, holds, loose_pairs, places
from packer.folded.pair_conditions import PairConditions, overlaps, pair_conditions
from packer.folded.pair_search import NO_ORDER, SearchedOrder, searched_order, wish_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from packer.deadline import Deadline
    from packer.folded.ordering.grid_rings import GridRings
    from packer.folded.ordering.mirror import MirrorImages
    from packer.folded.ordering.rings import Molecules

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

MOST_SEARCHED: Final = 4000
"""Layers above which not even as many creases alike as can be are searched: of 3,000, overlapping in 4 million
pairs, what must hold takes 20 s to gather."""

MANY_PAIRS: Final = 180_000
"""Pairs of layers above which an order is first searched with some layers held: of 600 layers."""

MANY_CONFLICTS: Final = 6000
"""Contradictions after which a search ends that folds as many creases alike as can be: it takes mostly up to
some 1,500, once 4,700."""


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
    """The creases of a mirrored pattern's folded form, and which are each other's images.

    Parameters
    ----------
    base
        The layers and creases of the folded form, seen from a root.
    mirror
        The images of the pattern's parts.
    deadline
        When searches end.

    Attributes
    ----------
    own_image
        Whether the folded form is its own mirror image, with all flaps pointing away from a joint on
        the mirror line; else some hinges are folded whose images are flat.
    """

    def __init__(
        self,
        base: Molecules | GridRings,
        mirror: MirrorImages,
        deadline: Deadline | None = None,
    ) -> None:
        self.base, self.mirror, self.deadline = base, mirror, deadline
        folded = base.form.folded
        self.own_image = bool((folded == folded[mirror.edges]).all())
        self._image = mirror.of_sets(base.layer_of)
        self._creases, self._images = crease_pairs(base, mirror)

    def all_alike(self, order: Sequence[int]) -> SearchedOrder:
        """Return an order that folds every crease like its image, or whether there is none.

        In large patterns first those layers keep their order whose order is its own image already.

        Parameters
        ----------
        order
            Layers in a valid order, from the lowest on; others may be missing.
        """
        if loose_pairs(len(self.base.flipped), None) > MANY_PAIRS:
            near = self.alike_near(order)
            if near.rank is not None:
                return near
        return self.alike_anywhere(order)

    def alike_near(self, order: Sequence[int]) -> SearchedOrder:
        """Return such an order in which those layers keep theirs whose order is its own image already."""
        if not self.own_image:
            return NO_ORDER
        if len(self.base.flipped) > MOST_LAYERS:
            return SearchedOrder(None)
        known = np.array(order, dtype=np.intp)
        return self._alike_with(known, self._own_image_part(known))

    def alike_anywhere(self, order: Sequence[int]) -> SearchedOrder:
        """Return such an order in which no layer need keep its place, or whether there is none."""
        return self._alike_with(np.array(order, dtype=np.intp), None)

    @cached_property
    def _conditions(self) -> PairConditions | None:
        """What must hold of an order in which no layer need keep its place."""
        return pair_conditions(self.base.crossings)

    @cached_property
    def own_image_conditions(self) -> PairConditions | None:
        """What must hold of an order that is its own image.

        None where that contradicts itself, or where there are too many layers.
        """
        if not self.own_image or len(self.base.flipped) > MOST_LAYERS:
            return None
        conditions = pair_conditions(self.base.crossings)
        return None if conditions is None else self._turned(conditions)

    def own_image_order(self, order: Sequence[int]) -> SearchedOrder:
        """Return an order that is its own image, and so folds every crease like its image.

        Parameters
        ----------
        order
            Layers in a valid order, from the lowest on; others may be missing.
        """
        place = places(len(self.base.flipped), np.array(order, dtype=np.intp))
        like = place - place[self._image]
        return self._searched(self.own_image_conditions, like, MORE_CONFLICTS)

    def most_alike(
        self, rank: NDArray[np.intp], conflicts: int = MANY_CONFLICTS
    ) -> MirroredOrder:
        """Return an order in which no further crease can be folded like its image.

        Where the search ends before it has seen that, the best order so far.

        Parameters
        ----------
        rank
            A valid order of the layers.
        conflicts
            Contradictions after which the search ends.
        """
        over = self.deadline is not None and self.deadline.over
        conditions = None
        if not over and len(rank) <= MOST_SEARCHED:
            conditions = self._conditions
        if conditions is None:
            return MirroredOrder(rank)
        valleys, unlike = np.column_stack(self._valleys(conditions)), self._unlike(rank)
        joined = conditions.with_equal(*valleys[~unlike].T)
        if joined is None:
            return MirroredOrder(rank)
        pairs = np.sort(joined.stands_for[valleys[unlike]], axis=1)
        pairs ^= pairs[:, :1] & 1
        pairs, same = np.unique(pairs, axis=0, return_inverse=True)
        apart = np.flatnonzero(pairs[:, 0] >> 1 != pairs[:, 1] >> 1)  # the others are opposites
        asked, literals = joined.with_preferred(*pairs[apart].T)
        most = maximal_subset(asked, literals.tolist(), rank, conflicts, self.deadline)
        if not holds(self.base.crossings, most.rank):
            return MirroredOrder(rank)
        undecided = np.isin(same, apart[np.isin(literals, most.open)])
        left = len(unlike_images(self.base, most.rank, self.mirror))
        return MirroredOrder(most.rank, left - 2 * int(undecided.sum()))

    def _alike_with(
        self, order: NDArray[np.intp], fixed: NDArray[np.intp] | None
    ) -> SearchedOrder:
        """Return an order that folds every crease like its image with some layers held in their order."""
        if not self.own_image:
            return NO_ORDER
        count = len(self.base.flipped)
        if count > MOST_LAYERS or loose_pairs(count, fixed) > MOST_PAIRS:
            return SearchedOrder(None)
        conditions = (
            self._conditions
            if fixed is None
            else pair_conditions(self.base.crossings, fixed=fixed)
        )
        if conditions is None:
            return NO_ORDER
        place = places(count, order)
        like, usual = place - place[self._image], self._usual(conditions)
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
        count, image = len(self.base.flipped), self._image
        rank = np.full(count, -1)
        rank[order] = np.arange(len(order))
        kept = (rank >= 0) & (rank[image] >= 0)
        below = rank[:, None] < rank
        wrong = overlaps(self.base.crossings) & (below == below[np.ix_(image, image)])
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
        edge, left, right = self.base.creases.T
        role = np.array(self.base.pattern.roles)[edge]
        literal = conditions.literal[left, right] ^ self.base.flipped[left] ^ (role == "gusset")
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
        if searched.rank is not None and not holds(self.base.crossings, searched.rank):
            return SearchedOrder(None)
        return searched

    def _turned(self, conditions: PairConditions) -> PairConditions | None:
        """Ask that of every two layers the images lie the other way."""
        image = self._image
        one, two = np.nonzero(np.triu(conditions.literal >= 0, 1))
        here, there = conditions.below(one, two), conditions.below(image[two], image[one])
        both = there >= 0
        return conditions.with_equal(here[both], there[both])

    def _alike(self, conditions: PairConditions) -> PairConditions | None:
        """Ask that all creases are folded like their images."""
        return conditions.with_equal(*self._valleys(conditions))

    def _valleys(self, conditions: PairConditions) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        """Return for each crease and its image the literal that says that it is a valley."""
        flipped = self.base.flipped
        (_, left, right), (_, image_left, image_right) = self._creases.T, self._images.T
        return (
            conditions.below(left, right) ^ flipped[left],
            conditions.below(image_left, image_right) ^ flipped[image_left],
        )

    def _unlike(self, rank: NDArray[np.intp]) -> NDArray[np.bool_]:
        """Return (k,) which creases an order folds otherwise than their image."""
        return np.isin(self._creases[:, 0], unlike_images(self.base, rank, self.mirror))
