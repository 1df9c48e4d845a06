"""Truth of unknowns under two kinds of conditions, by unit propagation and restarts.

A literal is twice an unknown's number, plus one for its opposite. A ring is three literals that may not
all be equal; a sum is up to four of which an even, or an odd, number is true. Unknowns are decided one
by one, those with the strongest wish first, with what follows from each; where they contradict, the last
decision is turned, and after some contradictions the search begins anew with the unknowns that
contradicted most (restarts: C. Gomes, B. Selman and H. Kautz, "Boosting combinatorial search through
randomization", AAAI 1998; here without chance).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

RESTART: Final = 30
"""Contradictions after which a search begins anew with the unknowns that contradicted each other."""


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
    """

    unknowns: NDArray[np.intp]
    rings: NDArray[np.intp]
    sums: tuple[tuple[tuple[int, ...], int], ...]


class PropagationSearch:
    """Unknowns decided one by one, with what follows from each.

    Rings are kept by unknown, each as the two other literals of the ring, turned so that the unknown
    itself stands in it as it is: where it is true the two may not both be, where it is false one must
    be. So are sums, with a literal that is always false where they are shorter. All conditions of an
    unknown are looked at in one step (unit propagation on arrays).
    """

    def __init__(
        self, conditions: RingsAndSums, wish: NDArray[np.floating], conflicts: int
    ) -> None:
        self.conditions, self.wish, self.conflicts = conditions, wish, conflicts
        count = len(wish)
        # for each literal 1 where it is true, -1 where it is false, 0 where it is not decided
        self.truth = np.zeros(2 * count + 2, dtype=np.int8)
        self.truth[-2:] = -1, 1
        self.blame = np.zeros(count + 1, dtype=np.intp)
        self.ring_first, rings = _by_unknown(conditions.rings, count)
        self.rings = rings[:, 1:] ^ (rings[:, :1] & 1)
        rows = [[*row, *[2 * count] * (4 - len(row)), odd] for row, odd in conditions.sums]
        sums = np.array(rows, dtype=np.intp).reshape(-1, 5)
        self.sum_first, sums = _by_unknown(sums[:, :4], count, sums[:, 4])
        self.sums, self.odd = sums[:, 1:4], sums[:, 4]
        own = conditions.unknowns
        self.order = own[np.argsort(-abs(wish[own]), kind="stable")]

    def run(self) -> NDArray[np.int8] | None:
        """Return (count,) 1 or -1 for every unknown decided, 0 elsewhere; None where none was found."""
        trail: list[int] = []
        units = [row for row in self.conditions.sums if len(row[0]) == 1]
        if not all(self._set(row[0][0] ^ 1 ^ row[1], trail) for row in units):
            return None
        if not self._follow(trail, 0):
            return None
        for _ in range(0, self.conflicts, RESTART):
            start = len(trail)
            end = self._decided(trail, RESTART)
            if end is not None:
                return self.truth[:-2:2].copy() if end else None
            self._back(trail, start)
            self.order = self.order[np.argsort(-self.blame[self.order], kind="stable")]
        return None

    def _decided(self, trail: list[int], conflicts: int) -> bool | None:
        """Decide all; return whether that can be, None where it took too many contradictions."""
        levels: list[tuple[int, int]] = []
        while (var := self._undecided()) >= 0:
            literal = 2 * var + int(self.wish[var] < 0)
            levels.append((len(trail), literal))
            while not self._decide(literal, trail):
                conflicts -= 1
                if not levels:
                    return False
                if conflicts < 0:
                    return None
                start, literal = levels.pop()
                self._back(trail, start)
                literal ^= 1  # follows from what was decided before
        return True

    def _undecided(self) -> int:
        open_ones = self.truth[2 * self.order] == 0
        first = int(open_ones.argmax()) if len(open_ones) else 0
        return int(self.order[first]) if len(open_ones) and open_ones[first] else -1

    def _decide(self, literal: int, trail: list[int]) -> bool:
        start = len(trail)
        return self._set(literal, trail) and self._follow(trail, start)

    def _back(self, trail: list[int], start: int) -> None:
        taken = np.array(trail[start:], dtype=np.intp)
        self.truth[2 * taken] = self.truth[2 * taken + 1] = 0
        del trail[start:]

    def _set(self, literal: int, trail: list[int]) -> bool:
        if self.truth[literal]:
            return bool(self.truth[literal] > 0)
        self.truth[literal], self.truth[literal ^ 1] = 1, -1
        trail.append(literal >> 1)
        return True

    def _follow(self, trail: list[int], start: int) -> bool:
        """Set what follows from the unknowns set last; return False where they contradict."""
        while start < len(trail):
            wave = np.array(trail[start:], dtype=np.intp)
            start = len(trail)
            told = np.concatenate([self._by_rings(wave), self._by_sums(wave)])
            wrong = told[self.truth[told] < 0]
            fresh = np.unique(told[self.truth[told] == 0])
            self.truth[fresh], self.truth[fresh ^ 1] = 1, -1
            trail += np.unique(fresh >> 1).tolist()
            wrong = np.concatenate([wrong, fresh[self.truth[fresh] < 0]])
            if len(wrong):
                self.blame[wrong >> 1] += 1
                return False
        return True

    def _by_rings(self, wave: NDArray[np.intp]) -> NDArray[np.intp]:
        """Return the literals that follow from rings: of two that equal their unknown, the third's opposite."""
        rows, of = _rows(self.ring_first, wave)
        others, own = self.rings[rows], self.truth[2 * of]
        same = self.truth[others] == own[:, None]
        thirds = others[:, ::-1] ^ (own > 0)[:, None]
        forced: NDArray[np.intp] = thirds[same]
        return forced

    def _by_sums(self, wave: NDArray[np.intp]) -> NDArray[np.intp]:
        """Return the literals that follow from sums: the last open one, or one that should be another."""
        rows, of = _rows(self.sum_first, wave)
        others = self.sums[rows]
        told = self.truth[others]
        odd = ((told > 0).sum(axis=1) + (self.truth[2 * of] > 0) + self.odd[rows]) % 2
        last = (told == 0).sum(axis=1) == 1
        forced: NDArray[np.intp] = others[last][told[last] == 0] ^ (1 - odd[last])
        full = (told != 0).all(axis=1) & (odd == 1)
        opposite: NDArray[np.intp] = others[full, 0] ^ (told[full, 0] > 0)
        return np.concatenate([forced, opposite])


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
