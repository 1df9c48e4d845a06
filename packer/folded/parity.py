"""Equations between yes-or-no unknowns: equal, opposite, or an even number of them true.

Most of what keeps the layers of a folded form apart is of that kind; joining unknowns that must
be equal or opposite leaves a tenth of them to search over.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

Literal = int
"""Unknown k as ``2 * k``, its opposite as ``2 * k + 1``."""


class Contradiction(Exception):  # noqa: N818 - a finding about the equations, not an error
    """The equations have no solution."""


class ParityClasses:
    """Unknowns in classes whose members are all equal or opposite to their head."""

    def __init__(self, count: int) -> None:
        self._head = list(range(count))
        self._odd = [0] * count

    def head(self, literal: Literal) -> Literal:
        """Return the literal of the class's head that is equal to a literal."""
        k, odd = literal >> 1, literal & 1
        trail = []
        while self._head[k] != k:
            trail.append(k)
            odd ^= self._odd[k]
            k = self._head[k]
        total = odd ^ (literal & 1)
        for member in trail:  # every member then points at the head itself
            step = self._odd[member]
            self._head[member], self._odd[member] = k, total
            total ^= step
        return 2 * k + odd

    def equate(self, a: Literal, b: Literal) -> bool:
        """Make two literals equal; return whether that was new.

        Raises
        ------
        Contradiction
            Where they are known to be opposite.
        """
        a, b = self.head(a), self.head(b)
        if a == b:
            return False
        if a ^ 1 == b:
            raise Contradiction
        low, high = sorted((a, b))
        self._head[high >> 1] = low >> 1
        self._odd[high >> 1] = (low ^ high) & 1
        return True


@dataclass(frozen=True)
class Even:
    """An even number of these unknowns (heads of classes), or an odd one, is true."""

    unknowns: tuple[int, ...]
    odd: bool


def reduced(classes: ParityClasses, rows: Iterable[tuple[Literal, ...]]) -> tuple[Even, ...]:
    """Return what is left of rows of literals of which an even number must be true.

    Rows in which all but one or two unknowns cancel are used up: the two are joined, until
    nothing changes.

    Raises
    ------
    Contradiction
        Where the rows have no solution, seen by joining alone.
    """
    todo = {tuple(sorted(row)) for row in rows}
    while True:
        left: set[Even] = set()
        joined = False
        for row in sorted(todo):
            equation = _over_heads(classes, row)
            if len(equation.unknowns) == 2:
                a, b = equation.unknowns
                joined |= classes.equate(2 * a, 2 * b + equation.odd)
            elif equation.unknowns:
                left.add(equation)
            elif equation.odd:
                raise Contradiction
        if not joined:
            return tuple(sorted(left, key=lambda e: (e.unknowns, e.odd)))
        todo = {(*(2 * k for k in e.unknowns[:-1]), 2 * e.unknowns[-1] + e.odd) for e in left}


def _over_heads(classes: ParityClasses, row: tuple[Literal, ...]) -> Even:
    count: Counter[int] = Counter()
    odd = False
    for literal in row:
        head = classes.head(literal)
        count[head >> 1] += 1
        odd ^= bool(head & 1)
    return Even(tuple(sorted(k for k, n in count.items() if n % 2)), odd)
