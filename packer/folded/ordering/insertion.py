"""Layers put into a finished order, exactly: where the construction leaves a polygon out.

All layers placed before keep their order. Each new one then has a number of places between them,
and what it may not cross rules most of them out; the rest is a search that takes next the layer
with fewest places left and goes back where one has none. A layer that often had none goes before
others, and the search begins anew several times, so that those take their places first
(dom/wdeg: Boussemart, Hemery, Lecoutre and Sais, ECAI 2004).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from packer.folded.ordering.conditions import Conditions, LayerConditions

STEPS: Final = (60, 120, 240, 480)
"""Layers placed, those taken back included, after which the search begins anew or ends.

Those of each layer come on top. A molecule of 12 layers takes 12 where nothing is taken back.
"""


def inserted(
    conditions: Conditions,
    order: Sequence[int],
    new: Sequence[int],
    rng: np.random.Generator | None = None,
    *,
    all_places: bool = True,
) -> list[int] | None:
    """Return an order with new layers put in, None where none was found.

    Parameters
    ----------
    conditions
        On the layers of a folded form.
    order
        Layers in a valid order.
    new
        Those to put in.
    rng
        Chooses among the places of a layer; else they are tried from below.
    all_places
        Whether to tell apart places between which lies a layer named beside any new one; else
        only those that differ for the layer itself, which is quicker and may miss an order.
    """
    own = {x: conditions.of(x) for x in new}
    search = _Insertion(list(order), own, conditions.count, rng)
    if not all_places:
        search.named = None
    return search.order if search.run() else None


def impossible(conditions: Conditions, layers: Sequence[int]) -> bool:
    """Whether some layers have no valid order among themselves, as a search through all shows.

    False as well where that search ends before it has seen all.
    """
    search = _Insertion([], {x: conditions.of(x) for x in layers}, conditions.count, None)
    return not search.run() and search.steps >= 0


class _Insertion:
    """A running search: the order so far and the places of its layers."""

    def __init__(
        self,
        order: list[int],
        conditions: dict[int, LayerConditions],
        count: int,
        rng: np.random.Generator | None,
    ) -> None:
        self.order, self.conditions, self.rng = order, conditions, rng
        self.steps = 0
        self.trouble = dict.fromkeys(conditions, 1)
        self.place = np.full(count, -1, dtype=np.intp)
        self.place[order] = np.arange(len(order))
        # A layer that no new one is named beside tells no two places apart; one that any is named
        # beside does so for all, since they also bind each other.
        each = [c.named for c in conditions.values()]
        self.named: NDArray[np.intp] | None = np.unique(
            np.concatenate([*each, list(conditions)]).astype(np.intp)
        )

    def run(self) -> bool:
        """Place all new layers; return whether a place was found for each."""
        for most in STEPS:
            self.steps = most + len(self.trouble)
            if self._placed():
                return True
            if self.steps >= 0:
                break  # all was looked at
        return False

    def _placed(self) -> bool:
        """Place what is left, going back where a layer has no place."""
        left = [x for x in self.conditions if self.place[x] < 0]
        if not left:
            return True
        count = len(self.order)
        choices = {x: self._places(x, count) for x in left}
        layer = min(left, key=lambda x: (len(choices[x]) / self.trouble[x], x))
        places = choices[layer]
        if not len(places):
            self.trouble[layer] += 1
        for at in (places if self.rng is None else self.rng.permutation(places)).tolist():
            self.steps -= 1
            if self.steps < 0:
                return False
            self._put(layer, at)
            if self._placed():
                return True
            self._take(layer)
        return False

    def _places(self, layer: int, count: int) -> NDArray[np.intp]:
        own = self.conditions[layer]
        return own.places(self.place, count, own.named if self.named is None else self.named)

    def _put(self, layer: int, at: int) -> None:
        self.order.insert(at, layer)
        self.place[self.order] = np.arange(len(self.order))

    def _take(self, layer: int) -> None:
        self.order.remove(layer)
        self.place[layer] = -1
        self.place[self.order] = np.arange(len(self.order))
