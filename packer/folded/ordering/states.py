"""The rings that a molecule may take when it hangs over a gap.

Where the corners round a polygon do not follow the order in which the tree can be drawn, a gusset
runs deeper than both sides of it, and the fold in the middle of the plain ring would pass through
layers. Then its layers are put inside those on one of its sides: an inverted gusset.

Not every crossed polygon has such a state. Where two corners that face each other lie in different
branches of the tree and the two between them in a third, the ridges of the first two run outwards
along the third, each through the layers of the other. It is left out of the tour and put in by a
search (`search`). In some patterns there is, whatever the root, a polygon that has no
order even by itself, as a search through all orders of its layers tells: such a pattern folds at
every vertex and has no layer order with all flaps to one side; it must be settled or packed again.
"""

from __future__ import annotations

from itertools import product
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.folded.ordering.rings import Ring

if TYPE_CHECKING:
    from collections.abc import Iterator

    from packer.folded.ordering.rings import Gusset, Molecules

MOST_INVERTED: Final = 4
"""Gussets of one molecule that are tried inverted: 3 states each, 81 together."""


def states(
    molecules: Molecules, molecule: int, gap: int, *, strict: bool = False
) -> Iterator[Ring]:
    """Yield the rings of a molecule from behind a gap in which no crease crosses a layer.

    A plain ring without a deep gusset is seldom at fault, and looked at only if `strict`.
    """
    member = molecules.all[molecule]
    if member.ring is None or gap not in member.ring.gaps:
        return
    plain = member.ring.cut_at(gap)
    deep = [g for g in member.gussets if g.depth > member.low + molecules.room]
    faulty = faulty_layers(molecules, molecule, plain) if deep or strict else set()
    if not faulty:
        yield plain
        return
    deep = [g for g in deep if any(faulty & set(end) for end in g.ends)]
    for turns in product((0, 1, 2), repeat=min(len(deep), MOST_INVERTED)):
        ring: Ring | None = plain
        for gusset, turn in zip(deep, turns, strict=False):
            ring = _inverted(ring, gusset, turn) if ring is not None and turn else ring
        if (
            ring is not None
            and ring is not plain
            and not faulty_layers(molecules, molecule, ring)
        ):
            yield ring


def faulty_layers(molecules: Molecules, molecule: int, ring: Ring) -> set[int]:
    """Return the layers at creases that cross a layer or another crease of the molecule."""
    inner = molecules.inner_conditions(molecule)
    place = np.empty(len(inner.number), dtype=np.intp)
    for k, layer in enumerate(ring.layers):
        place[inner.number[layer]] = k
    pairs = np.sort(place[inner.ends], axis=1)
    low, high = pairs[inner.crossed[:, 0]].T
    third = place[inner.crossed[:, 1]]
    wrong = inner.crossed[(low < third) & (third < high), 0]
    (a, b), (c, d) = pairs[inner.lined_up[:, 0]].T, pairs[inner.lined_up[:, 1]].T
    alternate = ((a < c) & (c < b) & (b < d)) | ((c < a) & (a < d) & (d < b))
    rows = np.concatenate([wrong, inner.lined_up[alternate].ravel()])
    return {ring.layers[k] for k in pairs[rows].ravel().tolist()}


def _inverted(ring: Ring, gusset: Gusset, turn: int) -> Ring | None:
    """Put a gusset's layers inside those that follow (1) or precede (2) at its first end."""
    layers, gaps = list(ring.layers), list(ring.gaps)
    for end, (a, b) in enumerate(gusset.ends):
        k = layers.index(a)
        if layers[k + 1 : k + 2] != [b]:
            return None
        first = k if (turn == 1) != bool(end) else k - 1
        three = layers[first : first + 3]
        if first < 0 or len(three) < 3 or any(g >= 0 for g in gaps[first + 1 : first + 3]):
            return None
        layers[first : first + 3] = three[::-1]
    return Ring(tuple(layers), tuple(gaps))
