"""Which unknown a search decides next: those that took part in contradictions before all others."""

from __future__ import annotations

from heapq import heapify, heappop, heappush
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

LATER: Final = 1.25
"""How much more an unknown is blamed for the next contradiction than for this one."""

GREAT: Final = 1e100
"""Weight from which on all are made smaller."""

STEP: Final = 256
"""Unknowns that are looked at together for one that is not decided."""


class Decisions:
    """The order in which unknowns are decided.

    First some in a given order, then those that took part in contradictions, the later ones weighing
    more (N. Eén and N. Sörensson, "An extensible SAT-solver", SAT 2003), then the others, the most
    wished ones first.

    Parameters
    ----------
    unknowns
        (u,) those to decide.
    first
        Some of them, to be decided before all others in this order.
    wish
        (count,) how much each is wished to be true, negative for false.
    """

    def __init__(
        self, unknowns: NDArray[np.intp], first: tuple[int, ...], wish: NDArray[np.floating]
    ) -> None:
        before = np.array(first, dtype=np.intp)
        rest = np.setdiff1d(unknowns, before)
        rest = rest[np.argsort(wish[rest] == 0, kind="stable")]
        self.order, self.before = np.concatenate([before, rest]), len(before)
        self.place = np.full(len(wish), len(self.order))
        self.place[self.order] = np.arange(len(self.order))
        self.at = 0
        self.weight, self.share = np.zeros(len(wish)), 1.0
        self.heap: list[tuple[float, int]] = []

    def following(self, truth: NDArray[np.int8]) -> int:
        """Return the unknown to decide next, -1 where all are decided.

        Parameters
        ----------
        truth
            (2 * count,) for each literal 0 where it is not decided.
        """
        self._pass_decided(truth)
        while self.at >= self.before and self.heap:
            weight, var = self.heap[0]
            if not truth[2 * var] and -weight == self.weight[var]:
                return var
            heappop(self.heap)
        return int(self.order[self.at]) if self.at < len(self.order) else -1

    def blame(self, unknowns: Iterable[int]) -> None:
        """Note those that took part in a contradiction."""
        for var in unknowns:
            self.weight[var] += self.share
            heappush(self.heap, (-float(self.weight[var]), var))
        self.share *= LATER
        if self.share > GREAT:
            self.share /= GREAT
            self.weight /= GREAT
            self.heap = [
                (-float(self.weight[var]), var) for var in np.flatnonzero(self.weight).tolist()
            ]
            heapify(self.heap)

    def taken_back(self, unknowns: NDArray[np.intp]) -> None:
        """Note those that are not decided any more."""
        self.at = int(self.place[unknowns].min(initial=self.at))
        for var in unknowns[self.weight[unknowns] > 0].tolist():
            heappush(self.heap, (-float(self.weight[var]), var))

    def _pass_decided(self, truth: NDArray[np.int8]) -> None:
        while self.at < len(self.order):
            step = self.order[self.at : self.at + STEP]
            free = np.flatnonzero(truth[2 * step] == 0)
            if len(free):
                self.at += int(free[0])
                return
            self.at += len(step)
