"""The layer order of one folded form as unknowns, equations and wishes."""

from __future__ import annotations

import time as clock
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from packer.creases.mountain_valley import wishes_of
from packer.folded.order_search import Conditions, NoAnswer
from packer.folded.overlaps import nested, passing
from packer.folded.parity import ParityClasses, reduced

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from packer.creases.pattern import CreasePattern
    from packer.folded.form import FoldedForm
    from packer.folded.order_search import Cycle, Solver
    from packer.folded.overlaps import Layers
    from packer.folded.parity import Literal


@dataclass(frozen=True)
class Ask:
    """How to answer: with which seed, from what start, and whether the wishes count."""

    seed: int = 0
    wish: bool = False
    near: Mapping[int, bool] = field(default_factory=dict)


class Question:
    """One unknown for each pair of layers that meet: whether the first is above the second.

    Attributes
    ----------
    number
        (n, n) the unknown of each pair of layers, -1 for pairs that never meet.
    classes
        Unknowns joined by taco-tortillas and by what follows from taco-tacos.
    evens
        What is left of the taco-tacos.
    heads
        (n, n) the literal of the head of its class that says that the row's layer lies above
        the column's; of no meaning for pairs that never meet.
    wishes
        What each unknown (head of a class) is worth when true, by the folds wished for.

    Raises
    ------
    Contradiction
        Where the equations alone rule out every order.
    """

    def __init__(self, pattern: CreasePattern, form: FoldedForm, layers: Layers) -> None:
        self.layers = layers
        tortillas = passing(pattern, form, layers)
        tacos = nested(pattern, form, layers)
        self.number = _numbered(layers, tortillas, tacos)
        sides = layers.creases[:, 1:].tolist()
        self.classes = ParityClasses(int(self.number.max()) + 1)
        for row, layer in tortillas.tolist():
            a, b = sides[row]
            self.classes.equate(self.literal(a, layer), self.literal(b, layer))
        # c lies between a and b where exactly one of "a above c", "b above c" holds; d must
        # then do the same.
        rows = (
            tuple(self.literal(x, y) for x in sides[i] for y in sides[j])
            for i, j in tacos.tolist()
        )
        self.evens = reduced(self.classes, rows)
        heads = np.array([self.classes.head(2 * k) for k in range(int(self.number.max()) + 1)])
        self.heads = heads[self.number] ^ np.tri(len(self.number), k=-1, dtype=np.intp)
        self.wishes = self._wishes(pattern)

    def literal(self, a: int, b: int) -> Literal:
        """Return the literal of "layer a is above layer b"."""
        return 2 * int(self.number[a, b]) + (a > b)

    def step(
        self, solver: Solver, known: dict[Cycle, None], ask: Ask, seconds: float
    ) -> tuple[dict[int, bool] | NoAnswer, bool]:
        """Solve once; return the answer and whether it is free of cycles.

        Parameters
        ----------
        solver
            Answers.
        known
            Cycles seen so far; those that the answer has are added to it.
        ask
            Seed, start and whether the wishes count.
        seconds
            Time for it.
        """
        wishes = self.wishes if ask.wish else {}
        found = solver(
            Conditions(self.evens, tuple(known), wishes),
            seconds=seconds,
            seed=ask.seed,
            near=ask.near,
        )
        if isinstance(found, NoAnswer):
            return found, False
        new = self._cycles(self.above(found))
        known.update(dict.fromkeys(new))
        return found, not new

    def solved(
        self, solver: Solver, known: dict[Cycle, None], ask: Ask, seconds: float
    ) -> dict[int, bool] | NoAnswer:
        """Solve again and again, each time from the last answer, until one is free of cycles."""
        end = clock.monotonic() + seconds
        while (left := end - clock.monotonic()) > 0:
            found, free = self.step(solver, known, ask, left)
            if free or isinstance(found, NoAnswer):
                return found
            ask = replace(ask, near=found)
        return NoAnswer(proven=False)

    def above(self, values: Mapping[int, bool]) -> NDArray[np.int8]:
        """Return the order of each two layers, (n, n), from values for the heads of classes."""
        true = np.zeros(int(self.number.max()) + 1, dtype=bool)
        true[[k for k, value in values.items() if value]] = True
        holds = true[self.heads >> 1] != (self.heads & 1).astype(bool)
        return np.where(self.number < 0, 0, np.where(holds, 1, -1)).astype(np.int8)

    def pleased(self, values: Mapping[int, bool]) -> float:
        """Return how well values meet the wishes."""
        return sum(w if values.get(k, False) else -w for k, w in self.wishes.items())

    def _wishes(self, pattern: CreasePattern) -> dict[int, float]:
        wished = wishes_of(pattern)
        found: dict[int, float] = {}
        for edge, left, right in self.layers.creases.tolist():
            fold, weight = wished[edge]
            right_above = (fold == "V") != bool(self.layers.flipped[left])
            literal = self.classes.head(self.literal(right, left))
            sign = 1 if right_above != bool(literal & 1) else -1
            found[literal >> 1] = found.get(literal >> 1, 0.0) + sign * weight
        return found

    def _cycles(self, above: NDArray[np.int8]) -> list[Cycle]:
        """Return triples over one point that go round in a circle, as literals not all equal."""
        up, held = above > 0, self.layers.held
        found = []
        for a in range(len(up)):
            # Each circle is met once, at its lowest number.
            below, over = np.flatnonzero(up[a]), np.flatnonzero(up[:, a])
            below, over = below[below > a], over[over > a]
            rows, columns = np.nonzero(up[np.ix_(below, over)])
            b, c = below[rows], over[columns]
            meet = (held[a] & held[b] & held[c]).any(axis=1)
            b, c = b[meet], c[meet]
            found.append(
                np.column_stack([self.heads[a, b], self.heads[b, c], self.heads[c, a]])
            )
        circles = np.unique(np.sort(np.concatenate(found), axis=1), axis=0)
        return [(x, y, z) for x, y, z in circles.tolist()]


def _numbered(
    layers: Layers, tortillas: NDArray[np.intp], tacos: NDArray[np.intp]
) -> NDArray[np.intp]:
    """Give a number to each pair of layers that meet or that a condition names."""
    meet = layers.overlap.copy()
    sides = layers.creases[:, 1:]
    meet[sides[:, 0], sides[:, 1]] = True
    for end in (0, 1):
        meet[sides[tortillas[:, 0], end], tortillas[:, 1]] = True
        for other in (0, 1):
            meet[sides[tacos[:, 0], end], sides[tacos[:, 1], other]] = True
    meet |= meet.T
    number = np.full(meet.shape, -1, dtype=np.intp)
    rows, columns = np.nonzero(np.triu(meet, 1))
    number[rows, columns] = number[columns, rows] = np.arange(len(rows))
    return number
