"""What a tour leaves out, put in by a search over all pairs of layers (`packer.folded.pair_conditions`).

The order of the layers that a tour takes in is kept first; then it is only wished.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from packer.folded.layer_relations import layer_relations
from packer.folded.pair_conditions import pair_conditions
from packer.folded.pair_search import searched_order, wish_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from packer.deadline import Deadline
    from packer.folded.ordering.crossings import Crossings
    from packer.folded.ordering.rings import Molecules

MOST_CONFLICTS: Final = 400
"""Contradictions after which a search ends: where it finds an order, it mostly takes fewer than 200."""

MOST_PAIRS: Final = 1_000_000
"""Pairs of layers above which no search is begun: of 1,400 layers, what must hold of them takes some four
seconds to gather, and a contradiction some twenty milliseconds."""

TO_PROVE: Final = 5000
"""Contradictions after which it stays open whether a polygon has an order."""


def put_in(
    crossings: Crossings, order: Sequence[int], deadline: Deadline | None = None
) -> NDArray[np.intp] | None:
    """Return the ranks of all layers in an order like that of some; None where none was found.

    Parameters
    ----------
    crossings
        Of a folded form.
    order
        Layers in a valid order, from the lowest on.
    deadline
        When the search gives up.
    """
    known, relations = np.array(order, dtype=np.intp), None
    place = places(len(crossings.flipped), known)
    for fixed in (known, None):
        if loose_pairs(len(place), fixed) > MOST_PAIRS:
            continue
        relations = relations or layer_relations(crossings)
        conditions = pair_conditions(relations, fixed)
        if conditions is None:
            continue
        wish = wish_of(conditions, place)
        rank = searched_order(conditions, wish, MOST_CONFLICTS, deadline=deadline).rank
        if rank is not None and holds(crossings, rank):
            return rank
    return None


def loose_pairs(count: int, fixed: NDArray[np.intp] | None) -> int:
    """Return how many pairs of layers there are at most whose order is not fixed."""
    held = 0 if fixed is None else len(fixed)
    return (count - held) * (count + held) // 2


def places(count: int, order: NDArray[np.intp]) -> NDArray[np.float64]:
    """Return (count,) the place of each layer in an order, and the middle one for those not in it."""
    place = np.full(count, (len(order) - 1) / 2)
    place[order] = np.arange(len(order))
    return place


def holds(crossings: Crossings, rank: NDArray[np.intp]) -> bool:
    """Whether an order breaks nothing."""
    return not any(len(faults) for faults in crossings.faults(rank))


def without_order(molecules: Molecules, molecule: int) -> bool:
    """Whether a molecule has no order, not even by itself, as a search through all shows."""
    layers = np.array(sorted(molecules.all[molecule].layers), dtype=np.intp)
    relations = layer_relations(molecules.crossings).among(layers)
    conditions = pair_conditions(relations)
    if conditions is None:
        return True
    wish = wish_of(conditions, np.arange(float(len(layers))))
    return searched_order(conditions, wish, TO_PROVE).impossible
