"""The upper bound beside the search: quick rules at once, the long proof by another worker."""

from __future__ import annotations

import time
from concurrent.futures import TimeoutError as LateError
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

from packer.search.bounds.best import quick_bound, upper_bound

if TYPE_CHECKING:
    from concurrent.futures import Future

    from packer.packing import Bound, Packing
    from packer.problem import Problem
    from packer.search.workers import Workers

PROOF_SECONDS: Final = 5.0
"""CPU seconds for a proof at most."""
CLOSED: Final = 1e-6
"""Relative gap at which a search has nothing left to find that a designer could see."""
SHARE: Final = 0.25
"""Share of a given time, or of the time that a search took alone, that goes into the proof."""


@dataclass
class Proof:
    """What is proven so far about the largest scale, and the work on it.

    Parameters
    ----------
    problem
        What is packed.
    seconds
        Time of the whole search; infinite where nobody said.
    """

    problem: Problem
    seconds: float
    bound: Bound = field(init=False)
    work: Future[Bound] | None = None
    asked: bool = False
    began: float = 0.0

    def __post_init__(self) -> None:
        self.bound = quick_bound(self.problem)

    @property
    def budget(self) -> float:
        """CPU seconds for the long proof."""
        return min(PROOF_SECONDS, SHARE * self.seconds)

    def ask(self, crew: Workers, best: Packing) -> None:
        """Give the long proof to another worker, once."""
        if not self.asked:
            self.asked, self.began = True, time.monotonic()
            self.work = crew.submit(upper_bound, self.problem, self.budget, best)

    def hear(self, crew: Workers) -> None:
        """Take over what the other worker has proven, if it is done."""
        if self.work is not None and self.work.done():
            found = crew.result(self.work)
            self.work = None
            if found is not None and found.scale < self.bound.scale:
                self.bound = found

    def finish(self, crew: Workers, best: Packing, elapsed: float) -> None:
        """Wait for the other worker within its time, or prove a little here."""
        if self.closed_by(best.scale):
            return
        if self.work is None:
            if self.asked:
                return
            budget = min(self.budget, SHARE * elapsed)
            self.bound = min(
                self.bound, upper_bound(self.problem, budget, best), key=lambda b: b.scale
            )
            return
        try:
            left = self.began + self.budget - time.monotonic()
            self.work.result(timeout=max(left, 0.0) + 0.5)
        except LateError:
            return
        self.hear(crew)

    def closed_by(self, scale: float) -> bool:
        """Whether a scale is as good as the bound."""
        return self.bound.scale <= scale * (1 + CLOSED)

    def leave(self) -> None:
        """Stop waiting."""
        if self.work is not None:
            self.work.cancel()
