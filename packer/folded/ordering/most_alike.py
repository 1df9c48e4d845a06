"""As many creases of a mirrored pattern as can be folded like their images, from an order that is known.

Around a crease that differs from its image the layers near it on the sheet, and the images of these,
are free; all others keep their order (large neighbourhood search: P. Shaw, "Using constraint
programming and local search methods to solve vehicle routing problems", CP 1998). As many creases among
them as can be are made alike, while all that are alike stay so (`packer.folded.maximal_subset`).

And the other way: the free layers are looked at by themselves, all others left out. Where not even they
have an order in which a crease is alike while those that are alike stay so, all layers have none.

Before, all layers are free for as long as that soon makes creases alike. Afterwards they are free again,
until of each crease that still differs a search has shown that it cannot be alike while the others
are: in no order in one row from the same root. Where the solver in compiled code is installed
(`packer.folded.cadical_search`), all layers are free from the outset, but where too many overlap.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Final

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import dijkstra

from packer.folded import cadical_search
from packer.folded.maximal_subset import MaximalSubset, first_gains, maximal_subset
from packer.folded.pair_conditions import FALSE, PairConditions, pair_conditions
from packer.folded.pair_search import incremental_search, ranks, wish_of
from packer.folded.parity import equal_by_parity

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from packer.deadline import Deadline
    from packer.folded.ordering.mirrored_layers import MirroredLayers

RADII: Final = {3: 60, 4: 60, 6: 60, 8: 80, 11: 160, 16: 320}
"""How many creases lie between a crease unlike its image and the layers that are free with it, at most; and
after how many contradictions one is left as it is."""

MISSES: Final = 6
"""Creases left open in a row with all layers free, after which neighbourhoods are looked at."""

MANY_OVERLAPS: Final = 2_000_000
"""Pairs of layers that overlap above which the search begins with neighbourhoods: of 4 million, what must hold
of all takes 20 s to gather, and two minutes and 8 GB for the solver in compiled code, which then looks at
neighbourhoods alone."""

FEW_LAYERS: Final = 1000
"""Layers up to which no neighbourhoods are looked at: all together are quicker."""

LEAST_COMPILED: Final = 6
"""The least radius for the solver in compiled code: it spends most of its time on being told what must hold."""

MOST_SEARCHED: Final = 4000
"""Layers above which nothing is searched: what must hold of all, and their overlaps, take too long to gather."""


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


def most_alike(
    layers: MirroredLayers,
    rank: NDArray[np.intp],
    conflicts: int,
    deadline: Deadline,
    progress: Callable[[str], None],
) -> MirroredOrder:
    """Return an order in which no further crease can be folded like its image.

    Where the search ends before it has seen that, or is interrupted, the best order so far.

    Parameters
    ----------
    layers
        Of the folded form, and which are each other's images.
    rank
        (layers,) a valid order.
    conflicts
        Contradictions after which the search with all layers free ends.
    deadline
        When all ends.
    progress
        Called with a few words whenever the neighbourhoods grow.
    """
    if len(rank) > MOST_SEARCHED or deadline.over:
        return MirroredOrder(rank)
    search = AlikeSearch(layers, rank, deadline)
    look = search.compiled if cadical_search.available() else search.by_propagation
    with suppress(KeyboardInterrupt):
        look(conflicts, progress)
    shown = layers.creases_unlike(search.rank) - 2 * int(search.open.sum())
    return MirroredOrder(search.rank, shown)


class AlikeSearch:
    """The best order known, and which creases it folds otherwise than their image.

    Attributes
    ----------
    rank
        (layers,) the order.
    unlike
        (k,) which of the pairs of creases differ.
    refuted
        (k,) of which of them it is shown that they must.
    """

    def __init__(
        self, layers: MirroredLayers, rank: NDArray[np.intp], deadline: Deadline
    ) -> None:
        self.layers, self.rank, self.deadline = layers, rank, deadline
        self.unlike = layers.unlike(rank)
        self.refuted = np.zeros(len(self.unlike), dtype=bool)
        first, second = layers.base.creases[:, 1:].T
        size = (len(rank), len(rank))
        self._beside = coo_array((np.ones(len(first)), (first, second)), size).tocsr()

    @property
    def open(self) -> NDArray[np.bool_]:
        """(k,) of which pairs of creases that differ nothing is shown."""
        return self.unlike & ~self.refuted

    @property
    def left(self) -> str:
        """What is left to decide, in words."""
        return f"{2 * int(self.open.sum())} folds to be like their mirror images"

    def compiled(self, conflicts: int, progress: Callable[[str], None]) -> None:
        """Look at all open pairs of creases with the solver in compiled code."""
        if self._overlaps > MANY_OVERLAPS:
            self.by_neighbourhoods(LEAST_COMPILED, progress)
        else:
            progress(f"layer order, {self.left}, all layers free")
            self.everywhere(conflicts)

    def by_propagation(self, conflicts: int, progress: Callable[[str], None]) -> None:
        """Look at all open pairs of creases with the search of our own."""
        if len(self.rank) > FEW_LAYERS:
            if self._overlaps <= MANY_OVERLAPS:
                progress(f"layer order, {self.left}, all layers free")
                self.first_everywhere()
            self.by_neighbourhoods(0, progress)
        progress(f"layer order, {self.left}, all layers free")
        self.everywhere(conflicts)

    @property
    def _overlaps(self) -> int:
        """Pairs of layers that overlap."""
        return int(np.count_nonzero(self.layers.relations.overlap)) // 2

    def by_neighbourhoods(self, least: int, progress: Callable[[str], None]) -> None:
        """Look at open pairs of creases with few layers free, then with more.

        Parameters
        ----------
        least
            Radius of the first neighbourhoods.
        progress
            Called with a few words before each radius.
        """
        for radius, each in RADII.items():
            if radius >= least:
                progress(f"layer order, {self.left}, layers within {radius} creases free")
                self.through(radius, each)

    def through(self, radius: int, each: int) -> None:
        """Look once at all open pairs, those near each other together.

        Parameters
        ----------
        radius
            Creases between a pair and the layers that are free.
        each
            Contradictions after which a pair is left open.
        """
        seen = np.zeros(len(self.unlike), dtype=bool)
        for row in np.flatnonzero(self.open).tolist():
            if self.open[row] and not seen[row] and not self.deadline.over:
                far = self._distances(row)
                inner = (far[self.layers.pairs] <= radius // 2).all(axis=(1, 2))
                rows = np.flatnonzero(inner & self.open & ~seen)
                seen[rows] = True
                self._look(np.flatnonzero(far <= radius), rows, each)

    def _look(self, free: NDArray[np.intp], rows: NDArray[np.intp], each: int) -> None:
        """Look at open pairs of creases with some layers free."""
        subset = partial(
            maximal_subset, conflicts=each * len(rows), deadline=self.deadline, each=each
        )
        self._gain(free, rows, subset)
        self._refute(free, rows[self.open[rows]], each)

    def first_everywhere(self) -> None:
        """Look at open pairs with all layers free, until some in a row are left open."""
        free, rows = np.arange(len(self.rank)), np.flatnonzero(self.open)
        self._gain(free, rows, partial(first_gains, misses=MISSES, deadline=self.deadline))

    def everywhere(self, conflicts: int) -> None:
        """Look at all open pairs with all layers free, until so many contradictions are met."""
        free, rows = np.arange(len(self.rank)), np.flatnonzero(self.open)
        self._gain(
            free, rows, partial(maximal_subset, conflicts=conflicts, deadline=self.deadline)
        )

    def _distances(self, row: int) -> NDArray[np.float64]:
        """Return (layers,) how many creases lie between each layer or its image and a pair of creases."""
        start = np.unique(self.layers.pairs[row])
        far = dijkstra(
            self._beside, directed=False, unweighted=True, indices=start, limit=max(RADII)
        ).min(axis=0)
        nearest: NDArray[np.float64] = np.minimum(far, far[self.layers.image])
        return nearest

    def _refute(self, free: NDArray[np.intp], rows: NDArray[np.intp], each: int) -> None:
        """Note which pairs of creases cannot be alike, as some layers by themselves show."""
        if self.deadline.over or not len(rows):
            return
        conditions = pair_conditions(self.layers.relations.among(free))
        asked, literals, apart = self._asked(conditions, self._numbers(free), rows)
        self.refuted[rows[~apart]] = True
        wish = wish_of(asked, self.rank[free].astype(float))
        search = incremental_search(asked, wish, self.deadline)
        for literal, row in zip(literals.tolist(), rows[apart].tolist(), strict=True):
            search.run(each * search.pace, [literal])
            if search.refuted is not None:
                self.refuted[row] = True
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
        relations, held = self.layers.relations.around(free)
        layers = np.concatenate([free, held])
        place = np.argsort(np.argsort(self.rank[layers]))
        conditions = pair_conditions(relations, len(free) + np.argsort(self.rank[held]))
        asked, literals, apart = self._asked(conditions, self._numbers(layers), rows)
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
            self.refuted[rows[~apart]] = True
            self.refuted[rows[apart][np.isin(literals, (FALSE, *most.refuted))]] = True

    def _asked(
        self,
        conditions: PairConditions | None,
        number: NDArray[np.intp],
        rows: NDArray[np.intp],
    ) -> tuple[PairConditions, NDArray[np.intp], NDArray[np.bool_]]:
        """Return the conditions with all alike that are, and literals that open pairs of creases be so.

        And which of these have one: the others can only be opposite.
        """
        inside = (number[self.layers.pairs] >= 0).all(axis=(1, 2))
        alike = np.flatnonzero(inside & ~self.unlike)
        # what is asked holds of the order that is known
        assert conditions is not None
        joined = conditions.with_equal(*self.layers.valleys(conditions, alike, number).T)
        assert joined is not None
        pairs = self.layers.valleys(joined, rows, number)
        apart = pairs[:, 0] >> 1 != pairs[:, 1] >> 1
        return *joined.with_preferred(*pairs[apart].T), apart

    def _numbers(self, layers: NDArray[np.intp]) -> NDArray[np.intp]:
        number = np.full(len(self.rank), -1)
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
        below = np.zeros((len(self.rank),) * 2, dtype=bool)
        below[np.ix_(layers, layers)] = (most.rank[:, None] < most.rank) & overlap
        held = np.setdiff1d(np.arange(len(self.rank)), free)
        held = held[np.argsort(self.rank[held])]
        below[np.ix_(held, held)] = False
        below[held[:-1], held[1:]] = True
        rank = ranks(below)
        if rank is None or not self.layers.valid(rank):
            return False
        unlike = self.layers.unlike(rank)
        # seen from a root beside the mirror line a crease may be among the free layers and its image not
        if (unlike & ~self.unlike).any():
            return False
        self.rank, self.unlike = rank, unlike
        return True
