"""What the place of each layer in an order must satisfy, worked out for one layer at a time."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.folded.ordering.crossings import Crossings


@dataclass(frozen=True)
class LayerConditions:
    """The conditions on one layer, sorted by the part that it plays in them.

    Attributes
    ----------
    kept_out
        (k, 2) pairs that meet at a crease across it: it must not lie between them.
    joined_to
        (m, 2) a layer that it meets at a crease, and one, across which that lies, that must not
        lie between the two.
    nested
        (n, 3) a layer that it meets at a crease, and two that meet at another on the same line:
        the two pairs must not alternate.
    named
        Layers named in any of them.
    """

    kept_out: NDArray[np.intp]
    joined_to: NDArray[np.intp]
    nested: NDArray[np.intp]
    named: NDArray[np.intp]

    def places(
        self, place: NDArray[np.intp], count: int, named: NDArray[np.intp]
    ) -> NDArray[np.intp]:
        """Return the places that the layer may take among `count`, one for each that differs.

        Place k is before the k-th layer. Two differ where one of the layers `named` lies between.
        """
        end = count + 1
        bad = np.zeros(end + 1, dtype=np.intp)

        def forbid(low: NDArray[np.intp], high: NDArray[np.intp]) -> None:
            """Forbid places low to high - 1 of each row."""
            np.add(bad, np.bincount(low, minlength=end + 1), out=bad)
            np.subtract(bad, np.bincount(high, minlength=end + 1), out=bad)

        a, b = _placed(place, self.kept_out)
        forbid(np.minimum(a, b) + 1, np.maximum(a, b) + 1)
        mate, third = _placed(place, self.joined_to)
        beyond = mate < third
        forbid(np.where(beyond, third + 1, 0), np.where(beyond, end, third + 1))
        mate, c, d = _placed(place, self.nested)
        low, high = np.minimum(c, d) + 1, np.maximum(c, d) + 1
        inside = (low <= mate) & (mate < high - 1)
        forbid(np.where(inside, 0, low), np.where(inside, low, high))
        forbid(high[inside], np.full(int(inside.sum()), end))
        free = np.cumsum(bad)[:end] == 0
        known = np.zeros(end, dtype=bool)
        at = place[named]
        known[at[at >= 0] + 1] = True
        known[0] = True
        where = np.flatnonzero(free)
        _, first = np.unique(np.cumsum(known)[where], return_index=True)
        return where[first]


def _placed(place: NDArray[np.intp], rows: NDArray[np.intp]) -> NDArray[np.intp]:
    """Return the columns of places of those rows whose layers are all placed."""
    at = place[rows]
    placed: NDArray[np.intp] = at[(at >= 0).all(axis=1)].T
    return placed


class Conditions:
    """The conditions on all layers of a folded form."""

    def __init__(self, crossings: Crossings, count: int) -> None:
        self.crossings, self.sides, self.count = crossings, crossings.creases[:, 1:], count
        self._known: dict[int, LayerConditions] = {}

    def of(self, layer: int) -> LayerConditions:
        """Return the conditions on a layer."""
        if layer not in self._known:
            self._known[layer] = self._conditions(layer)
        return self._known[layer]

    @cached_property
    def _nested(self) -> tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.intp]]:
        """Four different layers of each two creases on one line, and the rows of each layer."""
        tacos = self.crossings.tacos
        four = np.hstack([self.sides[tacos[:, 0]], self.sides[tacos[:, 1]]])
        shared = (four[:, :2, None] == four[:, None, 2:]).any(axis=(1, 2))
        four = four[~shared]
        at = np.argsort(four.ravel(), kind="stable")
        return four, at // 4, np.searchsorted(four.ravel()[at], np.arange(self.count + 1))

    def _conditions(self, x: int) -> LayerConditions:
        """Work out the conditions on a layer."""
        own = (self.sides == x).any(axis=1)
        rows, mine = np.flatnonzero(~own), np.flatnonzero(own)
        across = self.crossings.across(rows, np.full(len(rows), x))
        mates = self.sides[mine].sum(axis=1) - x
        row = np.repeat(np.arange(len(mine)), self.count)
        third = np.tile(np.arange(self.count), len(mine))
        apart = (third != x) & (third != mates[row])
        row, third = row[apart], third[apart]
        over = self.crossings.across(mine[row], third)
        four, owners, starts = self._nested
        rows_of_x = four[owners[starts[x] : starts[x + 1]]]
        first = (rows_of_x[:, :2] == x).any(axis=1)[:, None]
        turned = np.where(first, rows_of_x, rows_of_x[:, [2, 3, 0, 1]])
        kept_out = np.unique(self.sides[rows[across]], axis=0)
        joined_to = np.unique(np.column_stack([mates[row], third])[over], axis=0)
        mate = turned[:, 0] + turned[:, 1] - x
        nested = np.unique(np.column_stack([mate, turned[:, 2:]]), axis=0)
        named = np.unique(np.concatenate([kept_out.ravel(), joined_to.ravel(), nested.ravel()]))
        return LayerConditions(kept_out, joined_to, nested, named)
