"""How a search is run: one value that every searching function takes."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from packer.deadline import Deadline
from packer.errors import OptionError
from packer.limits import SEED
from packer.search.stopping import BY_ITSELF, MaxEffort, ProvenOptimal, StoppingRule, TimeLimit

if TYPE_CHECKING:
    from collections.abc import Callable
    from concurrent.futures import Executor


@dataclass(frozen=True)
class SearchOptions:
    """Seed, stopping rules and workers of a search.

    Attributes
    ----------
    seed
        The same seed gives the same result, whatever the number of workers, unless the clock ends
        the search.
    stop
        One stopping rule or several, of which the first that holds ends the search. Without any,
        each function ends by the rules that its own description names.
    workers
        Processes to use; one for each processor by default.
    executor
        Any executor to use instead, such as a cluster's.
    progress
        Called now and then with a record of what is reached, of the kind that the function names.

    Raises
    ------
    OptionError
        Where the number of workers is not above zero or `stop` holds something that is no rule.

    Examples
    --------
    >>> from packer import SearchOptions, MaxStarts, TimeLimit
    >>> options = SearchOptions(seed=7, stop=(MaxStarts(20), TimeLimit(60)))
    """

    seed: int = 0
    stop: StoppingRule | tuple[StoppingRule, ...] = ()
    workers: int | None = None
    executor: Executor | None = None
    progress: Callable[[Any], None] | None = None

    def __post_init__(self) -> None:
        if self.workers is not None and not self.workers > 0:
            raise OptionError(
                f"{self.workers} workers do no work; write a number above zero", "workers"
            )
        if not SEED.hold(self.seed):
            raise OptionError(f"{self.seed} is no seed; write a whole number {SEED}", "seed")
        for rule in self.rules:
            if not callable(getattr(rule, "reason", None)):
                raise OptionError(
                    f"{rule!r} is no stopping rule; write one such as MaxStarts(20) or "
                    "TimeLimit(60)",
                    "stop",
                )

    @property
    def rules(self) -> tuple[StoppingRule, ...]:
        """The stopping rules; empty where none is given."""
        return self.stop if isinstance(self.stop, tuple) else (self.stop,)

    @property
    def repeats(self) -> bool:
        """Whether counting and not the clock ends the search, so that it and its proof repeat."""
        counting = any(not isinstance(rule, TimeLimit | ProvenOptimal) for rule in self.rules)
        return counting and not any(isinstance(rule, ProvenOptimal) for rule in self.rules)

    def or_stop(self, *rules: StoppingRule) -> SearchOptions:
        """Return the options with these stopping rules where none is given."""
        return self if self.rules else replace(self, stop=rules)

    def by_itself(self) -> SearchOptions:
        """Return the options with the usual stopping rules where none is given."""
        return self.or_stop(*BY_ITSELF)

    def deadline(self) -> Deadline:
        """Return the deadline of a search that begins now: the shortest of the time limits."""
        limits = [rule.seconds for rule in self.rules if isinstance(rule, TimeLimit)]
        return Deadline.after(min(limits, default=math.inf))

    def effort(self, usual: float) -> float:
        """Return the deterministic seconds granted to exact solvers, or what is usual."""
        limits = [rule.effort for rule in self.rules if isinstance(rule, MaxEffort)]
        return min(limits, default=usual)
