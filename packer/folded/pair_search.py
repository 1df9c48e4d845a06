"""Orders of all layers found by a search over pairs of layers, and proofs that there is none."""

from __future__ import annotations

from dataclasses import dataclass
from heapq import heapify, heappop, heappush
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.folded.pair_conditions import FALSE
from packer.folded.propagation import OrderConditions, PropagationSearch

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from packer.folded.pair_conditions import PairConditions


@dataclass(frozen=True, eq=False)
class SearchedOrder:
    """What a search for an order found.

    Attributes
    ----------
    rank
        (n,) the place of each layer; None where no order was found.
    impossible
        Whether all was seen, so that there is none.
    """

    rank: NDArray[np.intp] | None
    impossible: bool = False


NO_ORDER: Final = SearchedOrder(None, impossible=True)


def searched_order(
    conditions: PairConditions,
    wish: NDArray[np.floating],
    conflicts: int,
    first: NDArray[np.intp] | None = None,
) -> SearchedOrder:
    """Search for an order of all layers.

    Parameters
    ----------
    conditions
        On their pairs.
    wish
        (pairs,) for each unknown but the first how much its being true is wished; negative for
        false.
    conflicts
        Contradictions after which the search ends.
    first
        Literals to be true if at all possible, in this order.
    """
    stands = conditions.stands_for[2::2]
    weight = np.zeros(len(stands) + 1)
    np.add.at(weight, stands >> 1, np.where(stands % 2 == 1, -1.0, 1.0) * wish)
    weight[0] = 1 + abs(weight).max()
    literals = (
        [] if first is None else list(dict.fromkeys(conditions.stands_for[first].tolist()))
    )
    preferred = {x >> 1: 1.0 - 2.0 * (x & 1) for x in reversed(literals) if x > FALSE}
    asked = _for_search(conditions, tuple(reversed(preferred)))
    weight[list(preferred)] = list(preferred.values())
    search = PropagationSearch(asked, weight, conflicts)
    truth = search.run()
    if truth is None:
        return SearchedOrder(None, search.exhausted)
    held = np.column_stack([truth, -truth]).ravel()[conditions.stands_for] > 0
    below = np.zeros(conditions.literal.shape, dtype=bool)
    some = conditions.literal >= 0
    below[some] = held[conditions.literal[some]]
    return SearchedOrder(_ranks(below))


def wish_of(conditions: PairConditions, place: NDArray[np.floating]) -> NDArray[np.floating]:
    """Return (pairs,) the wish that layers lie in the order of their places; 0 for equal ones."""
    wish = np.zeros(len(conditions.stands_for) // 2 - 1)
    first, second = np.nonzero(np.triu(conditions.literal > FALSE, 1))
    at = conditions.literal[first, second] // 2 - 1
    wish[at] = np.sign(place[second] - place[first])
    return wish


def _for_search(conditions: PairConditions, first: tuple[int, ...]) -> OrderConditions:
    """Return the conditions in literals that stand for all that equal them."""
    literal, stands_for = conditions.literal, conditions.stands_for
    below = np.where(literal < 0, -1, stands_for[literal])
    unknowns = np.unique(stands_for >> 1)
    return OrderConditions(unknowns, below, conditions.sums, conditions.odd, first)


def _ranks(below: NDArray[np.bool_]) -> NDArray[np.intp] | None:
    """Return the ranks of layers of which some are below others; None where they go round."""
    under = below.sum(axis=0)
    ready = np.flatnonzero(under == 0).tolist()
    heapify(ready)
    rank = np.full(len(below), -1, dtype=np.intp)
    for place in range(len(below)):
        if not ready:
            return None
        layer = heappop(ready)
        rank[layer] = place
        for other in _freed(under, below[layer]):
            heappush(ready, other)
    return rank


def _freed(under: NDArray[np.intp], above: NDArray[np.bool_]) -> Iterator[int]:
    """Count one layer less below those above it; yield the ones with none left."""
    under[above] -= 1
    yield from np.flatnonzero(above & (under == 0)).tolist()
