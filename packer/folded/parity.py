"""Which unknowns are equal since sums of them are even: linear algebra over the field of two elements.

A search that learns clauses needs exponentially many steps for what a few additions show (A. Urquhart,
"Hard examples for resolution", J. ACM 34, 1987, from memory). Two unknowns are equal in all solutions if
both are the same sum of free unknowns. In place of these sums, which may be long, a random number stands for each
free unknown, and two sums are the same if their numbers are (R. Freivalds, "Fast probabilistic
algorithms", MFCS 1979, from memory): wrong for one pair with a probability of 2 to the power of -128.
"""

from __future__ import annotations

from heapq import heapify, heappop, heappush
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.folded.pair_conditions import FALSE, TRUE

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.deadline import Deadline

BYTES: Final = 16
"""Of the random numbers."""


def equal_by_parity(
    sums: NDArray[np.intp], odd: NDArray[np.bool_], deadline: Deadline
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return (k,) literals and (k,) others that equal them in all solutions.

    True and false are among them where there is no solution. Where the elimination does not end in
    time, those that follow from the part that was done.

    Parameters
    ----------
    sums
        (s, 4) literals of which an even number is true, an odd number where `odd`.
    odd
        (s,) of the sums.
    deadline
        When the elimination ends.
    """
    rows = [_row(*row) for row in zip(sums.tolist(), odd.tolist(), strict=True)]
    unknowns = {unknown for row in rows for unknown in row} - {0}
    rng = np.random.default_rng(0)
    value = {x: 2 * int.from_bytes(rng.bytes(BYTES), "big") for x in sorted(unknowns)}
    value[0] = 1
    for unknown, row in reversed(_eliminated(rows, deadline)):
        value[unknown] = 0
        for other in row - {unknown}:
            value[unknown] ^= value[other]
    known = {0: FALSE}
    pairs = [(TRUE, FALSE)] if {0} in rows else []
    for unknown in sorted(unknowns):
        number, turned = divmod(value[unknown], 2)
        literal = 2 * unknown + turned
        if known.setdefault(number, literal) != literal:
            pairs.append((literal, known[number]))
    literals = np.array(pairs, dtype=np.intp).reshape(-1, 2)
    return literals[:, 0], literals[:, 1]


def _row(literals: list[int], odd: bool) -> set[int]:
    """Return the unknowns of which an even number is true, the unknown 0 always being so."""
    row = {0} if odd else set()
    for literal in literals:
        # an opposite counts as one and its unknown
        row ^= {literal >> 1}
        if literal & 1:
            row ^= {0}
    return row


def _eliminated(rows: list[set[int]], deadline: Deadline) -> list[tuple[int, set[int]]]:
    """Return unknowns, each with a row that tells it from unknowns that are told later or never.

    Unknowns in fewest rows come first, told by the shortest of these, so that rows stay short
    (H. Markowitz, "The elimination form of the inverse", Management Science 3, 1957, from memory).
    The rows are changed.
    """
    holding: dict[int, set[int]] = {}
    for number, row in enumerate(rows):
        for unknown in row - {0}:
            holding.setdefault(unknown, set()).add(number)
    queue = [(len(numbers), unknown) for unknown, numbers in holding.items()]
    heapify(queue)
    told = []
    while queue and not deadline.over:
        count, unknown = heappop(queue)
        numbers = holding[unknown]
        if len(numbers) == count:
            pivot = min(numbers, key=lambda number: (len(rows[number]), number))
            told.append((unknown, rows[pivot]))
            changed = _added(rows, holding, pivot, numbers - {pivot})
        else:
            changed = {unknown}
        for x in changed:
            if holding[x]:
                heappush(queue, (len(holding[x]), x))
    return told


def _added(
    rows: list[set[int]], holding: dict[int, set[int]], pivot: int, others: set[int]
) -> set[int]:
    """Add a row to others, and take it out of `holding`, the rows of each unknown; return its unknowns."""
    unknowns = rows[pivot] - {0}
    for x in unknowns:
        holding[x].discard(pivot)
        for number in others:
            if x in rows[number]:
                holding[x].discard(number)
            else:
                holding[x].add(number)
    for number in others:
        rows[number] ^= rows[pivot]
    return unknowns
