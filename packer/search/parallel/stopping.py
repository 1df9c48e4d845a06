"""When a search ends: small rules, asked after each completed start.

Rules see the completed starts in their order, whichever worker was first, so that what they
decide does not hang on the number of workers.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from packer.units import SAME_SCALE

if TYPE_CHECKING:
    from collections.abc import Sequence


class StoppingRule(Protocol):
    """A reason to stop, or none."""

    def __call__(self, scales: Sequence[float]) -> str:
        """Return why to stop after these starts' scales, in order; empty to go on."""
        ...


@dataclass(frozen=True)
class MaxStarts:
    """Stop after so many starts."""

    starts: int

    def __call__(self, scales: Sequence[float]) -> str:
        """Return "starts" once there are enough."""
        return "starts" if len(scales) >= self.starts else ""


@dataclass(frozen=True)
class NoImprovement:
    """Stop when the last so many starts did not beat those before."""

    patience: int

    def __call__(self, scales: Sequence[float]) -> str:
        """Return "no improvement" where the best is old enough."""
        if len(scales) <= self.patience:
            return ""
        old = max(scales[: -self.patience])
        fresh = max(scales[-self.patience :])
        return "no improvement" if fresh <= old * (1 + SAME_SCALE) else ""


def first_reason(rules: Sequence[StoppingRule], scales: Sequence[float]) -> str:
    """Return the reason of the first rule that has one."""
    return next((why for rule in rules if (why := rule(scales))), "")


def hits_of(scales: Sequence[float]) -> int:
    """Return how many starts reached the best scale."""
    best = max(scales, default=0.0)
    return sum(scale >= best * (1 - SAME_SCALE) for scale in scales)
