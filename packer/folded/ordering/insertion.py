"""Layers put into a finished order, exactly: where the construction leaves a molecule out.

All layers placed before keep their order. Each new one then has a number of places between them,
and what it may not cross rules most of them out; the rest is a search that takes next the layer
with fewest places left and goes back where one has none.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from packer.folded.ordering.rings import Molecules

MOST_STEPS: Final = 600
"""Layers placed, those taken back included, after which an insertion is given up.

A molecule of 12 layers takes 12 where nothing is taken back.
"""


def inserted(
    molecules: Molecules, order: Sequence[int], new: Sequence[int]
) -> list[int] | None:
    """Return an order with new layers put in, None where none was found.

    Parameters
    ----------
    molecules
        Of the pattern.
    order
        Layers in a valid order.
    new
        Those to put in, of one molecule.
    """
    conditions = conditions_on(molecules, order, new)
    search = _Insertion(list(order), conditions)
    return search.order if search.run() else None


@dataclass(frozen=True)
class InsertionConditions:
    """What the places of new layers must satisfy.

    Attributes
    ----------
    crossed
        (k, 3) layers a, b that meet at a crease, and a layer that must not lie between them.
    pairs
        (m, 4) layers a, b and c, d that meet at two creases on one line, not to alternate.
    of
        For each new layer the rows of both that name it.
    """

    crossed: NDArray[np.intp]
    pairs: NDArray[np.intp]
    of: dict[int, tuple[NDArray[np.intp], NDArray[np.intp]]]


def conditions_on(
    molecules: Molecules, order: Sequence[int], new: Sequence[int]
) -> InsertionConditions:
    """Return the conditions between layers of an order and new ones that name a new one."""
    crossings, creases = molecules.crossings, molecules.creases
    is_new = np.zeros(len(molecules.molecule_of), dtype=bool)
    is_new[list(new)] = True
    here = is_new.copy()
    here[list(order)] = True
    sides = creases[:, 1:]
    rows = np.flatnonzero(here[sides].all(axis=1))
    touching = rows[is_new[sides[rows]].any(axis=1)]
    others = np.flatnonzero(here & ~is_new)
    row = np.concatenate([np.repeat(rows, len(new)), np.repeat(touching, len(others))])
    layer = np.concatenate([np.tile(new, len(rows)), np.tile(others, len(touching))])
    apart = (sides[row] != layer[:, None]).all(axis=1)
    row, layer = row[apart], layer[apart]
    across = crossings.across(row, layer)
    crossed = np.unique(np.column_stack([sides[row], layer])[across], axis=0)
    tacos = crossings.tacos
    four = np.hstack([sides[tacos[:, 0]], sides[tacos[:, 1]]])
    shared = (four[:, :2, None] == four[:, None, 2:]).any(axis=(1, 2))
    four = four[is_new[four].any(axis=1) & here[four].all(axis=1) & ~shared]
    pairs = np.unique(four, axis=0)
    return InsertionConditions(
        crossed,
        pairs,
        {
            x: (
                np.flatnonzero((crossed == x).any(axis=1)),
                np.flatnonzero((pairs == x).any(axis=1)),
            )
            for x in new
        },
    )


class _Insertion:
    """A running search: the order so far and the places of its layers."""

    def __init__(self, order: list[int], conditions: InsertionConditions) -> None:
        self.order, self.conditions = order, conditions
        self.steps = 0
        most = max([*order, *conditions.of], default=0)
        self.place = np.full(most + 1, -1, dtype=np.intp)
        self.place[order] = np.arange(len(order))
        self.cache: dict[int, NDArray[np.intp]] = {}
        self.views = {x: _View.of(conditions, x) for x in conditions.of}

    def run(self) -> bool:
        """Place all new layers; return whether that was possible."""
        left = [x for x in self.conditions.of if self.place[x] < 0]
        if not left:
            return True
        choices = {x: self.views[x].places(self.place, len(self.order)) for x in left}
        layer = min(left, key=lambda x: (len(choices[x]), x))
        for at in choices[layer].tolist():
            self.steps += 1
            if self.steps > MOST_STEPS:
                return False
            self._put(layer, at)
            if self.run():
                return True
            self._take(layer)
        return False

    def _put(self, layer: int, at: int) -> None:
        self.order.insert(at, layer)
        self.place[self.order] = np.arange(len(self.order))

    def _take(self, layer: int) -> None:
        self.order.remove(layer)
        self.place[layer] = -1
        self.place[self.order] = np.arange(len(self.order))


@dataclass(frozen=True)
class _View:
    """The conditions on one layer, sorted by the part that it plays in them.

    Attributes
    ----------
    kept_out
        (k, 2) pairs that it must not lie between.
    joined_to
        (k, 2) a layer that it meets at a crease, and one that must not lie between.
    nested
        (k, 3) a layer that it meets at a crease, and two that meet at another on the same line.
    named
        Layers named beside it in any condition.
    """

    kept_out: NDArray[np.intp]
    joined_to: NDArray[np.intp]
    nested: NDArray[np.intp]
    named: NDArray[np.intp]

    @classmethod
    def of(cls, conditions: InsertionConditions, x: int) -> _View:
        rows, fours = conditions.of[x]
        three, four = conditions.crossed[rows], conditions.pairs[fours]
        mine = three[:, 2] == x
        ends = three[~mine]
        joined = np.where(ends[:, 0] == x, ends[:, 1], ends[:, 0])
        turned = np.where((four[:, :2] == x).any(axis=1)[:, None], four, four[:, [2, 3, 0, 1]])
        partner = np.where(turned[:, 0] == x, turned[:, 1], turned[:, 0])
        return cls(
            three[mine, :2],
            np.column_stack([joined, ends[:, 2]]),
            np.column_stack([partner, turned[:, 2:]]),
            np.unique(np.concatenate([three.ravel(), four.ravel()])),
        )

    def places(self, place: NDArray[np.intp], count: int) -> NDArray[np.intp]:
        """Return the places that a layer may take among `count`, one for each that differs.

        Place k is before the k-th layer.
        """
        bad = np.zeros(count + 2, dtype=np.intp)

        def forbid(low: NDArray[np.intp], high: NDArray[np.intp]) -> None:
            """Forbid places low to high - 1 of each row."""
            np.add.at(bad, low, 1)
            np.add.at(bad, high, -1)

        a, b = _placed(place, self.kept_out)
        forbid(np.minimum(a, b) + 1, np.maximum(a, b) + 1)
        mate, third = _placed(place, self.joined_to)
        beyond = mate < third
        forbid(np.where(beyond, third + 1, 0), np.where(beyond, count + 1, third + 1))
        mate, c, d = _placed(place, self.nested)
        c, d = np.minimum(c, d), np.maximum(c, d)
        inside = (c < mate) & (mate < d)
        low, high = c + 1, d + 1
        forbid(np.where(inside, 0, low), np.where(inside, low, high))
        forbid(high[inside], np.full(int(inside.sum()), count + 1))
        free = np.cumsum(bad)[: count + 1] == 0
        # Two places differ where a layer between them is named beside this one.
        known = np.zeros(count + 1, dtype=bool)
        at = place[self.named]
        known[at[at >= 0] + 1] = True
        known[0] = True
        group = np.cumsum(known)
        where = np.flatnonzero(free)
        _, first = np.unique(group[where], return_index=True)
        return where[first]


def _placed(place: NDArray[np.intp], rows: NDArray[np.intp]) -> NDArray[np.intp]:
    """Return the columns of places of those rows whose layers are all placed."""
    at = place[rows]
    placed: NDArray[np.intp] = at[(at >= 0).all(axis=1)].T
    return placed
