"""What follows from known pairs of layers: what is below one is below all above it.

There are as many triples as the third power of the layers, so none is written down. For each layer
those known to lie above it and below it are kept as bits, and what two pairs tell of a third is read
off a row of them at once. Which two, is only asked of what is new (lazy explanation, as of the theories
in R. Nieuwenhuis, A. Oliveras and C. Tinelli, "Solving SAT and SAT modulo theories", J. ACM 53, 2006).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

WORD: Final = 64
"""Bits of a word."""


class KnownPairs:
    """Which layers are known to lie below which.

    Parameters
    ----------
    below
        (n, n) the literal that says that a layer is below another, its opposite across the diagonal;
        -1 where none does. One literal may say so of many pairs.
    unknowns
        How many there are; of each two literals, twice its number and one more.
    """

    def __init__(self, below: NDArray[np.integer], unknowns: int) -> None:
        self.literal = below
        lower, upper = np.nonzero(below >= 0)
        said = below[lower, upper]
        order = np.argsort(said, kind="stable")
        self.first = np.searchsorted(said[order], np.arange(2 * unknowns + 1))
        self.lower, self.upper = lower[order], upper[order]
        self.words = -(-len(below) // WORD)
        # for each layer, as bits, those it can be told of, those above it and those below it
        self.told_of = np.zeros((len(below), self.words), dtype="<u8")
        self.above, self.under = self.told_of.copy(), self.told_of.copy()
        self._mark(self.told_of, self.lower, self.upper)

    def follow(self, literals: NDArray[np.intp]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        """Take in literals as true and return what follows from each with the others.

        Returns
        -------
        (k,) array
            Literals that are true as well, or should be.
        (k, 2) array
            The two unknowns from which each follows.
        """
        rows, said = rows_of(self.first, literals)
        i, j = self.lower[rows], self.upper[rows]
        self._mark(self.above, i, j)
        self._mark(self.under, j, i)
        new = np.concatenate(
            [
                self.above[j] & self.told_of[i] & ~self.above[i],
                self.under[i] & self.told_of[j] & ~self.under[j],
            ]
        )
        row, third = _bits(new)
        if not len(row):
            return row, np.zeros((0, 2), dtype=np.intp)
        under = row >= len(rows)
        row = row - len(rows) * under
        # what is above j is above i; what is under i is under j
        near, far = np.where(under, j[row], i[row]), np.where(under, i[row], j[row])
        told = self.literal[near, third] ^ under
        second = self.literal[far, third]
        return told, np.column_stack([said[row], second]) >> 1

    def clear(self, literals: NDArray[np.intp]) -> None:
        """Take literals back."""
        rows, _ = rows_of(self.first, literals)
        i, j = self.lower[rows], self.upper[rows]
        for bits, here, there in ((self.above, i, j), (self.under, j, i)):
            at, bit = self._bit(here, there)
            np.bitwise_and.at(bits.reshape(-1), at, ~bit)

    def _mark(
        self, bits: NDArray[np.uint64], here: NDArray[np.intp], there: NDArray[np.intp]
    ) -> None:
        at, bit = self._bit(here, there)
        np.bitwise_or.at(bits.reshape(-1), at, bit)

    def _bit(
        self, here: NDArray[np.intp], there: NDArray[np.intp]
    ) -> tuple[NDArray[np.intp], NDArray[np.uint64]]:
        """Return where in the rows of one layer each the bit of another is: its word, and itself."""
        bit = np.uint64(1) << (there % WORD).astype(np.uint64)
        return here * self.words + there // WORD, bit


def rows_of(
    first: NDArray[np.intp], numbers: NDArray[np.intp]
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return all rows of some numbers, and the number of each, where each one's rows begin at `first`."""
    count = first[numbers + 1] - first[numbers]
    shift = first[numbers] - np.cumsum(count) + count
    return np.arange(count.sum()) + np.repeat(shift, count), np.repeat(numbers, count)


def _bits(words: NDArray[np.uint64]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return the row and the number of each bit that is set."""
    flat = words.reshape(-1)
    (at,) = flat.nonzero()
    (bits,) = np.unpackbits(flat[at].view(np.uint8), bitorder="little").nonzero()
    row, word = np.divmod(at[bits // WORD], words.shape[1])
    return row, WORD * word + bits % WORD
