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
    fixed
        (n, n) which layers are below which from the outset, such that nothing follows from these pairs
        alone.
    """

    def __init__(
        self, below: NDArray[np.integer], unknowns: int, fixed: NDArray[np.bool_]
    ) -> None:
        self.literal = below
        asked = (below >= 0) & ~fixed & ~fixed.T
        lower, upper = asked.nonzero()
        said = below[lower, upper]
        order = np.argsort(said, kind="stable")
        self.first = np.searchsorted(said[order], np.arange(2 * unknowns + 1))
        self.lower, self.upper = lower[order], upper[order]
        self.words = -(-len(below) // WORD)
        # for each layer, as bits, those it can be told of, those above it and those below it
        self.told_of, self.above, self.under = map(self._packed, (asked, fixed, fixed.T))

    def _packed(self, rows: NDArray[np.bool_]) -> NDArray[np.uint64]:
        """Return (n, words) rows of truths as bits."""
        padded = np.zeros((len(rows), WORD * self.words), dtype=bool)
        padded[:, : rows.shape[1]] = rows
        return np.packbits(padded, axis=1, bitorder="little").view("<u8")

    def follow(self, literals: NDArray[np.intp]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        """Take in literals as true and return what follows from each with the others.

        Returns
        -------
        (k,) array
            Literals that are true as well, or should be.
        (k, 2) array
            The two unknowns from which each follows.
        """
        i, j, said, above, under = self._taken_in(literals)
        row, third = _bits(np.concatenate([above, under]))
        if not len(row):
            return row, np.zeros((0, 2), dtype=np.intp)
        turned = row >= len(said)
        row = row - len(said) * turned
        near, far = np.where(turned, j[row], i[row]), np.where(turned, i[row], j[row])
        told = self.literal[near, third] ^ turned
        second = self.literal[far, third]
        return told, np.column_stack([said[row], second]) >> 1

    def told(self, literals: NDArray[np.intp]) -> NDArray[np.intp]:
        """Take in literals as true for good and return (k,) what follows, not asked from what."""
        i, j, _, above, under = self._taken_in(literals)
        by_above, by_under = self._of_each(i, above), self._of_each(j, under)
        return np.concatenate([by_above, by_under ^ 1])

    def _taken_in(
        self, literals: NDArray[np.intp]
    ) -> tuple[
        NDArray[np.intp],
        NDArray[np.intp],
        NDArray[np.intp],
        NDArray[np.uint64],
        NDArray[np.uint64],
    ]:
        """Take in literals as true and return the pairs of which they say that the first is below the second.

        And the literal of each; and as bits, what is new above the first, since it is above the second,
        and new below the second, since it is below the first.
        """
        rows, said = rows_of(self.first, literals)
        i, j = self.lower[rows], self.upper[rows]
        self._mark(self.above, i, j)
        self._mark(self.under, j, i)
        above = self.above[j] & self.told_of[i] & ~self.above[i]
        under = self.under[i] & self.told_of[j] & ~self.under[j]
        return i, j, said, above, under

    def _of_each(self, layers: NDArray[np.intp], bits: NDArray[np.uint64]) -> NDArray[np.intp]:
        """Return the literals that layers are below those whose bits are set in any of their rows."""
        if not len(layers):
            return layers
        order = np.argsort(layers, kind="stable")
        each, begin = np.unique(layers[order], return_index=True)
        row, third = _bits(np.bitwise_or.reduceat(bits[order], begin, axis=0))
        below: NDArray[np.intp] = self.literal[each[row], third].astype(np.intp)
        return below

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
