"""Creases folded like their images, with few layers free at a time, then all, by the search of our own.

Around a crease that differs from its image the layers near it on the sheet, and the images of these,
are free; all others keep their order (large neighbourhood search: P. Shaw, "Using constraint
programming and local search methods to solve vehicle routing problems", CP 1998). As many creases among
them as can be are made alike, while all that are alike stay so (`packer.folded.maximal_subset`).

And the other way: the free layers are looked at by themselves, all others left out. Where not even they
have an order in which a crease is alike while those that are alike stay so, all layers have none.

Before, all layers are free for as long as that soon makes creases alike. Afterwards they are free again,
until of each crease that still differs a search has shown that it cannot be alike while the others
are: in no order in one row from the same root.
"""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.folded.maximal_subset import MaximalSubset, first_gains, maximal_subset
from packer.folded.ordering.known_order import FEW_LAYERS
from packer.folded.pair_conditions import FALSE, PairConditions, pair_conditions
from packer.folded.pair_search import started, wish_of
from packer.folded.parity import equal_by_parity

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from packer.deadline import Deadline
    from packer.folded.ordering.known_order import KnownOrder

RADII: Final = {3: 60, 4: 60, 6: 60, 8: 80, 11: 160, 16: 320}
"""How many creases lie between a crease unlike its image and the layers that are free with it, at most; and
after how many contradictions one is left as it is."""

MISSES: Final = 6
"""Creases left open in a row with all layers free, after which neighbourhoods are looked at."""

MANY_OVERLAPS: Final = 2_000_000
"""Pairs of layers that overlap above which the search begins with neighbourhoods: of 4 million, what must hold
of all takes 20 s to gather."""


class FreeLayersSearch:
    """A search that frees some layers of the known order.

    Parameters
    ----------
    known
        The order that is known, which becomes better.
    deadline
        When the search ends.
    """

    def __init__(self, known: KnownOrder, deadline: Deadline) -> None:
        self.known, self.deadline = known, deadline

    def run(self, conflicts: int, progress: Callable[[str], None]) -> None:
        """Look at all open pairs of creases.

        Parameters
        ----------
        conflicts
            Contradictions after which the search with all layers free ends.
        progress
            Called with a few words whenever the neighbourhoods grow.
        """
        known = self.known
        if len(known.rank) > FEW_LAYERS:
            if known.overlaps <= MANY_OVERLAPS:
                progress(f"layer order, {known.left}, all layers free")
                self.first_everywhere()
            for radius, each in RADII.items():
                progress(f"layer order, {known.left}, layers within {radius} creases free")
                self.through(radius, each)
        progress(f"layer order, {known.left}, all layers free")
        self.everywhere(conflicts)

    def through(self, radius: int, each: int) -> None:
        """Look once at all open pairs, those near each other together.

        Parameters
        ----------
        radius
            Creases between a pair and the layers that are free.
        each
            Contradictions after which a pair is left open.
        """
        known = self.known
        seen = np.zeros(len(known.unlike), dtype=bool)
        for row in np.flatnonzero(known.open).tolist():
            if known.open[row] and not seen[row] and not self.deadline.over:
                far = known.distances(np.array([row]))
                inner = (far[known.layers.pairs] <= radius // 2).all(axis=(1, 2))
                rows = np.flatnonzero(inner & known.open & ~seen)
                seen[rows] = True
                self._look(np.flatnonzero(far <= radius), rows, each)

    def _look(self, free: NDArray[np.intp], rows: NDArray[np.intp], each: int) -> None:
        """Look at open pairs of creases with some layers free."""
        subset = partial(
            maximal_subset, conflicts=each * len(rows), deadline=self.deadline, each=each
        )
        self._gain(free, rows, subset)
        self._refute(free, rows[self.known.open[rows]], each)

    def first_everywhere(self) -> None:
        """Look at open pairs with all layers free, until some in a row are left open."""
        free, rows = np.arange(len(self.known.rank)), np.flatnonzero(self.known.open)
        self._gain(free, rows, partial(first_gains, misses=MISSES, deadline=self.deadline))

    def everywhere(self, conflicts: int) -> None:
        """Look at all open pairs with all layers free, until so many contradictions are met."""
        free, rows = np.arange(len(self.known.rank)), np.flatnonzero(self.known.open)
        self._gain(
            free, rows, partial(maximal_subset, conflicts=conflicts, deadline=self.deadline)
        )

    def _refute(self, free: NDArray[np.intp], rows: NDArray[np.intp], each: int) -> None:
        """Note which pairs of creases cannot be alike, as some layers by themselves show."""
        if self.deadline.over or not len(rows):
            return
        known = self.known
        conditions = pair_conditions(known.layers.relations.among(free))
        asked, literals, apart = known.asked(conditions, rows, self._numbers(free))
        known.refuted[rows[~apart]] = True
        wish = wish_of(asked, known.rank[free].astype(float))
        search = started(asked, wish, deadline=self.deadline)
        for literal, row in zip(literals.tolist(), rows[apart].tolist(), strict=True):
            search.run(each, [literal])
            if search.refuted is not None:
                known.refuted[row] = True
                search.set_true([literal ^ 1])

    def _gain(
        self,
        free: NDArray[np.intp],
        rows: NDArray[np.intp],
        subset: Callable[[PairConditions, list[int], NDArray[np.intp]], MaximalSubset],
    ) -> None:
        """Make as many pairs of creases alike as can be while all other layers keep their order."""
        if self.deadline.over or not len(rows):
            return
        known = self.known
        relations, held = known.layers.relations.around(free)
        layers = np.concatenate([free, held])
        place = np.argsort(np.argsort(known.rank[layers]))
        conditions = pair_conditions(relations, len(free) + np.argsort(known.rank[held]))
        asked, literals, apart = known.asked(conditions, rows, self._numbers(layers))
        if not len(held):
            equal = asked.with_equal(*equal_by_parity(asked.sums, asked.odd, self.deadline))
            assert equal is not None
            asked, literals = equal, equal.stands_for[literals]
        different, count = np.unique(literals[literals > FALSE], return_counts=True)
        # first what makes most creases alike
        most = subset(asked, different[np.argsort(-count, kind="stable")].tolist(), place)
        gained = most.rank is not place
        if gained and not self._taken(free, layers, relations.overlap, most):
            return
        if not len(held):
            known.refuted[rows[~apart]] = True
            known.refuted[rows[apart][np.isin(literals, (FALSE, *most.refuted))]] = True

    def _numbers(self, layers: NDArray[np.intp]) -> NDArray[np.intp]:
        number = np.full(len(self.known.rank), -1)
        number[layers] = np.arange(len(layers))
        return number

    def _taken(
        self,
        free: NDArray[np.intp],
        layers: NDArray[np.intp],
        overlap: NDArray[np.bool_],
        most: MaximalSubset,
    ) -> bool:
        """Take over an order of some layers of which a part is free; whether all layers have one with it."""
        rank = self.known.rank
        below = np.zeros((len(rank),) * 2, dtype=bool)
        below[np.ix_(layers, layers)] = (most.rank[:, None] < most.rank) & overlap
        held = np.setdiff1d(np.arange(len(rank)), free)
        held = held[np.argsort(rank[held])]
        below[np.ix_(held, held)] = False
        below[held[:-1], held[1:]] = True
        return self.known.take(below)
