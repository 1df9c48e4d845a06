"""The layer order of any flat state, by propagation over pairs of layers that overlap.

For every two layers that overlap one thing is unknown: which is above. What keeps layers from passing
through each other (`packer.folded.overlaps`) says: two layers that meet at a crease lie on the same
side of a layer that it crosses, so that two unknowns are equal; layers that meet at two creases on one
line do not alternate, so that four unknowns have an even sum; and three layers do not lie above each
other in a ring, which an order of all by rank forbids even where no place has all three. Equal unknowns become one; the rest is decided one by one,
with what follows from each, and taken back where it contradicts itself.
"""

from __future__ import annotations

from collections import Counter
from graphlib import CycleError, TopologicalSorter
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.folded.layers import LayerOrder
from packer.folded.ordering.crossings import Crossings
from packer.folded.overlaps import layers_of, nested, passing
from packer.folded.propagation import PropagationSearch, RingsAndSums

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from packer.creases.pattern import CreasePattern
    from packer.folded.form import FoldedForm
    from packer.folded.overlaps import Layers

MOST_CONFLICTS: Final = 300
"""Contradictions after which a search ends; most orders are found with fewer than ten."""

FOLD_WISH: Final = 3.0
"""What a known mountain or valley weighs beside another order's word on two layers."""

MOST_LAYERS: Final = 280
"""Layers above which none is begun: the triples to look at grow as their third power, to some four
million here."""


def layer_order(
    pattern: CreasePattern,
    form: FoldedForm,
    like: NDArray[np.floating] | None = None,
    conflicts: int = MOST_CONFLICTS,
) -> LayerOrder | None:
    """Return a valid order of the layers of a flat state.

    Parameters
    ----------
    pattern
        The creases; any may be folded. Mountains and valleys that it has are wishes, not conditions.
    form
        Where its faces lie.
    like
        (f,) the faces' places in another order, to be like it where possible.
    conflicts
        Contradictions after which the search ends.

    Returns
    -------
    LayerOrder or None
        None where none was found.
    """
    layers = layers_of(pattern, form)
    count = len(layers.regions)
    if count > MOST_LAYERS:
        return None
    wish = np.arange(count, dtype=float)
    if like is not None:
        wish = np.array([np.median(like[layers.layer_of == k]) for k in range(count)])
    unknowns = _Unknowns(layers, wish, _known(pattern, layers))
    equal = passing(pattern, form, layers)
    even = nested(pattern, form, layers)
    if not unknowns.settled(layers, equal, even):
        return None
    above = PropagationSearch(*unknowns.conditions(), conflicts).run()
    return None if above is None else _checked(pattern, form, layers, unknowns.below(above))


def _checked(
    pattern: CreasePattern, form: FoldedForm, layers: Layers, below: NDArray[np.bool_]
) -> LayerOrder | None:
    """Return the order that (n, n) pairs, lower layer first, give; None where something crosses."""
    sorter = TopologicalSorter(
        {k: np.flatnonzero(below[:, k]).tolist() for k in range(len(below))}
    )
    try:
        order = list(sorter.static_order())
    except CycleError:
        return None
    rank = np.argsort(np.array(order, dtype=np.intp))
    crossings = Crossings(pattern, form, layers.layer_of, layers.creases, layers.flipped)
    if any(len(faults) for faults in crossings.faults(rank)):
        return None
    return LayerOrder(layers, rank)


def _known(pattern: CreasePattern, layers: Layers) -> list[tuple[int, int]]:
    """Return the lower and the upper layer at each crease whose mountain or valley is known."""
    rows = []
    for edge, left, right in layers.creases.tolist():
        fold = pattern.folds[edge]
        if fold in {"M", "V"}:
            up = (fold == "V") != bool(layers.flipped[left])
            rows.append((left, right) if up else (right, left))
    return rows


class _Unknowns:
    """Which of two overlapping layers is above, for all pairs: unknowns, equal or opposite ones joined.

    The unknown of layers i < j is true where i is below j. A literal is twice an unknown's number,
    plus one for its opposite.
    """

    def __init__(
        self, layers: Layers, wish: NDArray[np.floating], known: Sequence[tuple[int, int]]
    ) -> None:
        over = np.triu(layers.overlap, 1)
        self.pairs = np.argwhere(over)
        count = len(self.pairs)
        n = len(over)
        self.literal = np.full((n, n), -1, dtype=np.intp)
        i, j = self.pairs.T
        self.literal[i, j] = 2 * np.arange(count)
        self.literal[j, i] = 2 * np.arange(count) + 1
        self.parent = np.arange(2 * count)
        self.wished = np.where(wish[i] < wish[j], 1.0, -1.0)
        for low, high in known:
            literal = int(self.literal[low, high])
            if literal >= 0:
                self.wished[literal >> 1] = -FOLD_WISH if literal & 1 else FOLD_WISH
        self.rings = np.empty((0, 3), dtype=np.intp)
        self.sums: list[tuple[tuple[int, ...], int]] = []

    def root(self, literal: int) -> int:
        """Return the literal that stands for all that equal one."""
        parent = self.parent
        while parent[literal] != literal:
            parent[literal] = parent[parent[literal]]
            literal = int(parent[literal])
        return literal

    def join(self, one: int, other: int) -> bool:
        """Make two literals, and their opposites, equal; return whether that can be."""
        a, b = self.root(one), self.root(other)
        if a == b:
            return True
        if a == self.root(other ^ 1):
            return False
        c, d = self.root(one ^ 1), self.root(other ^ 1)
        self.parent[max(a, b)] = min(a, b)
        self.parent[max(c, d)] = min(c, d)
        return True

    def settled(self, layers: Layers, equal: NDArray[np.intp], even: NDArray[np.intp]) -> bool:
        """Join what is equal and keep the other conditions; return False where they contradict."""
        sides = layers.creases[:, 1:]
        for row, layer in equal.tolist():
            a, b = sides[row].tolist()
            one, other = int(self.literal[a, layer]), int(self.literal[b, layer])
            if one >= 0 and other >= 0 and not self.join(one, other):
                return False
        triples = _overlapping_triples(layers.overlap)
        i, j, k = triples.T
        rings = np.column_stack([self.literal[i, j], self.literal[j, k], self.literal[k, i]])
        sums = self._even(sides, even)
        while True:
            joined = self._simplified(rings, sums)
            if joined is None:
                return False
            if not joined:
                return True
            rings = self.rings

    def _even(self, sides: NDArray[np.intp], even: NDArray[np.intp]) -> list[tuple[int, ...]]:
        """Return the literals whose sum is even: layers of two creases on one line."""
        rows = []
        for p, q in even.tolist():
            (a, b), (c, d) = sides[p].tolist(), sides[q].tolist()
            if len({a, b, c, d}) == 4:
                row = tuple(
                    int(self.literal[x, y]) for x, y in ((a, c), (b, c), (a, d), (b, d))
                )
                if min(row) >= 0:
                    rows.append(row)
        return rows

    def roots(self) -> NDArray[np.intp]:
        """Return for each literal the one that stands for it."""
        parent = self.parent
        while (parent[parent] != parent).any():
            parent = parent[parent]
        self.parent = parent
        return parent

    def _simplified(
        self, rings: NDArray[np.intp], sums: Sequence[tuple[int, ...]]
    ) -> int | None:
        """Write the conditions in joined unknowns; return how many more are joined, None for none fits."""
        roots = self.roots()
        rows = np.sort(roots[rings], axis=1)
        var = rows // 2
        opposite = ((var[:, 0] == var[:, 1]) & (rows[:, 0] != rows[:, 1])) | (
            (var[:, 1] == var[:, 2]) & (rows[:, 1] != rows[:, 2])
        )
        rows = _distinct(rows[~opposite], len(self.parent))
        twice = (rows[:, 0] == rows[:, 1]) | (rows[:, 1] == rows[:, 2])
        joined = 0
        for a, b, c in rows[twice].tolist():
            one, other = (a, c) if a == b else (c, a)
            if a == c or not self.join(one, other ^ 1):
                return None
            joined += 1
        self.rings = rows[~twice]
        self.sums = []
        for row in sums:
            left, parity = self._left(row)
            if not left and parity:
                return None
            if len(left) == 2:
                if not self.join(left[0], left[1] ^ parity):
                    return None
                joined += 1
            elif left:
                self.sums.append((left, parity))
        self.sums = list(dict.fromkeys(self.sums))
        return joined

    def _left(self, row: Sequence[int]) -> tuple[tuple[int, ...], int]:
        """Return the unknowns of a sum, those that cancel out left out, and what they add up to."""
        told = [self.root(x) for x in row]
        count = Counter(x & ~1 for x in told)
        return tuple(sorted(k for k, n in count.items() if n % 2)), sum(told) % 2

    def conditions(self) -> tuple[RingsAndSums, NDArray[np.floating]]:
        """Return the conditions in joined unknowns, and what is wished of each: its sign and weight."""
        count = len(self.pairs)
        root = self.roots()[2 * np.arange(count)]
        wish = np.zeros(count)
        np.add.at(wish, root >> 1, np.where(root % 2 == 1, -1.0, 1.0) * self.wished)
        return RingsAndSums(np.unique(root >> 1), self.rings, tuple(self.sums)), wish

    def below(self, value: NDArray[np.int8]) -> NDArray[np.bool_]:
        """Return (n, n) whether a layer is below another that it overlaps."""
        n = len(self.literal)
        below = np.zeros((n, n), dtype=bool)
        roots = self.roots()
        i, j = self.pairs.T
        root = roots[2 * np.arange(len(self.pairs))]
        true = (value[root // 2] > 0) != (root % 2 == 1)
        below[i[true], j[true]] = True
        below[j[~true], i[~true]] = True
        return below


def _distinct(rows: NDArray[np.intp], below: int) -> NDArray[np.intp]:
    """Return the different ones of (r, 3) rows of numbers below a limit, in rising order."""
    a, b, c = rows.T
    keys = np.sort(
        (a * below + b) * below + c
    )  # of millions, most of them different: no hashes
    keys = keys[np.diff(keys, prepend=-1) > 0]
    return np.column_stack([keys // below**2, keys // below % below, keys % below])


def _overlapping_triples(over: NDArray[np.bool_]) -> NDArray[np.intp]:
    """Return (k, 3) layers, in rising order, each two of which overlap."""
    rows = []
    for i in range(len(over)):
        near = i + 1 + np.flatnonzero(over[i, i + 1 :])
        j, k = np.nonzero(np.triu(over[np.ix_(near, near)], 1))
        rows.append(np.column_stack([np.full(len(j), i), near[j], near[k]]))
    return np.concatenate(rows).astype(np.intp).reshape(-1, 3)
