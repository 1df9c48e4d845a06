"""A layer order of the whole flat base: for any two layers that overlap, which one is above.

An order is valid where no layer passes through another. Finding one is hard in general (Bern &
Hayes, "The complexity of flat origami", SODA 1996). Here the unknowns are first joined by
parity; a constraint solver finds the rest, with transitivity added only where an answer breaks
it. Each root of the base has other flat hinges and so asks another question: one root may have
no order where the next has.
"""

from __future__ import annotations

import time as clock
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

from packer.creases.mountain_valley import assigned
from packer.folded.form import centre_of, fold
from packer.folded.order_search import NoAnswer, best_solver
from packer.folded.overlaps import layers_of
from packer.folded.parity import Contradiction
from packer.folded.question import Ask, Question

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    import numpy as np
    from numpy.typing import NDArray

    from packer.creases.pattern import CreasePattern
    from packer.folded.form import FoldedForm
    from packer.folded.order_search import Cycle, Solver
    from packer.folded.overlaps import Layers

Status = Literal["valid layer order", "foldable at every vertex, layer order not found"]

FIRST_WISHES: Final = 2
"""Answers to the wishes asked for before any order will do.

On a pattern of 500 creases, two of them and repairs took 5 s; repairs from nothing 19 s.
"""

FIRST_SHARE: Final = 0.3
"""Share of the time that one of these answers may take.

They take 1 to 2 s on patterns of 200 to 500 creases, but one of 309 creases took 8 s for its second
answer, where repairs of the first take 2.
"""

WISHING: Final = 0.2
"""Share of the time that may go into better-liked folds once a valid order is known.

Of four settled patterns two of 205 and 238 creases met the wishes in 1 to 2 s (415 of 443, 469 of
509, by weight; 119 and 265 before); two of 331 and 432 creases did not get there in 7 s.
"""


@dataclass(frozen=True, eq=False)
class LayerOrder:
    """A valid order of the layers of a folded form.

    Attributes
    ----------
    layers
        The layers ordered.
    above
        (n, n) int8: +1 where the row's layer lies above the column's, -1 below, 0 where they
        never meet.
    """

    layers: Layers
    above: NDArray[np.int8]

    def of_faces(self) -> NDArray[np.int8]:
        """Return (f, f) the same for the pattern's own faces, by the layers they belong to."""
        of = self.layers.layer_of
        return self.above[of[:, None], of]


@dataclass(frozen=True, eq=False)
class FlatBase:
    """A pattern with its folds, the form it folds into, and its layer order if one was found.

    Attributes
    ----------
    pattern
        With "M", "V" and "F" where an order was found, else with every crease "U".
    form
        The folded form at the root that was used.
    order
        None where no order was found in the time given.
    seconds
        Taken.
    roots
        How many roots were tried.
    solver
        Which solver was used.
    """

    pattern: CreasePattern
    form: FoldedForm
    order: LayerOrder | None
    seconds: float = 0.0
    roots: int = 0
    solver: str = ""

    @property
    def status(self) -> Status:
        """What was found, in words that claim no more than was checked."""
        if self.order is None:
            return "foldable at every vertex, layer order not found"
        return "valid layer order"


def flat_base(
    pattern: CreasePattern,
    *,
    time: float = 60.0,
    seed: int = 0,
    solver: Solver | None = None,
    progress: Callable[[str], None] | None = None,
) -> FlatBase:
    """Find mountain, valley and a valid layer order for a pattern.

    Parameters
    ----------
    pattern
        The creases; folds that it may have are decided anew.
    time
        Seconds after which the search gives up.
    seed
        Of the solver; the same seed gives the same order unless time runs out.
    solver
        `packer.folded.order_search.best_solver` by default.
    progress
        Called with a few words whenever something new is tried.

    Returns
    -------
    FlatBase
        After a KeyboardInterrupt with the order known until then, or with none.
    """
    begun = clock.monotonic()
    solver = solver or best_solver()
    roots = 0
    try:
        for root in joints_outwards(pattern):
            left = begun + time - clock.monotonic()
            if left <= 0:
                break
            roots += 1
            if progress is not None:
                progress(f"layer order, root {roots}")
            form = fold(pattern, root)
            order = _order(pattern, form, solver, left, seed)
            if order is not None:
                decided = pattern.with_folds(folds_of(pattern, form, order))
                seconds = clock.monotonic() - begun
                return FlatBase(decided, form, order, seconds, roots, solver.name)
    except KeyboardInterrupt:
        pass  # without an order, which the status says
    plain = pattern.with_folds(["B" if role == "border" else "U" for role in pattern.roles])
    seconds = clock.monotonic() - begun
    return FlatBase(plain, fold(plain), None, seconds, roots, solver.name)


def joints_outwards(pattern: CreasePattern) -> Iterator[int]:
    """Yield the joints of the pattern's tree, its centre first, neighbours before others."""
    order = [centre_of(pattern)]
    for node in order:
        yield node
        for other, _ in pattern.tree.neighbours[node]:
            if other >= pattern.tree.n_tips and other not in order:
                order.append(other)


def folds_of(
    pattern: CreasePattern, form: FoldedForm, order: LayerOrder
) -> tuple[Literal["B", "M", "V", "F", "U"], ...]:
    """Return the fold of every edge under a layer order."""
    left, right = order.layers.layer_of[pattern.edge_faces].T
    return assigned(
        pattern, form.folded, order.layers.flipped[left], order.above[right, left] > 0
    )


def _order(
    pattern: CreasePattern, form: FoldedForm, solver: Solver, seconds: float, seed: int
) -> LayerOrder | None:
    """Find an order near the folds wished for, then one whose folds are liked better.

    The wishes alone give an answer with few cycles; from there the nearest valid order is found
    quickly, and a better-liked one in the time left.
    """
    end = clock.monotonic() + seconds
    layers = layers_of(pattern, form)
    known: dict[Cycle, None] = {}
    try:
        question = Question(pattern, form, layers)
    except Contradiction:
        return None
    ask = Ask(seed, wish=True)
    for _ in range(FIRST_WISHES):
        left = min(FIRST_SHARE * seconds, end - clock.monotonic())
        found, free = question.step(solver, known, ask, left)
        if isinstance(found, NoAnswer):
            if found.proven:
                return None
            break
        if free:
            return LayerOrder(layers, question.above(found))
        ask = Ask(seed, wish=True, near=found)
    any_order = Ask(seed, wish=False, near=ask.near)
    found = question.solved(solver, known, any_order, end - clock.monotonic())
    if isinstance(found, NoAnswer):
        return None
    left = min(WISHING * seconds, end - clock.monotonic())
    try:
        liked = question.solved(solver, known, Ask(seed, wish=True, near=found), left)
    except KeyboardInterrupt:
        liked = NoAnswer(proven=False)
    if not isinstance(liked, NoAnswer) and question.pleased(liked) > question.pleased(found):
        found = liked
    return LayerOrder(layers, question.above(found))
