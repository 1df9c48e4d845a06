"""A run of layers in their own valid order, put as one block into the order of others.

Needed where the paper holds a river in strands that join towards the root: the tree of molecules
does not reach what lies behind, which is then ordered by itself.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from packer.folded.ordering.rings import Molecules


def with_block(
    molecules: Molecules, order: Sequence[int], block: Sequence[int]
) -> list[int] | None:
    """Return the order with a block put in at the first place where nothing crosses, else None.

    The block is also tried turned over.
    """
    tests = _Tests(molecules, order, block)
    for run in (list(block), list(block)[::-1]):
        at = tests.first_place(run)
        if at is not None:
            return [*order[:at], *run, *order[at:]]
    return None


class _Tests:
    """What of an order and a block could cross each other."""

    def __init__(
        self, molecules: Molecules, order: Sequence[int], block: Sequence[int]
    ) -> None:
        crossings, sides = molecules.crossings, molecules.creases[:, 1:]
        self.count = len(order)
        n = len(molecules.molecule_of)
        self.inside, here = np.zeros(n, dtype=bool), np.zeros(n, dtype=bool)
        self.inside[list(block)] = True
        here[[*order, *block]] = True
        self.place = np.zeros(n, dtype=np.intp)
        self.place[list(order)] = np.arange(len(order))
        # A crease of the block is crossed by no layer outside it, wherever the block lies; one
        # between the two is an axial crease, under all layers.
        rows = np.flatnonzero((here & ~self.inside)[sides].all(axis=1))
        row, layer = np.repeat(rows, len(block)), np.tile(block, len(rows))
        self.crossed = sides[row[crossings.across(row, layer)]]
        tacos = crossings.tacos
        four = np.hstack([sides[tacos[:, 0]], sides[tacos[:, 1]]])
        four = four[here[four].all(axis=1)]
        inside = self.inside[four]
        swap = inside[:, :2].sum(axis=1) < inside[:, 2:].sum(axis=1)
        four = np.where(swap[:, None], four[:, [2, 3, 0, 1]], four)
        inside = self.inside[four]
        # Of each pair of layers those of the block go first.
        for k in (0, 2):
            turn = ~inside[:, k] & inside[:, k + 1]
            four[turn, k : k + 2] = four[turn, k : k + 2][:, ::-1]
        counts = self.inside[four].reshape(-1, 2, 2).sum(axis=2)
        self.one = four[(counts == (1, 0)).all(axis=1)]
        self.both = four[(counts == (1, 1)).all(axis=1)]
        self.three = four[(counts == (2, 1)).all(axis=1)]

    def first_place(self, run: list[int]) -> int | None:
        """Return the first place of the order at which the block crosses nothing."""
        rank, place = np.zeros(len(self.place), dtype=np.intp), self.place
        rank[run] = np.arange(len(run))
        a, b, c = rank[self.three[:, :3]].T
        if ((np.minimum(a, b) < c) & (c < np.maximum(a, b))).any():
            return None
        bad = np.zeros(self.count + 2, dtype=np.intp)
        end = self.count + 1

        def forbid(where: NDArray[np.bool_], low: NDArray[np.intp], high: Any) -> None:
            np.add.at(bad, np.broadcast_to(low, where.shape)[where], 1)
            np.add.at(bad, np.broadcast_to(high, where.shape)[where], -1)

        low, high = np.sort(place[self.crossed], axis=1).T + 1
        forbid(low < high, low, high)
        mate = place[self.one[:, 1]]
        low, high = np.sort(place[self.one[:, 2:]], axis=1).T + 1
        inner = (low <= mate) & (mate < high - 1)
        forbid(~inner, low, high)
        forbid(inner, np.zeros_like(low), low)
        forbid(inner, high, end)
        p, q = place[self.both[:, 1]] + 1, place[self.both[:, 3]] + 1
        a, b = rank[self.both[:, 0]], rank[self.both[:, 2]]
        first, second = np.minimum(p, q), np.maximum(p, q)
        turned = (p < q) == (a < b)  # crossing from beyond both, beside each other from between
        forbid(turned, second, end)
        forbid(turned, np.zeros_like(first), first)
        forbid(~turned, first, second)
        free = np.flatnonzero(np.cumsum(bad)[: self.count + 1] == 0)
        return int(free[0]) if len(free) else None
