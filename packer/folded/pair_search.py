"""Orders of all layers found by a search over pairs of layers, and proofs that there is none."""

from __future__ import annotations

from dataclasses import dataclass
from heapq import heapify, heappop, heappush
from typing import TYPE_CHECKING, Final

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import shortest_path

from packer.folded.pair_conditions import FALSE, TRUE
from packer.folded.propagation import OrderConditions, PropagationSearch

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from packer.deadline import Deadline
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


MOST_ROUNDS: Final = 10
"""Searches with pairs that do not overlap as unknowns; one pattern in a hundred needs any."""

MOST_RINGS: Final = 50
"""Rings whose pairs become unknowns after one search."""

NO_ORDER: Final = SearchedOrder(None, impossible=True)


def searched_order(
    conditions: PairConditions,
    wish: NDArray[np.floating],
    conflicts: int,
    first: NDArray[np.intp] | None = None,
    deadline: Deadline | None = None,
) -> SearchedOrder:
    """Search for an order of all layers in one row.

    Layers may lie round in a ring of more than three of which not all overlap. Where an answer has
    such rings, the pairs that do not overlap become unknowns as well, and it is searched again.

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
    deadline
        When the search ends as well.
    """
    for _ in range(MOST_ROUNDS):
        search = started(conditions, wish, first, deadline)
        truth = search.run(conflicts)
        if truth is None:
            return SearchedOrder(None, search.exhausted)
        below = below_of(conditions, truth)
        rank = ranks(below)
        if rank is not None:
            return SearchedOrder(rank)
        conditions = with_rings(conditions, below)
        wish = np.append(wish, np.zeros(len(conditions.stands_for) // 2 - 1 - len(wish)))
    return SearchedOrder(None)


def started(
    conditions: PairConditions,
    wish: NDArray[np.floating],
    first: NDArray[np.intp] | None = None,
    deadline: Deadline | None = None,
) -> PropagationSearch:
    """Return a search in which nothing is decided yet; parameters as in `searched_order`."""
    weight = weight_of(conditions, wish)
    literals = (
        [] if first is None else list(dict.fromkeys(conditions.stands_for[first].tolist()))
    )
    preferred = {x >> 1: 1.0 - 2.0 * (x & 1) for x in reversed(literals) if x > FALSE}
    weight[list(preferred)] = list(preferred.values())
    asked = _for_search(conditions, tuple(reversed(preferred)))
    return PropagationSearch(asked, weight, deadline)


def weight_of(conditions: PairConditions, wish: NDArray[np.floating]) -> NDArray[np.float64]:
    """Return (count,) how much each unknown is wished to be true, with all that equal it."""
    stands = conditions.stands_for[2::2]
    weight = np.zeros(len(stands) + 1)
    np.add.at(weight, stands >> 1, np.where(stands % 2 == 1, -1.0, 1.0) * wish)
    weight[0] = 1 + abs(weight).max()
    return weight


def below_of(conditions: PairConditions, truth: NDArray[np.int8]) -> NDArray[np.bool_]:
    """Return (n, n) which layers lie below which where (count,) unknowns are true, 1, or false, -1."""
    held = np.column_stack([truth, -truth]).ravel()[conditions.stands_for] > 0
    below = np.zeros(conditions.literal.shape, dtype=bool)
    some = conditions.literal >= 0
    below[some] = held[conditions.literal[some]]
    return below


def wish_of(conditions: PairConditions, place: NDArray[np.floating]) -> NDArray[np.floating]:
    """Return (pairs,) the wish that layers lie in the order of their places; 0 for equal ones."""
    wish = np.zeros(len(conditions.stands_for) // 2 - 1)
    first, second = np.nonzero(np.triu(conditions.literal > FALSE, 1))
    at = conditions.literal[first, second] // 2 - 1
    wish[at] = np.sign(place[second] - place[first])
    return wish


def _for_search(conditions: PairConditions, first: tuple[int, ...]) -> OrderConditions:
    """Return the conditions in literals that stand for all that equal them."""
    fixed = conditions.literal == TRUE
    return OrderConditions(
        conditions.unknowns, conditions.between, fixed, conditions.sums, conditions.odd, first
    )


def with_rings(conditions: PairConditions, below: NDArray[np.bool_]) -> PairConditions:
    """Return the conditions with unknowns for the pairs of layers that lie round in a ring."""
    for ring in _short_rings(below):
        conditions = conditions.with_pairs(ring)
    return conditions


def _short_rings(below: NDArray[np.bool_]) -> list[NDArray[np.intp]]:
    """Return layers of which each is below the next and the last below the first, some of the shortest."""
    steps, before = shortest_path(
        csr_array(below), unweighted=True, return_predecessors=True, method="D"
    )
    back = np.where(below.T, steps, np.inf)  # from a layer to one that is below it
    rings = []
    for start, end in np.argwhere(back == back.min())[:MOST_RINGS].tolist():
        ring = [end]
        while ring[-1] != start:
            ring.append(int(before[start, ring[-1]]))
        rings.append(np.array(sorted(ring), dtype=np.intp))
    return rings


def ranks(below: NDArray[np.bool_]) -> NDArray[np.intp] | None:
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
