"""The layer order of a flat state, by the solver, with the folds of the pattern where they hold."""

from __future__ import annotations

import time as clock
from typing import TYPE_CHECKING

from packer.folded.layers import LayerOrder
from packer.folded.order_search import NoAnswer, best_solver
from packer.folded.overlaps import layers_of
from packer.folded.parity import Contradiction
from packer.folded.question import Ask, Question

if TYPE_CHECKING:
    from packer.creases.pattern import CreasePattern
    from packer.folded.form import FoldedForm
    from packer.folded.order_search import Cycle


def layer_order(
    pattern: CreasePattern, form: FoldedForm, seconds: float, seed: int = 0
) -> LayerOrder | None:
    """Return a valid order of the layers of any flat-folded form, near the pattern's own folds.

    Parameters
    ----------
    pattern
        The creases; mountains and valleys that it has are wishes, not conditions.
    form
        Where its faces lie; any edges may be folded.
    seconds
        Time for it.
    seed
        Of the solver.

    Returns
    -------
    LayerOrder or None
        None where none was found in the time, or there is none.
    """
    end = clock.monotonic() + seconds
    layers = layers_of(pattern, form)
    try:
        question = Question(pattern, form, layers)
    except Contradiction:
        return None
    if pattern.decided:
        question.wishes = _own_folds(question, pattern)
    solver = best_solver()
    known: dict[Cycle, None] = {}
    liked = question.solved(solver, known, Ask(seed, wish=True), (end - clock.monotonic()) / 2)
    if isinstance(liked, NoAnswer):
        liked = question.solved(solver, known, Ask(seed), end - clock.monotonic())
    return None if isinstance(liked, NoAnswer) else LayerOrder(layers, question.above(liked))


def _own_folds(question: Question, pattern: CreasePattern) -> dict[int, float]:
    """Return what each unknown is worth when true, by the pattern's own mountains and valleys."""
    worth: dict[int, float] = {}
    for edge, left, right in question.layers.creases.tolist():
        fold = pattern.folds[edge]
        if fold in {"M", "V"}:
            right_above = (fold == "V") != bool(question.layers.flipped[left])
            literal = question.classes.head(question.literal(right, left))
            sign = 1 if right_above != bool(literal & 1) else -1
            worth[literal >> 1] = worth.get(literal >> 1, 0.0) + sign
    return worth
