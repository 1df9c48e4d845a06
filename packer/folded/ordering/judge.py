"""An order of layers judged by what it breaks: all of it, or in samples where it is very large.

The judge knows nothing of how an order was made. It asks of every crease which layers lie between
the two that meet at it (taco-tortilla), and of every two creases on one line whether their layers
alternate (taco-taco); an order of all layers in one row is transitive by itself. The first grows with
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

LOOKED_AT: Final = 100
"""Of these, how many are judged."""


SAME_WAY: Final = 1e-6
"""Difference of direction, in radians, below which creases can lie on one line."""


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
        return Judgement(faults_in_column(crossings, rank, -np.inf, np.inf))
    x = crossings.form.positions[:, 0]
    edges = np.linspace(x.min(), x.max(), COLUMNS + 1)
    chosen = sorted(Random(0).sample(range(COLUMNS), LOOKED_AT))
    faults = sum(faults_in_column(crossings, rank, edges[k], edges[k + 1]) for k in chosen)
    return Judgement(faults, LOOKED_AT / COLUMNS)


def faults_in_column(
    crossings: Crossings, rank: NDArray[np.intp], low: float, high: float
) -> int:
    """Count what an order breaks among the layers and creases between two distances.

    Of the creases on one line every stretch between two ends is one fault at most.
    """
    rows, layers = crossings.column(low, high)
    at = layers[np.argsort(rank[layers])]
    faults = len(crossings.tortillas(rows, at))
    pairs = np.sort(rank[crossings.creases[rows, 1:]], axis=1)
    for line in lines_of(crossings, rows):
        start, end = line.start, line.end
        ends = np.unique(np.round(np.concatenate([start, end]) / crossings.tolerance))
        for middle in (ends[1:] + ends[:-1]) / 2 * crossings.tolerance:
            here = line.rows[(start < middle) & (middle < end)]
            faults += not nested_pairs(pairs[here].tolist())
    return faults


@dataclass(frozen=True, eq=False)
class _Line:
    """Creases on one line with their layers on one side: which, and from where to where."""

    rows: NDArray[np.intp]
    start: NDArray[np.float64]
    end: NDArray[np.float64]


def lines_of(crossings: Crossings, rows: NDArray[np.intp]) -> list[_Line]:
    """Group creases by the line on which they lie and the side of their layers."""
    creases, form = crossings.creases[rows], crossings.form
    first, second = form.positions[crossings.pattern.edges[creases[:, 0]]].transpose(1, 0, 2)
    way = second - first
    way /= np.hypot(*way.T)[:, None]
    # one direction for both ways along a line
    back = (way[:, 0] < -SAME_WAY) | ((np.abs(way[:, 0]) <= SAME_WAY) & (way[:, 1] < 0))
    side = np.where(crossings.flipped[creases[:, 1]] != back, -1, 1)
    way[back] *= -1
    away = way[:, 0] * first[:, 1] - way[:, 1] * first[:, 0]
    keys = np.column_stack(
        [np.round(way / SAME_WAY), np.round(away / (10 * crossings.tolerance)), side]
    )
    along = np.sort(np.stack([(p * way).sum(axis=1) for p in (first, second)]), axis=0)
    _, group = np.unique(keys, axis=0, return_inverse=True)
    order = np.argsort(group.ravel(), kind="stable")
    parts = np.split(order, np.flatnonzero(np.diff(group.ravel()[order])) + 1)
    return [_Line(part, *along[:, part]) for part in parts]


def nested_pairs(pairs: list[list[int]]) -> bool:
    """Whether pairs of places lie beside or inside each other, like parentheses."""
    open_: list[int] = []
    for first, second in sorted(pairs):
        while open_ and open_[-1] <= first:
            open_.pop()
        if open_ and open_[-1] < second:
            return False
        open_.append(second)
    return True
