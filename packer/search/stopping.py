"""Stopping rules: small values with one method, which names the reason to stop.

The rules that count starts see the completed starts in their order, whichever worker was first, so
that what they decide does not depend on the number of workers. Those that look at the clock, or at
a proof that runs beside the search, give another result on another machine.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Protocol

from packer.errors import OptionError
from packer.units import SAME_SCALE

if TYPE_CHECKING:
    from collections.abc import Sequence


@dataclass(frozen=True)
class SearchState:
    """What a stopping rule may look at.

    Attributes
    ----------
    scales
        The best scale of each completed start, in the order of the starts.
    seconds
        Elapsed time.
    effort
        Deterministic seconds that exact solvers have used.
    proven
        Whether nothing better can exist.
    """

    scales: Sequence[float] = ()
    seconds: float = 0.0
    effort: float = 0.0
    proven: bool = False


class StoppingRule(Protocol):
    """A rule that says when a search has done enough."""

    def reason(self, state: SearchState) -> str:
        """Return why to stop, in a word or two; empty to go on."""
        ...


def _check(value: float, entry: str) -> None:
    if not value > 0:
        raise OptionError(f"{value} is no limit; write a number above zero", entry)


@dataclass(frozen=True)
class TimeLimit:
    """Stop after so many seconds of elapsed time."""

    seconds: float

    def __post_init__(self) -> None:
        _check(self.seconds, "time")

    def reason(self, state: SearchState) -> str:
        """Return "time" once it is up."""
        return "time" if state.seconds >= self.seconds else ""


@dataclass(frozen=True)
class MaxStarts:
    """Stop after so many completed starts."""

    starts: int

    def __post_init__(self) -> None:
        _check(self.starts, "starts")

    def reason(self, state: SearchState) -> str:
        """Return "starts" once there are enough."""
        return "starts" if len(state.scales) >= self.starts else ""


@dataclass(frozen=True)
class NoImprovement:
    """Stop when the last so many starts did not beat those before."""

    starts: int = 1

    def __post_init__(self) -> None:
        _check(self.starts, "patience")

    def reason(self, state: SearchState) -> str:
        """Return "no improvement" where the best is old enough."""
        scales = state.scales
        if len(scales) <= self.starts:
            return ""
        old = max(scales[: -self.starts])
        fresh = max(scales[-self.starts :])
        return "no improvement" if fresh <= old * (1 + SAME_SCALE) else ""


@dataclass(frozen=True)
class ProvenOptimal:
    """Stop as soon as the proven bound meets the best packing, whenever the proof comes.

    A packing that meets the quick bounds ends every search; this rule is about the long proof that
    another worker makes meanwhile, and so about the clock.
    """

    def reason(self, state: SearchState) -> str:
        """Return "proven" where nothing better can exist."""
        return "proven" if state.proven else ""


@dataclass(frozen=True)
class MaxEffort:
    """Stop after so many deterministic seconds of exact solving: the same on every machine."""

    effort: float

    def __post_init__(self) -> None:
        _check(self.effort, "effort")

    def reason(self, state: SearchState) -> str:
        """Return "effort" once it is spent."""
        return "effort" if state.effort >= self.effort else ""


BY_ITSELF: Final = (NoImprovement(1), TimeLimit(40.0))
"""How a search ends where nothing is said: after a start without improvement, or 40 seconds."""


def first_reason(rules: Sequence[StoppingRule], state: SearchState) -> str:
    """Return the reason of the first rule that has one."""
    return next((why for rule in rules if (why := rule.reason(state))), "")


def hits_of(scales: Sequence[float]) -> int:
    """Return how many starts reached the best scale."""
    best = max(scales, default=0.0)
    return sum(scale >= best * (1 - SAME_SCALE) for scale in scales)
