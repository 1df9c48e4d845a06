"""As many as can be of some literals true in an order of all layers, from an order that is known.

What is wanted is a maximal satisfiable subset: of each literal that stays false it is shown that it
cannot be true while all others that are stay so. An order with one literal more is searched, again and again,
and with it come, mostly, some others (linear search: J. Marques-Silva, F. Heras, M. Janota,
A. Previti and A. Belov, "On computing minimal correction subsets", IJCAI 2013). Where that takes
too many contradictions, all that are open are assumed at once, and one that cannot be true with those
before it is left out. Then single ones are looked at again, for longer.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from packer.folded.pair_search import (
    MOST_ROUNDS,
    below_of,
    ranks,
    started,
    wish_of,
    with_rings,
)

if TYPE_CHECKING:
    from collections.abc import Iterable

    import numpy as np
    from numpy.typing import NDArray

    from packer.deadline import Deadline
    from packer.folded.pair_conditions import PairConditions
    from packer.folded.propagation import PropagationSearch

CONFLICTS_EACH: Final = 60
"""Contradictions after which one literal is left open at first, by default."""

LONGER: Final = 3
"""By what factor there are more of them the next time."""


@dataclass(frozen=True, eq=False)
class MaximalSubset:
    """An order, and what is known of the literals that are false in it.

    Attributes
    ----------
    rank
        (n,) the place of each layer.
    refuted
        Literals that cannot be true while all those that are stay so.
    open
        Literals of which that was not decided.
    """

    rank: NDArray[np.intp]
    refuted: tuple[int, ...]
    open: tuple[int, ...]


def maximal_subset(
    conditions: PairConditions,
    literals: Iterable[int],
    rank: NDArray[np.intp],
    conflicts: int,
    deadline: Deadline | None = None,
    each: int = CONFLICTS_EACH,
) -> MaximalSubset:
    """Return an order with as many literals true as can be.

    Parameters
    ----------
    conditions
        On pairs of layers.
    literals
        Of unknowns of their own, false in the order that is known.
    rank
        (n,) that order, the place of each layer.
    conflicts
        Contradictions after which the search ends.
    deadline
        When it ends as well.
    each
        Contradictions after which one literal is left open at first.
    """
    grown = _Grown(conditions, list(literals), rank, conflicts, deadline)
    while grown.going_on:
        grown.one_by_one(each, len(grown.open))
        grown.all_at_once(each * len(grown.open))
        each *= LONGER
    return MaximalSubset(grown.rank, tuple(grown.refuted), tuple(grown.open))


def first_gains(
    conditions: PairConditions,
    literals: Iterable[int],
    rank: NDArray[np.intp],
    misses: int,
    deadline: Deadline,
) -> MaximalSubset:
    """Return an order with more literals true, searched for as long as that soon gives some.

    Parameters
    ----------
    conditions, literals, rank, deadline
        As in `maximal_subset`.
    misses
        Literals left open in a row, after which the search ends.
    """
    asked = list(literals)
    grown = _Grown(conditions, asked, rank, CONFLICTS_EACH * len(asked), deadline)
    grown.one_by_one(CONFLICTS_EACH, misses)
    return MaximalSubset(grown.rank, tuple(grown.refuted), tuple(grown.open))


class _Grown:
    """The order and the literals known so far, and a search that keeps what it has learned.

    Attributes
    ----------
    known
        Literals that are true from now on.
    refuted, open
        As in `MaximalSubset`.
    """

    def __init__(
        self,
        conditions: PairConditions,
        literals: list[int],
        rank: NDArray[np.intp],
        conflicts: int,
        deadline: Deadline | None,
    ) -> None:
        self.conditions, self.open, self.rank = conditions, literals, rank
        self.left, self.deadline = conflicts, deadline
        self.known: list[int] = []
        self.refuted: list[int] = []
        self.rings = 0
        self.search = self._started()

    def _started(self) -> PropagationSearch:
        wish = wish_of(self.conditions, self.rank.astype(float))
        search = started(self.conditions, wish, deadline=self.deadline)
        search.set_true(self.known)
        return search

    @property
    def going_on(self) -> bool:
        """Whether there is something left to decide, and time to do it."""
        over = self.deadline is not None and self.deadline.over
        ended = over or self.search.exhausted or self.rings == MOST_ROUNDS
        return bool(self.open) and self.left > 0 and not ended

    def one_by_one(self, each: int, misses: int) -> None:
        """Search for orders with one literal more, with so many contradictions for each.

        Ends where so many in a row are left open.
        """
        missed = 0
        for literal in list(self.open):
            if missed == misses:
                return
            if literal not in self.open or not self.going_on:
                continue
            if self._run(each, [literal]):
                missed = 0
            else:
                self.open.remove(literal)
                if self.search.refuted is None:
                    self.open.append(literal)
                    missed += 1
                else:
                    self.refuted.append(literal)
                    self.known.append(literal ^ 1)

    def all_at_once(self, conflicts: int) -> None:
        """Search for an order with all open literals but those that contradict the ones before them.

        Where one is left out, those after it that had been are assumed again: it may have been
        what they contradicted.
        """
        order, left_out = list(self.open), set[int]()
        end = self.left - conflicts
        while self.going_on and self.left > end:
            assumed = [x for x in order if x not in left_out]
            if not assumed or self._run(self.left - end, assumed):
                self.refuted += self.open
                self.open.clear()
            elif self.search.refuted is None:
                break
            else:
                at = order.index(self.search.refuted)
                left_out = left_out.intersection(order[:at]) | {order[at]}
        self.open.sort(key=left_out.__contains__)

    def _run(self, conflicts: int, assumed: list[int]) -> bool:
        """Whether an order was found in which all literals assumed are true."""
        before = self.search.conflicts
        truth = self.search.run(min(conflicts, self.left), assumed)
        self.left -= self.search.conflicts - before
        if truth is None:
            return False
        below = below_of(self.conditions, truth)
        rank = ranks(below)
        if rank is None:
            self.rings += 1
            self.conditions = with_rings(self.conditions, below)
            self.search = self._started()
            return False
        self.rank = rank
        more = [x for x in self.open if (truth[x >> 1] > 0) != (x & 1)]
        self.known += more
        self.open = [x for x in self.open if x not in more]
        self.search.set_true(more)
        return True
