"""Creases folded like their images, first in an order of few layers, then of more, by the solver in compiled code.

Layers near the creases that differ from their images are looked at by themselves, with all others left
out: what must hold is relaxed. Where they have no order in which a crease is alike while those that
are alike stay so, all layers have none. Else that order is the one near which the next is looked for, of
more layers (solution-guided search: J. C. Beck, "Solution-guided multi-point constructive search for
job shop scheduling", JAIR 29, 2007, from memory), until all layers are there, or the others can keep the order that
is known. What the solver has learned from few layers stays true of more.

An order of all layers that is far from the known one is found so where one that is looked for with all
layers at once is not: in it thousands of pairs change together.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.folded.cadical_search import CadicalSearch
from packer.folded.ordering.known_order import FEW_LAYERS
from packer.folded.pair_conditions import FALSE, TRUE, pair_conditions
from packer.folded.pair_search import MOST_ROUNDS, ranks, wish_of, with_rings
from packer.folded.parity import equal_by_parity

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from numpy.typing import NDArray

    from packer.deadline import Deadline
    from packer.folded.ordering.known_order import KnownOrder

DISTANCES: Final = (2, 4, 6, 8, 11, 16, 23, 32, 45, 64, math.inf)
"""How many creases lie between a crease unlike its image and the layers that are looked at, at most."""

FINE_DISTANCES: Final = (*range(15), 16, 18, 20, 23, 27, 32, 38, 45, 54, 64, math.inf)
"""The same where one question is asked by itself."""

FEW_OVERLAPS: Final = 2_000_000
"""Pairs of layers that overlap up to which parity is looked at among all at the outset, and all questions are
asked of all layers: of 4 million the one takes half a minute, the other two."""

CONFLICTS_TOGETHER: Final = 1000
"""Contradictions after which a question is left open among so many layers, where all are asked in one search."""

MOST_TOGETHER: Final = 10_000
"""The same up to which all are asked again of all layers, for longer, before each is asked by itself."""

CONFLICTS_ALONE: Final = 100_000
"""The same at first where each question is asked by itself, of few layers again: what others are about does
not come in its way there."""

TRIED_LONGER: Final = 3
"""By what factor there are more contradictions the next time."""


class GrowingSearch:
    """A search for orders in which more creases are like their images.

    Creases of which parity shows that they are alike only together are one question.

    Parameters
    ----------
    known
        The order that is known, which becomes better.
    conflicts
        Contradictions after which the search ends.
    deadline
        When it ends as well.
    progress
        Called with a few words whenever there are more layers.
    """

    def __init__(
        self,
        known: KnownOrder,
        conflicts: int,
        deadline: Deadline,
        progress: Callable[[str], None],
    ) -> None:
        self.known, self.left = known, conflicts
        self.deadline, self.progress = deadline, progress
        rows = np.flatnonzero(known.open)
        asked = known.asked(pair_conditions(known.layers.relations), rows)
        self.conditions, self.literals, apart = asked
        known.refuted[rows[~apart]] = True
        self.rows = rows[apart]
        self.rounds = 0
        self.few = known.overlaps <= FEW_OVERLAPS
        if self.few:
            self.join_by_parity(np.ones(len(self.conditions.sums), dtype=bool))

    def run(self) -> None:
        """Ask all questions together, then each by itself, for ever longer."""
        _Growth(self, self.rows, CONFLICTS_TOGETHER).together()
        most = self.left
        each = min(CONFLICTS_ALONE, most)
        while self.going_on and each <= most:
            questions = self.questions(self.rows)
            for rows in [self.rows[self.literals == question] for question in questions]:
                _Growth(self, rows, each).anew()
                _Growth(self, rows, each).thoroughly()
            each *= TRIED_LONGER

    @property
    def going_on(self) -> bool:
        """Whether there is something left to decide, and time to do it."""
        ended = self.deadline.over or self.rounds == MOST_ROUNDS
        return bool(self.known.open.any()) and self.left > 0 and not ended

    def questions(self, rows: NDArray[np.intp]) -> NDArray[np.intp]:
        """Return the different literals of some pairs of creases that are open, that of most pairs first."""
        open_ = self.known.open[self.rows] & np.isin(self.rows, rows)
        different, count = np.unique(self.literals[open_], return_counts=True)
        return different[np.argsort(-count, kind="stable")]

    def settle(self) -> None:
        """Let what has been decided hold."""
        decided = ~self.known.open[self.rows]
        value = np.where(self.known.unlike[self.rows], FALSE, TRUE)
        self.learn(self.literals[decided], value[decided])

    def join_by_parity(self, sums: NDArray[np.bool_]) -> None:
        """Join what is equal since some sums of it are even, and so questions that are one."""
        even = self.conditions.sums[sums], self.conditions.odd[sums]
        self.learn(*equal_by_parity(*even, self.deadline))

    def learn(self, one: NDArray[np.intp], other: NDArray[np.intp]) -> None:
        """Let literals equal others, as they do in the order that is known."""
        joined = self.conditions.with_equal(one, other)
        assert joined is not None
        self.conditions = joined
        self.literals = joined.stands_for[self.literals]
        self.known.refuted[self.rows[self.literals == FALSE]] = True

    def learn_ring(self, below: NDArray[np.bool_]) -> None:
        """Let layers that lie round in a ring, not all of which overlap, be in a row."""
        self.conditions = with_rings(self.conditions, below)
        self.rounds += 1


class _Growth:
    """Questions asked of ever more layers.

    Parameters
    ----------
    whole
        The search of which this is a part.
    rows
        The pairs of creases that are asked for.
    each
        Contradictions after which a question is left open among so many layers.
    """

    def __init__(self, whole: GrowingSearch, rows: NDArray[np.intp], each: int) -> None:
        self.whole, self.known, self.rows, self.each = whole, whole.known, rows, each
        whole.settle()
        self.search = CadicalSearch(whole.conditions, whole.deadline)
        self.known_truth = self._known_truth()
        # of each question the unknowns in which its last answer differs from the order that is known
        self.changed: dict[int, NDArray[np.bool_]] = {}

    def together(self) -> None:
        """Ask all questions of few layers, then of more; of many only until all of so many are left open."""
        few = self.whole.few
        at_once = len(self.known.rank) <= FEW_LAYERS
        for layers in self._ever_more((math.inf,) if at_once else DISTANCES):
            self.search.tell(layers)
            if not few and len(self.whole.questions(self.rows)) > 1:
                self.whole.join_by_parity(self.search.sums_told)
                self.search.learn(self.whole.conditions)
            if not self._answered_any() and not few:
                return
        while self._going_on and self.each * TRIED_LONGER <= MOST_TOGETHER:
            self.each *= TRIED_LONGER
            self._answered_any()

    def anew(self) -> None:
        """Ask in finer steps, with a solver that begins anew with each, until it leaves all open.

        With what it has learned of fewer layers it goes farther from its last answer than it must.
        """
        for layers in self._ever_more(FINE_DISTANCES):
            self.search = CadicalSearch(self.whole.conditions, self.whole.deadline)
            self.search.tell(layers)
            if not self._answered_any():
                break

    def thoroughly(self) -> None:
        """Ask of ever more layers with a solver that refutes in fewer contradictions, but slowly."""
        conditions, deadline = self.whole.conditions, self.whole.deadline
        self.search = CadicalSearch(conditions, deadline, inprocessing=True)
        for layers in self._ever_more(DISTANCES):
            self.search.tell(layers)
            self._answered_any()

    def _ever_more(self, distances: Iterable[float]) -> Iterator[NDArray[np.bool_]]:
        """Yield (layers,) which are within each distance, where that are more than have been told."""
        far = self.known.distances(self.rows)
        for layers in [far <= distance for distance in distances]:
            if self._going_on and (layers & ~self.search.told).any():
                some = "all" if layers.all() else str(layers.sum())
                self.whole.progress(f"layer order, {self.known.left}, {some} layers")
                yield layers

    @property
    def _going_on(self) -> bool:
        return self.whole.going_on and bool(self.known.open[self.rows].any())

    def _answered_any(self) -> bool:
        """Ask each question once, and return whether any was answered or refuted."""
        answered = False
        for question in self.whole.questions(self.rows).tolist():
            if self._going_on and question in self.whole.questions(self.rows):
                before = self.search.conflicts
                most = min(self.each, self.whole.left)
                truth = self.search.run(question, self._wish(question), most)
                self.whole.left -= self.search.conflicts - before
                if self.search.refuted:
                    asked = self.whole.literals == question
                    self.known.refuted[self.whole.rows[asked]] = True
                    self.search.set_true([question ^ 1])
                elif truth is not None:
                    self._answered(question, truth)
                answered |= self.search.refuted or truth is not None
        return answered

    def _wish(self, question: int) -> NDArray[np.int8]:
        """Return (count,) the order that is known, but as the question's last answer where that is another."""
        changed = self.changed.get(question)
        truth = self.known_truth
        return truth if changed is None else np.where(changed, -truth, truth)

    def _answered(self, question: int, truth: NDArray[np.int8]) -> None:
        """Take over an order of the layers told, all others as they are; else keep it for the next question."""
        told = self.search.told
        below = self.known.rank[:, None] < self.known.rank
        below &= self.known.layers.relations.overlap
        below[np.ix_(told, told)] = self.search.below(truth)
        if self.known.take(below):
            self.known_truth = self._known_truth()
            alike = ~self.known.unlike[self.whole.rows]
            self.search.set_true(np.unique(self.whole.literals[alike]).tolist())
        elif told.all() and ranks(below) is None:
            self.whole.learn_ring(below)
            self.whole.settle()
            self.search = CadicalSearch(self.whole.conditions, self.whole.deadline)
            self.known_truth = self._known_truth()
            self.search.tell(told)
            self.changed.clear()
        else:
            self.changed[question] = (truth != 0) & (truth != self.known_truth)

    def _known_truth(self) -> NDArray[np.int8]:
        """Return (count,) 1 or -1 for each unknown as in the order that is known; 1 for all that may be wished."""
        wish = wish_of(self.whole.conditions, self.known.rank.astype(float))
        return np.append(1, np.where(wish < 0, -1, 1)).astype(np.int8)
