"""Truth of unknowns under two kinds of conditions, by unit propagation and clause learning.

A literal is twice an unknown's number, plus one for its opposite. A ring is three literals that may not
all be equal; a sum is up to four of which an even, or an odd, number is true. Unknowns are decided one
by one, those with the strongest wish first, with what follows from each. Where they contradict, the
decisions that did it become a clause, which is kept: not all of them again (J. Marques-Silva and
K. Sakallah, "GRASP: a search algorithm for propositional satisfiability", IEEE Trans. Comput. 48, 1999;
clauses watched by two literals as in M. Moskewicz et al., "Chaff", DAC 2001). After some contradictions
the search begins anew with the unknowns that took part in most (restarts: C. Gomes, B. Selman and
H. Kautz, AAAI 1998; ever longer ones: T. Walsh, IJCAI 1999).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

RESTART: Final = 30
"""Contradictions after which a search first begins anew with the unknowns that contradicted each other."""

GROWTH: Final = 1.2
"""By what factor there are more of them before the next beginning."""

LATER: Final = 1.05
"""How much more an unknown is blamed for the next contradiction than for this one."""


@dataclass(frozen=True)
class RingsAndSums:
    """What must hold.

    Attributes
    ----------
    unknowns
        (u,) numbers of the unknowns to decide.
    rings
        (r, 3) literals that may not all be equal.
    sums
        Up to four literals each, and 1 where an odd number of them is true, else 0.
    first
        Unknowns that are decided before all others, in this order. Where a search ends in an answer, one
        of them that is not as wished follows from those before it that are, so that the answer is
        the best in that order (E. Di Rosa, E. Giunchiglia and M. Maratea, "Solving satisfiability
        problems with preferences", Constraints 15, 2010).
    """

    unknowns: NDArray[np.intp]
    rings: NDArray[np.intp]
    sums: tuple[tuple[tuple[int, ...], int], ...]
    first: tuple[int, ...] = ()


class PropagationSearch:
    """Unknowns decided one by one, with what follows from each.

    Rings are kept by unknown, each as the two other literals of the ring, turned so that the unknown
    itself stands in it as it is: where it is true the two may not both be, where it is false one must
    be. So are sums, with a literal that is always false where they are shorter. All conditions of an
    unknown are looked at in one step (unit propagation on arrays).

    Attributes
    ----------
    exhausted
        Whether a search that found nothing has seen all.
    """

    def __init__(
        self, conditions: RingsAndSums, wish: NDArray[np.floating], conflicts: int
    ) -> None:
        self.conditions, self.wish, self.conflicts = conditions, wish, conflicts
        self.exhausted = False
        count = len(wish)
        # for each literal 1 where it is true, -1 where it is false, 0 where it is not decided
        self.truth = np.zeros(2 * count + 2, dtype=np.int8)
        self.truth[-2:] = -1, 1
        self.ring_first, rings = _by_unknown(conditions.rings, count)
        self.rings = rings[:, 1:] ^ (rings[:, :1] & 1)
        rows = [[*row, *[2 * count] * (4 - len(row)), odd] for row, odd in conditions.sums]
        sums = np.array(rows, dtype=np.intp).reshape(-1, 5)
        self.sum_first, sums = _by_unknown(sums[:, :4], count, sums[:, 4])
        self.sums, self.odd = sums[:, 1:4], sums[:, 4]
        first = np.array(conditions.first, dtype=np.intp)
        self.order = np.concatenate([first, np.setdiff1d(conditions.unknowns, first)])
        # those first ones by their place, the others by how much is wished, then by their blame
        self.blame = abs(wish) / (1 + abs(wish).max()) if count else np.zeros(0)
        self.blame[first] = np.inf
        self.share = 1.0
        # for each unknown how many decisions it follows from, and up to three unknowns that told it
        self.level = np.zeros(count + 1, dtype=np.intp)
        self.told_by = np.full((count + 1, 3), count, dtype=np.intp)
        self.trail: list[int] = []
        self.begun: list[int] = []
        self.clauses: list[list[int]] = []
        self.clause_of: dict[int, int] = {}
        self.watched: dict[int, list[int]] = {}

    def run(self) -> NDArray[np.int8] | None:
        """Return (count,) 1 or -1 for every unknown decided, 0 elsewhere; None where none was found."""
        wrong = self._start()
        left, restart = self.conflicts, float(RESTART)
        until = int(restart)
        while left > 0:
            if wrong is not None:
                if not self.begun:
                    self.exhausted = True
                    return None
                left, until = left - 1, until - 1
                wrong = self._learn(wrong)
                continue
            if until <= 0:
                self._back(0)
                restart *= GROWTH
                until = int(restart)
            var = self._undecided()
            if var < 0:
                return self.truth[:-2:2].copy()
            self.begun.append(len(self.trail))
            self._set(2 * var + int(self.wish[var] < 0))
            wrong = self._follow(len(self.trail) - 1)
        return None

    def _start(self) -> NDArray[np.intp] | None:
        """Set what a sum of one unknown says; return the unknowns that contradict each other."""
        for (literal, *more), odd in self.conditions.sums:
            if not more and self.truth[literal ^ 1 ^ odd] < 0:
                return np.array([literal >> 1])
            if not more and not self.truth[literal]:
                self._set(literal ^ 1 ^ odd)
        return self._follow(0)

    def _undecided(self) -> int:
        """Return the unknown to decide next, -1 where all are decided."""
        open_ones = self.order[self.truth[2 * self.order] == 0]
        return int(open_ones[self.blame[open_ones].argmax()]) if len(open_ones) else -1

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
        self.truth[2 * taken] = self.truth[2 * taken + 1] = 0
        self.told_by[taken] = len(self.wish)
        for var in self.trail[start:]:
            self.clause_of.pop(var, None)
        del self.trail[start:], self.begun[level:]

    def _learn(self, wrong: NDArray[np.intp]) -> NDArray[np.intp] | None:
        """Keep what contradicted as a clause, go back to where it tells something and follow it.

        The clause is that of the first unique implication point: one literal of the last decision's
        level, the others of earlier ones. Returns the unknowns that contradict each other next.
        """
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
        self.blame[list(seen)] += self.share
        self.share *= LATER
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

    def _cause(self, var: int) -> list[int]:
        """Return the unknowns from which one followed."""
        if var in self.clause_of:
            return [x >> 1 for x in self.clauses[self.clause_of[var]] if x >> 1 != var]
        return [x for x in self.told_by[var].tolist() if x < len(self.wish)]

    def _follow(self, start: int) -> NDArray[np.intp] | None:
        """Set what follows from the unknowns set from a place on; return those that contradict."""
        while start < len(self.trail):
            wave = np.array(self.trail[start:], dtype=np.intp)
            start = len(self.trail)
            by_rings, by_sums = self._by_rings(wave), self._by_sums(wave)
            told = np.concatenate([by_rings[0], by_sums[0]])
            cause = np.concatenate([by_rings[1], by_sums[1]])
            fresh, first = np.unique(told, return_index=True)
            free = self.truth[fresh] == 0
            free &= (
                np.diff(fresh >> 1, prepend=-1) > 0
            )  # of two opposites one, the other is wrong
            fresh, first = fresh[free], first[free]
            self.truth[fresh], self.truth[fresh ^ 1] = 1, -1
            own = fresh >> 1
            self.told_by[own] = cause[first]
            self.level[own] = len(self.begun)
            self.trail += own.tolist()
            wrong = np.flatnonzero(self.truth[told] < 0)
            if len(wrong):
                return np.append(cause[wrong[0]], told[wrong[0]] >> 1)
            clause = self._by_clauses(wave)
            if clause is not None:
                return clause
        return None

    def _by_clauses(self, wave: NDArray[np.intp]) -> NDArray[np.intp] | None:
        """Set what follows from clauses; return the unknowns of one that does not hold."""
        for var in wave.tolist():
            false = 2 * var + int(self.truth[2 * var] > 0)
            watching = self.watched.get(false, [])
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
            if watching:
                self.watched[false] = kept
        return None

    def _by_rings(self, wave: NDArray[np.intp]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        """Return the literals that follow from rings: of two that equal their unknown, the third's opposite.

        With (k, 3) the unknowns from which each follows, the last one none.
        """
        rows, of = _rows(self.ring_first, wave)
        others, own = self.rings[rows], self.truth[2 * of]
        same = self.truth[others] == own[:, None]
        thirds = others[:, ::-1] ^ (own > 0)[:, None]
        row, column = np.nonzero(same)
        cause = np.full((len(row), 3), len(self.wish))
        cause[:, 0], cause[:, 1] = of[row], others[row, column] >> 1
        return thirds[row, column], cause

    def _by_sums(self, wave: NDArray[np.intp]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        """Return the literals that follow from sums: the last open one, or one that should be another.

        With (k, 3) the unknowns from which each follows.
        """
        rows, of = _rows(self.sum_first, wave)
        others = self.sums[rows]
        told = self.truth[others]
        odd = ((told > 0).sum(axis=1) + (self.truth[2 * of] > 0) + self.odd[rows]) % 2
        # the last open one; where there is none, the first, if the number is wrong
        count = (told == 0).sum(axis=1)
        due = (count == 1) | ((count == 0) & (odd == 1))
        others, told, odd, of = others[due], told[due], odd[due], of[due]
        at = np.where((told == 0).any(axis=1), (told == 0).argmax(axis=1), 0)
        row = np.arange(len(at))
        literal = others[row, at]
        closed = told[row, at] != 0
        forced = np.where(closed, literal ^ (told[row, at] > 0), literal ^ (1 - odd))
        cause = others >> 1
        cause[row, at] = of
        return forced, cause


def _rows(
    first: NDArray[np.intp], wave: NDArray[np.intp]
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return the rows of all conditions of some unknowns, and the unknown of each row."""
    count = first[wave + 1] - first[wave]
    shift = first[wave] - np.cumsum(count) + count
    return np.arange(count.sum()) + np.repeat(shift, count), np.repeat(wave, count)


def _by_unknown(
    rows: NDArray[np.intp], count: int, kept: NDArray[np.intp] | None = None
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return where the conditions of each unknown begin, and each with its literal in front.

    Literals beyond those of the unknowns have no place of their own; what is kept stands behind.
    """
    width = rows.shape[1]
    turns = np.concatenate([np.roll(rows, k, axis=1) for k in range(width)])
    if kept is not None:
        turns = np.column_stack([turns, np.tile(kept, width)])
    turns = turns[turns[:, 0] < 2 * count]
    turns = turns[np.argsort(turns[:, 0] >> 1, kind="stable")]
    return np.searchsorted(turns[:, 0] >> 1, np.arange(count + 1)), turns
