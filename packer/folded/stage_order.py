"""The layer order of any flat state, by a search over pairs of layers that overlap.

What must hold of the pairs is in `packer.folded.pair_conditions`. Another state's order is wished, and the
mountains and valleys that are known still more.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from packer.folded.layer_relations import layer_relations
from packer.folded.layers import LayerOrder
from packer.folded.ordering.crossings import Crossings
from packer.folded.overlaps import layers_of
from packer.folded.pair_conditions import pair_conditions
from packer.folded.pair_search import searched_order, wish_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.creases.pattern import CreasePattern
    from packer.folded.form import FoldedForm
    from packer.folded.overlaps import Layers

MOST_CONFLICTS: Final = 300
"""Contradictions after which a search ends; most orders are found with fewer than ten."""

FOLD_WISH: Final = 3.0
"""What a known mountain or valley weighs beside another order's word on two layers."""

MOST_LAYERS: Final = 280
"""Layers above which none is begun: guides have no stages above some 400 creases."""


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
    crossings = Crossings(pattern, form, layers.layer_of, layers.creases, layers.flipped)
    conditions = pair_conditions(layer_relations(crossings))
    if conditions is None:
        return None
    place = np.arange(count, dtype=float)
    if like is not None:
        place = np.array([np.median(like[layers.layer_of == k]) for k in range(count)])
    wish = wish_of(conditions, place)
    for low, high in _known(pattern, layers):
        literal = int(conditions.literal[low, high])
        wish[literal // 2 - 1] = -FOLD_WISH if literal & 1 else FOLD_WISH
    rank = searched_order(conditions, wish, conflicts).rank
    if rank is None or any(len(faults) for faults in crossings.faults(rank)):
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
