"""As many creases of a mirrored pattern as can be folded like their images, from an order that is known.

Where the solver in compiled code is installed (`packer.folded.cadical_search`), it looks at few layers,
and then at more (`packer.folded.ordering.growing`); else the search of our own frees some layers of the known order
at a time (`packer.folded.ordering.neighbourhoods`). What is alike stays so in both.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from packer.folded import cadical_search
from packer.folded.ordering.growing import GrowingSearch
from packer.folded.ordering.known_order import KnownOrder
from packer.folded.ordering.neighbourhoods import FreeLayersSearch

if TYPE_CHECKING:
    from collections.abc import Callable

    import numpy as np
    from numpy.typing import NDArray

    from packer.deadline import Deadline
    from packer.folded.ordering.mirrored_layers import MirroredLayers

MOST_SEARCHED: Final = 4000
"""Layers above which nothing is searched: what must hold of all, and their overlaps, take too long to gather."""

PACE: Final = 20
"""Contradictions of the solver in compiled code in the time in which the search of our own meets one."""


@dataclass(frozen=True, eq=False)
class MirroredOrder:
    """An order of a mirrored pattern.

    Attributes
    ----------
    rank
        (layers,) the place of each layer.
    shown
        How many creases differ from their image of which it is shown that they must, while all
        others stay alike.
    """

    rank: NDArray[np.intp]
    shown: int = 0


def most_alike(
    layers: MirroredLayers,
    rank: NDArray[np.intp],
    conflicts: int,
    deadline: Deadline,
    progress: Callable[[str], None],
) -> MirroredOrder:
    """Return an order in which no further crease can be folded like its image.

    Where the search ends before it has seen that, or is interrupted, the best order so far.

    Parameters
    ----------
    layers
        Of the folded form, and which are each other's images.
    rank
        (layers,) a valid order.
    conflicts
        Contradictions of the search of our own with all layers free after which it ends; the solver in
        compiled code meets more in the same time.
    deadline
        When all ends.
    progress
        Called with a few words whenever more layers are looked at.
    """
    if len(rank) > MOST_SEARCHED or deadline.over:
        return MirroredOrder(rank)
    known = KnownOrder(layers, rank)
    with suppress(KeyboardInterrupt):
        if cadical_search.available():
            GrowingSearch(known, PACE * conflicts, deadline, progress).run()
        else:
            FreeLayersSearch(known, deadline).run(conflicts, progress)
    shown = layers.creases_unlike(known.rank) - 2 * int(known.open.sum())
    return MirroredOrder(known.rank, shown)
