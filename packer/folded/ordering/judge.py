"""An order of layers judged by what it breaks: all of it, or in samples where it is very large.

The judge knows nothing of how an order was made. It asks of every crease which layers lie between
the two that meet at it (taco-tortilla), and of every two creases on one line whether their layers
alternate (taco-taco); an order of all layers in one row is transitive by itself. The pairs grow with
the square of the layers, so that above `MOST_FACES` faces only some columns of the folded form are
looked at: all layers and creases over a short stretch of the distance from the root, drawn at
random, the same ones every time.
"""

from __future__ import annotations

from dataclasses import dataclass
from random import Random
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.folded.ordering.crossings import Crossings

MOST_FACES: Final = 10_000
"""Faces up to which an order is judged as a whole."""

COLUMNS: Final = 400
"""Columns of equal width into which a larger folded form is cut."""

LOOKED_AT: Final = 40
"""Of these, how many are judged."""


@dataclass(frozen=True)
class Judgement:
    """What a judge found in an order.

    Attributes
    ----------
    faults
        Taco-tortillas and taco-tacos that the order breaks; one that lies in two columns counts
        twice.
    looked_at
        The share of the folded form that was judged, 1 for all of it.
    """

    faults: int
    looked_at: float = 1.0

    def __str__(self) -> str:
        if self.looked_at == 1:
            return "checked as a whole"
        return f"checked in {self.looked_at:.0%} of its columns, drawn at random"


def judged(crossings: Crossings, rank: NDArray[np.intp]) -> Judgement:
    """Judge an order of layers, given by their ranks."""
    if len(crossings.pattern.faces) <= MOST_FACES:
        return Judgement(sum(len(rows) for rows in crossings.faults(rank)))
    x = crossings.form.positions[:, 0]
    edges = np.linspace(x.min(), x.max(), COLUMNS + 1)
    chosen = sorted(Random(0).sample(range(COLUMNS), LOOKED_AT))
    faults = 0
    for k in chosen:
        faults += sum(len(rows) for rows in crossings.faults_between(rank, edges[k], edges[k + 1]))
    return Judgement(faults, LOOKED_AT / COLUMNS)
