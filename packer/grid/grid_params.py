"""The constants of the grid search, as a value that an experiment can vary."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True)
class GridSearchParams:
    """Constants of the search for the least grid.

    ``pack_grid(..., params=replace(DEFAULT, orders=8))`` varies one of them; most rest on the few
    trials in `tests/benchmarks/trials.md`. All efforts are deterministic seconds of the exact
    solver; tips are counted with twins as one.

    Attributes
    ----------
    orders
        Random orders of the greedy filling that are tried on each grid.
    shuffle
        Random factors of the weights by which the filling orders tips lie between these; not
        varied.
    filling_step, late_filling_step
        The next grid tried by the greedy filling is larger by this fraction of its number, with
        and without time left.
    neighbourhood
        Tips placed anew in one step of the large neighbourhood search, or a few more.
    distance_factors
        Random factors of the distances by which these tips are chosen lie between these; not
        varied.
    sideways
        Share of these steps that ask for no smaller grid, so that other tips become free to move.
    step_effort
        Effort of one such step.
    proofs_up_to
        Tips up to which proofs are attempted in earnest.
    patience
        Steps without a smaller grid, for each tip, after which the exact search has its turn.
    exact_effort
        Effort of the exact search in the first round; it doubles from round to round.
    subset, subset_step
        Tips in the first subset by which a grid is refuted, and how many more in the next.
    subset_effort
        Effort of one such proof.
    model_effort
        Effort charged for building a model, for each pair of tips.
    joining
        Share of the whole effort that is spent once more on each grid to join rivers there.
    larger_for_whole_rivers
        Factor by which a grid may become larger so that rivers are whole.
    """

    orders: int = 2
    shuffle: tuple[float, float] = (0.6, 1.4)
    filling_step: float = 1 / 30
    late_filling_step: float = 1 / 4
    neighbourhood: int = 8
    distance_factors: tuple[float, float] = (0.5, 1.5)
    sideways: float = 0.3
    step_effort: float = 0.5
    proofs_up_to: int = 24
    patience: float = 0.25
    exact_effort: float = 16.0
    subset: int = 6
    subset_step: int = 2
    subset_effort: float = 0.25
    model_effort: float = 1e-4
    joining: float = 0.1
    larger_for_whole_rivers: float = 1.15


DEFAULT: Final = GridSearchParams()
"""The constants in use."""
