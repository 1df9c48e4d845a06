"""The layer order of a flat state: layers put in one by one where nothing crosses.

A state on the way folds few layers; the rest of the paper is one layer that lies open. Layers are
put in next to the one they hang on; where one fits nowhere the last is moved (backtracking).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from packer.folded.layers import LayerOrder
from packer.folded.overlaps import layers_of, nested, passing

if TYPE_CHECKING:
    from packer.creases.pattern import CreasePattern
    from packer.folded.form import FoldedForm
    from packer.folded.overlaps import Layers

MOST_TRIES: Final = 20_000
"""Places tried before a search ends; regions of one polygon take a few dozen."""


def layer_order(
    pattern: CreasePattern, form: FoldedForm, tries: int = MOST_TRIES
) -> LayerOrder | None:
    """Return a valid order of the layers of a flat state, near the pattern's own folds.

    Parameters
    ----------
    pattern
        The creases; mountains and valleys that it has are wishes, not conditions.
    form
        Where its faces lie; any edges may be folded.
    tries
        Places tried.

    Returns
    -------
    LayerOrder or None
        None where none was found.
    """
    search = _Search(pattern, form, layers_of(pattern, form), tries)
    order = search.run()
    if order is None:
        return None
    return LayerOrder(search.layers, np.argsort(np.array(order, dtype=np.intp)))


class _Search:
    """Layers, in the order in which they are put in, and what each must not break."""

    def __init__(
        self, pattern: CreasePattern, form: FoldedForm, layers: Layers, tries: int
    ) -> None:
        self.layers, self.tries = layers, tries
        sides = layers.creases[:, 1:].tolist()
        self.sequence = _sequence(layers)
        when = {layer: k for k, layer in enumerate(self.sequence)}
        # each condition is asked once the last of its layers is in
        self.between: list[list[tuple[int, int, int]]] = [[] for _ in when]
        for row, layer in passing(pattern, form, layers).tolist():
            a, b = sides[row]
            self.between[max(when[a], when[b], when[layer])].append((a, b, layer))
        self.alternate: list[list[tuple[int, int, int, int]]] = [[] for _ in when]
        for i, j in nested(pattern, form, layers).tolist():
            four = (*sides[i], *sides[j])
            self.alternate[max(when[x] for x in four)].append(four)
        self.wishes: list[list[tuple[int, int]]] = [[] for _ in when]
        for edge, left, right in layers.creases.tolist():
            fold = pattern.folds[edge]
            if fold in {"M", "V"}:
                up = (fold == "V") != bool(layers.flipped[left])
                pair = (left, right) if up else (right, left)
                self.wishes[max(when[left], when[right])].append(pair)

    def run(self, order: tuple[int, ...] = ()) -> list[int] | None:
        """Return the layers from the lowest to the highest, None where the tries are over."""
        step = len(order)
        if step == len(self.sequence):
            return list(order)
        layer = self.sequence[step]
        choices = [(*order[:k], layer, *order[k:]) for k in range(step + 1)]
        for choice in sorted(choices, key=lambda one: -self._liked(step, one)):
            self.tries -= 1
            if self.tries < 0:
                return None
            if self._holds(step, choice):
                whole = self.run(choice)
                if whole is not None:
                    return whole
        return None

    def _liked(self, step: int, order: tuple[int, ...]) -> int:
        at = {layer: k for k, layer in enumerate(order)}
        return sum(at[low] < at[high] for low, high in self.wishes[step])

    def _holds(self, step: int, order: tuple[int, ...]) -> bool:
        at = {layer: k for k, layer in enumerate(order)}
        if any((at[a] < at[x]) != (at[b] < at[x]) for a, b, x in self.between[step]):
            return False
        for a, b, c, d in self.alternate[step]:
            low, high = sorted((at[a], at[b]))
            if (low < at[c] < high) != (low < at[d] < high):
                return False
        return True


def _sequence(layers: Layers) -> list[int]:
    """Return the layers, the largest first, each after one that it hangs on, branch by branch.

    So a region that hangs on the open paper is put in as a whole before the next is begun.
    """
    near: dict[int, set[int]] = {}
    for _, a, b in layers.creases.tolist():
        near.setdefault(a, set()).add(b)
        near.setdefault(b, set()).add(a)
    areas = [region.area for region in layers.regions]
    order: list[int] = []
    todo = [int(np.argmax(areas))]
    while todo:
        layer = todo.pop()
        if layer not in order:
            order.append(layer)
            todo += sorted(near.get(layer, set()) - set(order), key=lambda k: (areas[k], -k))
    return order
