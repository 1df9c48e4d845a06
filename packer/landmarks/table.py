"""Everything that short sequences make: all lines and marks of up to three creases on a sheet."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.landmarks.creases import ALL, creases_from, marks_of, same_rows
from packer.landmarks.sequence import edges_of

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    from packer.landmarks.alignments import Lines, Size

MOST: Final = 3
"""Creases beyond which the number of lines grows past use."""


@dataclass(frozen=True, eq=False)
class CreaseTable:
    """All lines that sequences of so many creases make, the edges first.

    Attributes
    ----------
    lines
        (n, 3) each once.
    cost
        (n,) the least number of different creases, itself counted, that each needs.
    needs
        For each line the sets of creases, by number, from which one alignment makes it; only
        the smallest.
    """

    lines: Lines
    cost: NDArray[np.intp]
    needs: tuple[tuple[frozenset[int], ...], ...]


def table(size: Size, depth: int = MOST, kinds: Iterable[int] = ALL) -> CreaseTable:
    """Return all lines of up to `depth` creases.

    Parameters
    ----------
    size
        Width and height of the sheet.
    depth
        Creases, at most `MOST`.
    kinds
        Numbers of the alignments used.
    """
    edges = edges_of(size)
    lines, cost = edges, np.zeros(4, dtype=np.intp)
    needs: list[list[frozenset[int]]] = [[frozenset()] for _ in edges]
    states = [frozenset[int]()]
    for level in range(1, depth + 1):
        made = [_from(state, lines, size, kinds) for state in states]
        rows = np.concatenate([lines, *made])
        head = same_rows(rows, size)
        number = _numbers(head, len(lines))
        start = len(lines)
        lines = rows[np.flatnonzero(head == np.arange(len(head)))]
        cost = np.append(cost, np.full(len(lines) - len(cost), level))
        needs += [[] for _ in range(len(lines) - len(needs))]
        following = set()
        for state, own in zip(states, made, strict=True):
            for line in number[start : start + len(own)].tolist():
                if cost[line] == level:
                    needs[line].append(state)
                if line not in state:
                    following.add(state | {line})
            start += len(own)
        states = sorted(following, key=sorted)
    return CreaseTable(lines, cost, tuple(map(tuple, needs)))


def _from(state: frozenset[int], lines: Lines, size: Size, kinds: Iterable[int]) -> Lines:
    there = lines[[0, 1, 2, 3, *sorted(state)]]
    return creases_from(there, marks_of(there, size).points, size, kinds).lines


def _numbers(head: NDArray[np.intp], known: int) -> NDArray[np.intp]:
    """Return the number of each row's line, counted by first appearance."""
    own = head == np.arange(len(head))
    counted = np.cumsum(own) - 1
    return counted[head]
