"""Truth of unknowns under two kinds of conditions, by unit propagation and clause learning.

A literal is twice an unknown's number, plus one for its opposite. Some say of two layers that the first
is below the second: of any three, what is below one is below all above it. Others stand in sums, of
which an even, or an odd, number is true. Unknowns are decided one by one, as they are wished or as they
were last, with what follows from each. Where they contradict, the decisions that did it become a clause,
which is kept: not all of them again (J. Marques-Silva and K. Sakallah, "GRASP: a search algorithm for
propositional satisfiability", IEEE Trans. Comput. 48, 1999; clauses watched by two literals as in
M. Moskewicz et al., "Chaff", DAC 2001). After some contradictions the search begins anew with the
unknowns that took part in most (restarts: C. Gomes, B. Selman and H. Kautz, AAAI 1998; ever longer
ones: T. Walsh, IJCAI 1999). What is taken back is decided as it was when its turn comes again (phase
saving: K. Pipatsrisawat and A. Darwiche, "A lightweight component caching scheme for satisfiability
solvers", SAT 2007). With each beginning all are decided again, in turns, as they were when most were
decided without contradiction, and as they are wished (rephasing, as in A. Biere, K. Fazekas, M. Fleury
and M. Heisinger, "CaDiCaL, Kissat, Paracooba, Plingeling and Treengeling entering the SAT Competition
2020"). Those that are decided before all others are always decided as they are wished.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.deadline import Deadline
from packer.folded.decisions import Decisions
from packer.folded.transitivity import KnownPairs, rows_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

RESTART: Final = 30
"""Contradictions after which a search first begins anew with the unknowns that contradicted each other."""

GROWTH: Final = 1.2
"""By what factor there are more of them before the next beginning."""


@dataclass(frozen=True, eq=False)
class OrderConditions:
    """What must hold. The unknown 0 is true.

    Attributes
    ----------
    unknowns
        (u,) numbers of the unknowns to decide.
    below
        (n, n) the literal that says that a layer is below another, its opposite across the diagonal;
        -1 where none does.
    fixed
        (n, n) which layers are below which from the outset, in a valid order.
    sums
        (s, 4) literals of which an even number is true, an odd number where `odd`.
    odd
        (s,) of the sums.
    first
        Unknowns that are decided before all others, in this order. Where a search ends in an answer, one
        of them that is not as wished follows from those before it that are, so that the answer is
        the best in that order (E. Di Rosa, E. Giunchiglia and M. Maratea, "Solving satisfiability
        problems with preferences", Constraints 15, 2010).
    """

    unknowns: NDArray[np.intp]
    below: NDArray[np.integer]
    fixed: NDArray[np.bool_]
    sums: NDArray[np.intp]
    odd: NDArray[np.bool_]
    first: tuple[int, ...] = ()


class PropagationSearch:
    """Unknowns decided one by one, with what follows from each.

    All conditions of the unknowns just set are looked at in one step (unit propagation on arrays). A search
    can be run again with other literals assumed: what it has learned stays true (incremental search:
    N. Eén and N. Sörensson, "Temporal induction by incremental SAT solving", ENTCS 89, 2003).

    Attributes
    ----------
    exhausted
        Whether all was seen, so that nothing fulfils the conditions.
    refuted
        The first literal assumed in the last run of which it was shown that it is false if those before
        it are true; None where that was shown of none.
    conflicts
        Contradictions met in all runs.
    """

    def __init__(
        self,
        conditions: OrderConditions,
        wish: NDArray[np.floating],
        deadline: Deadline | None = None,
    ) -> None:
        self.deadline = deadline or Deadline.after()
        self.exhausted = False
        self.refuted: int | None = None
        self.conflicts = 0
        count = len(wish)
        # for each literal 1 where it is true, -1 where it is false, 0 where it is not decided
        self.truth = np.zeros(2 * count, dtype=np.int8)
        self.pairs = KnownPairs(conditions.below, count, conditions.fixed)
        self.sum_first, self.sums, self.odd = _by_unknown(
            conditions.sums, conditions.odd, count
        )
        self.decisions = Decisions(conditions.unknowns, conditions.first, wish)
        # for each unknown whether it is decided to be false: now, as wished, and as in the longest trail;
        # and whether that never changes
        self.phase, self.wished, self.longest = wish < 0, wish < 0, wish < 0
        self.most_decided, self.beginnings = 0, 0
        self.kept = np.zeros(count, dtype=bool)
        self.kept[list(conditions.first)] = True
        # for each unknown how many decisions it follows from, and up to three unknowns that told it
        self.level = np.zeros(count + 1, dtype=np.intp)
        self.told_by = np.full((count + 1, 3), count, dtype=np.intp)
        self.last = np.zeros(count, dtype=np.intp)
        self.trail: list[int] = []
        self.begun: list[int] = []
        self.clauses: list[list[int]] = []
        self.clause_of: dict[int, int] = {}
        self.watched: dict[int, list[int]] = {}

        self.set_true([0])

    def set_true(self, literals: Iterable[int]) -> None:
        """Let literals be true in all later runs."""
        self._back(0)
        start = len(self.trail)
        for literal in literals:
            if self.truth[literal] < 0:
                self.exhausted = True
            elif not self.truth[literal]:
                self._set(literal)
        if self._follow(start) is not None:
            self.exhausted = True

    def run(self, conflicts: int, assumed: Sequence[int] = ()) -> NDArray[np.int8] | None:
        """Return (count,) 1 or -1 for every unknown decided, 0 elsewhere; None where none was found.

        Parameters
        ----------
        conflicts
            Contradictions after which this run ends.
        assumed
            Literals that are to be true in this run.
        """
        self._back(0)
        self.refuted = None
        most, restart = self.conflicts + conflicts, float(RESTART)
        begin_at = self.conflicts + int(restart)
        wrong: NDArray[np.intp] | None = None
        while not self.exhausted and self.conflicts < most and not self.deadline.over:
            if wrong is not None:
                self.exhausted = not self.begun
                if self.begun:
                    self.conflicts += 1
                    wrong = self._learn(wrong)
                continue
            if self.conflicts >= begin_at:
                self._begin_anew()
                restart *= GROWTH
                begin_at = self.conflicts + int(restart)
            literal = self._next(assumed)
            if literal is None:
                return self._answer()
            self.begun.append(len(self.trail))
            self._set(literal)
            wrong = self._follow(len(self.trail) - 1)
        return None

    def _next(self, assumed: Sequence[int]) -> int | None:
        """Return the literal to be true next; None where all are decided, or one that is assumed is false."""
        while len(self.begun) < len(assumed):
            literal = assumed[len(self.begun)]
            if not self.truth[literal]:
                return literal
            if self.truth[literal] < 0:
                self.refuted = literal
                return None
            self.begun.append(
                len(self.trail)
            )  # true already: a decision from which nothing follows
        var = self.decisions.following(self.truth)
        return None if var < 0 else 2 * var + int(self.phase[var])

    def _answer(self) -> NDArray[np.int8] | None:
        """Return the truth of all unknowns, as which they are decided in later runs; None where one is refuted."""
        if self.refuted is not None:
            return None
        truth = self.truth[::2].copy()
        free = (truth != 0) & ~self.kept
        self.wished[free] = self.longest[free] = truth[free] < 0
        self.most_decided = 0
        return truth

    def _begin_anew(self) -> None:
        """Take back all decisions, and let unknowns be as in the longest trail, or as wished."""
        self._back(0)
        self.beginnings += 1
        phase = self.longest if self.beginnings % 2 else self.wished
        self.phase = np.where(self.kept, self.phase, phase)

    def _set(self, literal: int) -> None:
        self.truth[literal], self.truth[literal ^ 1] = 1, -1
        self.level[literal >> 1] = len(self.begun)
        self.trail.append(literal >> 1)

    def _back(self, level: int) -> None:
        """Take back all decisions but so many, and what followed from them."""
        if len(self.begun) <= level:
            return
        start = self.begun[level]
        taken = np.array(self.trail[start:], dtype=np.intp)
        free = taken[~self.kept[taken]]
        self.phase[free] = self.truth[2 * free] < 0
        self.pairs.clear(self._true(taken))
        self.truth[2 * taken] = self.truth[2 * taken + 1] = 0
        self.told_by[taken] = len(self.phase)
        self.decisions.taken_back(taken)
        for var in self.trail[start:]:
            self.clause_of.pop(var, None)
        del self.trail[start:], self.begun[level:]

    def _true(self, unknowns: NDArray[np.intp]) -> NDArray[np.intp]:
        """Return the literals of decided unknowns that are true."""
        return 2 * unknowns + (self.truth[2 * unknowns] < 0)

    def _learn(self, wrong: NDArray[np.intp]) -> NDArray[np.intp] | None:
        """Keep what contradicted as a clause, go back to where it tells something and follow it.

        The clause is that of the first unique implication point: one literal of the last decision's
        level, the others of earlier ones. Returns the unknowns that contradict each other next.
        """
        if len(self.trail) > self.most_decided:
            self.most_decided, decided = len(self.trail), np.array(self.trail, dtype=np.intp)
            self.longest = self.phase.copy()
            self.longest[decided] = self.truth[2 * decided] < 0
        seen: set[int] = set()
        earlier: list[int] = []
        open_ones, at, cause = 0, len(self.trail), wrong.tolist()
        while True:
            for var in cause:
                if var not in seen and self.level[var]:
                    seen.add(var)
                    if self.level[var] == len(self.begun):
                        open_ones += 1
                    else:
                        earlier.append(var)
            at -= 1
            while self.trail[at] not in seen:
                at -= 1
            open_ones -= 1
            if not open_ones:
                break
            cause = self._cause(self.trail[at])
        self.decisions.blame(seen)
        earlier = [var for var in earlier if not self._implied(var, seen)]
        earlier.sort(key=lambda var: -self.level[var])
        clause = [2 * var + int(self.truth[2 * var] > 0) for var in (self.trail[at], *earlier)]
        self._back(int(self.level[earlier[0]]) if earlier else 0)
        if earlier:
            for literal in clause[:2]:
                self.watched.setdefault(literal, []).append(len(self.clauses))
            self.clause_of[clause[0] >> 1] = len(self.clauses)
            self.clauses.append(clause)
        self._set(clause[0])
        return self._follow(len(self.trail) - 1)

    def _implied(self, var: int, seen: set[int]) -> bool:
        """Whether an unknown of a clause follows from others of it, so that it can be left out."""
        cause = self._cause(var)
        return bool(cause) and all(x in seen or not self.level[x] for x in cause)

    def _cause(self, var: int) -> list[int]:
        """Return the unknowns from which one followed."""
        if var in self.clause_of:
            return [x >> 1 for x in self.clauses[self.clause_of[var]] if x >> 1 != var]
        return [x for x in self.told_by[var].tolist() if x < len(self.phase)]

    def _follow(self, start: int) -> NDArray[np.intp] | None:
        """Set what follows from the unknowns set from a place on; return those that contradict."""
        while start < len(self.trail):
            wave = np.array(self.trail[start:], dtype=np.intp)
            start = len(self.trail)
            for told, cause in (self._by_pairs(wave), self._by_sums(wave)):
                wrong = self._take(told, cause)
                if wrong is not None:
                    return wrong
            clause = self._by_clauses(wave)
            if clause is not None:
                return clause
        return None

    def _take(self, told: NDArray[np.intp], cause: NDArray[np.intp]) -> NDArray[np.intp] | None:
        """Set literals that follow from (k, 2) or (k, 3) unknowns; return those that contradict."""
        if not len(told):
            return None
        (fresh,) = (self.truth[told] == 0).nonzero()
        own = told[fresh] >> 1
        # of the same unknown told more than once the last: numpy writes them in their order
        self.last[own] = fresh
        fresh = fresh[self.last[own] == fresh]
        literals = told[fresh]
        self.truth[literals], self.truth[literals ^ 1] = 1, -1
        own = literals >> 1
        self.told_by[own, : cause.shape[1]] = cause[fresh]
        self.level[own] = len(self.begun)
        self.trail += own.tolist()
        (wrong,) = (self.truth[told] < 0).nonzero()
        return np.append(cause[wrong[0]], told[wrong[0]] >> 1) if len(wrong) else None

    def _by_clauses(self, wave: NDArray[np.intp]) -> NDArray[np.intp] | None:
        """Set what follows from clauses; return the unknowns of one that does not hold."""
        for false in (self._true(wave) ^ 1).tolist():
            watching = self.watched.get(false)
            if watching is None:
                continue
            kept: list[int] = []
            for k, number in enumerate(watching):
                clause = self.clauses[number]
                if clause[0] == false:
                    clause[:2] = clause[1::-1]
                if self.truth[clause[0]] <= 0:
                    other = next((x for x in clause[2:] if self.truth[x] >= 0), None)
                    if other is not None:
                        at = clause.index(other, 2)
                        clause[1], clause[at] = other, false
                        self.watched.setdefault(other, []).append(number)
                        continue
                kept.append(number)
                if self.truth[clause[0]] < 0:
                    self.watched[false] = kept + watching[k + 1 :]
                    return np.array([x >> 1 for x in clause], dtype=np.intp)
                if self.truth[clause[0]] == 0:
                    self.clause_of[clause[0] >> 1] = number
                    self._set(clause[0])
            self.watched[false] = kept
        return None

    def _by_pairs(self, wave: NDArray[np.intp]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        """Return the literals that follow from pairs of layers, with (k, 2) the unknowns from which each does.

        Where nothing is decided these are not asked for: what follows then is true for good.
        """
        literals = self._true(wave)
        if self.begun:
            return self.pairs.follow(literals)
        told = self.pairs.told(literals)
        return told, np.zeros((len(told), 2), dtype=np.intp)

    def _by_sums(self, wave: NDArray[np.intp]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        """Return the literals that follow from sums: the last open one, or one that should be another.

        With (k, 3) the unknowns from which each follows.
        """
        rows, _ = rows_of(self.sum_first, wave)
        sums = self.sums[:, rows]
        told = self.truth[sums]
        left = (told == 0).sum(axis=0)
        wrong = ((told > 0).sum(axis=0) + self.odd[rows]) % 2 == 1
        # the last open one; where there is none, another than the wave's, if the number is wrong
        (due,) = ((left == 1) | ((left == 0) & wrong)).nonzero()
        if not len(due):
            return due, np.zeros((0, 3), dtype=np.intp)
        sums, told, wrong = sums[:, due], told[:, due], wrong[due]
        at = np.where(left[due] == 1, (told == 0).argmax(axis=0), 1)
        row = np.arange(len(at))
        literal = sums[at, row]
        closed = told[at, row] != 0
        forced = np.where(closed, literal ^ (told[at, row] > 0), literal ^ ~wrong)
        cause = sums >> 1
        cause[at, row] = cause[0]
        return forced, cause[1:].T


def _by_unknown(
    sums: NDArray[np.intp], odd: NDArray[np.bool_], count: int
) -> tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.bool_]]:
    """Return where the sums of each unknown begin, and (4, 4s) all with their literal in front."""
    turns = np.concatenate([np.roll(sums, k, axis=1) for k in range(4)])
    order = np.argsort(turns[:, 0] >> 1, kind="stable")
    turns = turns[order]
    first = np.searchsorted(turns[:, 0] >> 1, np.arange(count + 1))
    return first, turns.T.copy(), np.tile(odd, 4)[order]
