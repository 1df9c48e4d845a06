"""What must hold of each two layers that overlap.

Of two layers that overlap one is below the other: an unknown for each pair, as in H. Akitaya,
E. Demaine and J. Ku, "Simple folding is really hard" (J. Inf. Process. 25, 2017). A crease that lies
across a third layer has both its layers below that or both above it (taco-tortilla): two unknowns are
equal. Of two creases on one line, an even number of the four pairs of a layer of each is in one order
(taco-taco): else their layers alternate. Three layers that overlap pairwise never lie round in a ring
(transitivity). Equal and opposite unknowns are joined; what contradicts itself on the way is a proof
that no order is there, and so is a search that has seen all (`packer.folded.pair_search`).
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Final

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from packer.folded.layer_relations import LayerRelations

TRUE: Final = 0
FALSE: Final = 1
"""Literals of the unknown 0, which is always true."""

AT_A_TIME: Final = 1_000_000
"""Triples of layers looked at together, which bounds the memory."""


@dataclass(frozen=True, eq=False)
class PairConditions:
    """What must hold of all pairs of layers that overlap, equal and opposite unknowns joined.

    A literal is twice an unknown's number, plus one for its opposite. Unknown 0 is always true; the
    others say of the two layers of a pair that the first is below the second.

    Attributes
    ----------
    literal
        (n, n) the literal that says that a layer is below another; -1 where they do not overlap.
    stands_for
        (2 * unknowns,) for each literal the one that stands for all that equal it.
    sums
        (s, 4) literals of different unknowns, `FALSE` in empty places, of which an even number is
        true; an odd number where `odd`.
    odd
        (s,) of the sums.
    creases
        (c, 2) the two layers at each crease.
    """

    literal: NDArray[np.int32]
    stands_for: NDArray[np.intp]
    sums: NDArray[np.intp]
    odd: NDArray[np.bool_]
    creases: NDArray[np.intp]

    def with_equal(
        self, one: NDArray[np.intp], other: NDArray[np.intp]
    ) -> PairConditions | None:
        """Return the conditions with literals equal to others; None where they contradict that.

        Parameters
        ----------
        one, other
            (k,) literals.
        """
        stands_for, sums, odd = self.stands_for, self.sums, self.odd
        pairs = np.nonzero(np.triu(self.literal > FALSE)) if len(one) else ()
        while len(one):
            joined = _joined(stands_for, one, other)
            if joined is None:
                return None
            before, stands_for = stands_for, joined
            changed = (stands_for[sums] != sums).any(axis=1)
            rows, turned, *by_sums = _short_sums(stands_for[sums[changed]], odd[changed])
            sums = np.concatenate([sums[~changed], rows])
            odd = np.concatenate([odd[~changed], turned])
            by_triples = _short_triples(before, stands_for, self.literal, *pairs)
            one = np.concatenate([by_sums[0], by_triples[0]])
            other = np.concatenate([by_sums[1], by_triples[1]])
        return replace(self, stands_for=stands_for, sums=sums, odd=odd)

    def with_even(self, literals: NDArray[np.intp]) -> PairConditions | None:
        """Return the conditions with more sums; None where they contradict that.

        Parameters
        ----------
        literals
            (k, 4) literals of which an even number is true.
        """
        sums, odd, one, other = _short_sums(
            self.stands_for[literals], np.zeros(len(literals), dtype=bool)
        )
        return replace(
            self,
            sums=np.concatenate([self.sums, sums]),
            odd=np.concatenate([self.odd, odd]),
        ).with_equal(one, other)

    def with_preferred(
        self, one: NDArray[np.intp], other: NDArray[np.intp]
    ) -> tuple[PairConditions, NDArray[np.intp]]:
        """Return the conditions with an unknown for each two literals that is true where they are equal.

        Parameters
        ----------
        one, other
            (k,) literals of different unknowns.

        Returns
        -------
        PairConditions
            With the new unknowns behind the others.
        (k,) array
            The new unknowns' literals.
        """
        size, count = len(self.stands_for), len(one)
        new = size + 2 * np.arange(count)
        stands_for = np.concatenate([self.stands_for, size + np.arange(2 * count)])
        # An opposite counts as one and its unknown.
        sums = np.column_stack([one & ~1, other & ~1, new, np.full(count, FALSE)])
        rows = np.concatenate([self.sums, sums])
        odd = np.concatenate([self.odd, (one + other) % 2 == 0])
        return replace(self, stands_for=stands_for, sums=rows, odd=odd), new

    def with_pairs(self, layers: NDArray[np.intp]) -> PairConditions:
        """Return the conditions with an unknown more for each two layers of some that do not overlap.

        Parameters
        ----------
        layers
            (k,) layers of which none may lie round in a ring.
        """
        literal = self.literal.copy()
        first, second = np.triu_indices(len(layers), 1)
        first, second = layers[first], layers[second]
        apart = literal[first, second] < 0
        first, second = first[apart], second[apart]
        size = len(self.stands_for)
        literal[first, second] = size + 2 * np.arange(len(first))
        literal[second, first] = literal[first, second] + 1
        stands_for = np.concatenate([self.stands_for, size + np.arange(2 * len(first))])
        return replace(self, literal=literal, stands_for=stands_for)

    @cached_property
    def unknowns(self) -> NDArray[np.intp]:
        """(u,) numbers of the unknowns that are left, each standing for all that equal it."""
        return np.unique(self.stands_for >> 1)

    @cached_property
    def between(self) -> NDArray[np.int32]:
        """(n, n) the literal that says that a layer is below another, joined; -1 where they do not overlap."""
        between = self.stands_for.astype(np.int32)[self.literal]
        between[self.literal < 0] = -1
        return between

    def below(self, first: NDArray[np.intp], second: NDArray[np.intp]) -> NDArray[np.intp]:
        """Return (k,) the literals that say that each first layer is below its second, joined."""
        literal = self.literal[first, second]
        return np.where(literal < 0, -1, self.stands_for[literal])


def pair_conditions(
    relations: LayerRelations, fixed: NDArray[np.intp] | None = None
) -> PairConditions | None:
    """Return what must hold of the pairs of layers of a folded form; None where it contradicts itself.

    Parameters
    ----------
    relations
        Of the layers with each other.
    fixed
        Layers whose order among each other is given and valid, from the lowest on.
    """
    over = relations.overlap
    literal = np.full(over.shape, -1, dtype=np.int32)
    fixed = np.zeros(0, dtype=np.intp) if fixed is None else fixed
    upwards = np.where(np.triu(np.ones((len(fixed),) * 2, dtype=bool)), TRUE, FALSE)
    literal[np.ix_(fixed, fixed)] = np.where(over[np.ix_(fixed, fixed)], upwards, -1)
    pairs = np.argwhere(np.triu(over & (literal < 0), 1))
    first, second = pairs.T
    literal[first, second] = 2 * np.arange(1, len(pairs) + 1)
    literal[second, first] = literal[first, second] + 1
    no_sums = np.zeros((0, 4), dtype=np.intp), np.zeros(0, dtype=bool)
    unknowns = np.arange(2 * len(pairs) + 2)
    start = PairConditions(literal, unknowns, *no_sums, relations.creases)
    joined = start.with_equal(*_taco_tortillas(relations, literal))
    return None if joined is None else joined.with_even(_taco_tacos(relations, literal))


def _taco_tortillas(
    relations: LayerRelations, literal: NDArray[np.int32]
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return literals that are equal: of both layers of a crease and a third that it lies across."""
    row, third = relations.across.T
    first, second = relations.creases[row].T
    pair = np.column_stack([literal[first, third], literal[second, third]]).astype(np.intp)
    one, other = pair[_asked(pair)].T
    return one, other


def _taco_tacos(relations: LayerRelations, literal: NDArray[np.int32]) -> NDArray[np.intp]:
    """Return (k, 4) literals of which an even number is true: layers of two creases on one line."""
    (a, b), (c, d) = (relations.creases[rows].T for rows in relations.aligned.T)
    sums = np.column_stack([literal[a, c], literal[b, c], literal[a, d], literal[b, d]])
    return sums[_asked(sums)].astype(np.intp)


def _asked(literals: NDArray[np.integer]) -> NDArray[np.bool_]:
    """Return which rows of literals are of pairs that overlap, and not all of layers that are fixed."""
    return np.logical_and((literals >= 0).all(axis=1), (literals > FALSE).any(axis=1))


def _joined(
    stands_for: NDArray[np.intp], one: NDArray[np.intp], other: NDArray[np.intp]
) -> NDArray[np.intp] | None:
    """Join literals, and their opposites; None where a literal would equal its opposite."""
    one, other = stands_for[one], stands_for[other]
    one, other = np.append(one, one ^ 1), np.append(other, other ^ 1)
    stands = np.arange(len(stands_for))
    touched = np.zeros(len(stands), dtype=bool)
    touched[one] = touched[other] = True
    literals = np.flatnonzero(touched)
    at = np.zeros_like(stands)
    at[literals] = np.arange(len(literals))
    graph = coo_array((np.ones(len(one)), (at[one], at[other])), 2 * literals.shape)
    _, label = connected_components(graph, directed=False)
    _, first = np.unique(label, return_index=True)
    stands[literals] = literals[first[label]]  # the least of each, since literals are in order
    if (stands[literals] == stands[literals ^ 1]).any():
        return None
    joined: NDArray[np.intp] = stands[stands_for]
    return joined


def _short_triples(
    before: NDArray[np.intp],
    stands_for: NDArray[np.intp],
    literal: NDArray[np.int32],
    lower: NDArray[np.intp],
    upper: NDArray[np.intp],
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return literals that must be equal since one says of two layers, and of the second and a third, how they lie.

    As it says, the first and the third lie. What no literal says of those two is left out, and so
    is what is known. Of two such pairs of layers, of those from `lower` to `upper`, one is new: another
    literal stood for it `before`.
    """
    count = len(literal)
    stood = before[literal[lower, upper]]
    said = stands_for[stood]
    new = said != stood
    grown = np.zeros(len(stands_for), dtype=bool)
    grown[said[new] & ~1] = True
    # one of each two opposites is enough
    said, turn = said & ~1, said % 2 == 1
    lower, upper = np.where(turn, upper, lower), np.where(turn, lower, upper)
    here = grown[said] & (said > TRUE)
    lower, upper, said, new = lower[here], upper[here], said[here], new[here]
    below, above = said * count + lower, said * count + upper
    fresh, old = np.flatnonzero(new), np.flatnonzero(~new)
    equal = [np.zeros(0, dtype=np.intp)]
    for first, second in itertools.chain(
        ((fresh[a], b) for a, b in _equal(above[fresh], below)),
        ((old[b], fresh[a]) for a, b in _equal(below[fresh], above[old])),
    ):
        outer = literal[lower[first], upper[second]]
        one, other = said[first[outer >= 0]], stands_for[outer[outer >= 0]]
        differ = one != other
        equal.append(np.unique(one[differ] * len(stands_for) + other[differ]))
    return np.divmod(np.unique(np.concatenate(equal)), len(stands_for))


def _equal(
    keys: NDArray[np.intp], among: NDArray[np.intp]
) -> Iterator[tuple[NDArray[np.intp], NDArray[np.intp]]]:
    """Yield for each equal two of them the number of the key and its place among the others, some at a time."""
    order = np.argsort(among)
    begin, end = np.searchsorted(among[order], [keys, keys + 1])
    count = end - begin
    for part in np.split(
        np.arange(len(keys)), np.flatnonzero(np.diff(np.cumsum(count) // AT_A_TIME)) + 1
    ):
        number = np.repeat(part, count[part])
        shift = np.repeat(begin[part] - np.cumsum(count[part]) + count[part], count[part])
        yield number, order[shift + np.arange(len(number))]


def _short_sums(
    literal: NDArray[np.intp], odd: NDArray[np.bool_]
) -> tuple[NDArray[np.intp], NDArray[np.bool_], NDArray[np.intp], NDArray[np.intp]]:
    """Return different sums of joined literals, and literals that those of one or two unknowns make equal."""
    unknown = np.sort(literal >> 1, axis=1)
    # An opposite counts as one and its unknown; TRUE, the unknown 0 as it is, counts as one.
    turns = ((literal & 1) != (literal <= FALSE)).sum(axis=1)
    odd = odd ^ (turns % 2 == 1)
    for k in range(3):  # two of the same cancel out
        same = unknown[:, k] == unknown[:, k + 1]
        unknown[same, k] = unknown[same, k + 1] = 0
    unknown = -np.sort(-unknown, axis=1)
    rows = np.unique(np.column_stack([unknown, odd]), axis=0)
    unknown, odd = rows[:, :4], rows[:, 4].astype(bool)
    long = unknown[:, 2] > 0
    short, turned = unknown[~long], odd[~long]
    # x + y is odd: x equals the opposite of y; an empty place is the unknown 0, taken as FALSE.
    one = 2 * short[:, 0] + (short[:, 0] == 0)
    other = (2 * short[:, 1] + (short[:, 1] == 0)) ^ turned
    sums = 2 * unknown[long] + (unknown[long] == 0)
    return sums, odd[long], one, other
