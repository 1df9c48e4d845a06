"""Searches one after the other, counted and reported, until they are done or interrupted."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Final, TypeVar

from packer.numbers import counted
from packer.search.pack import pack
from packer.search.stopping import TimeLimit

if TYPE_CHECKING:
    from collections.abc import Callable

    from packer.deadline import Deadline
    from packer.model.packing import Bound, Packing
    from packer.model.problem import Problem
    from packer.search.options import SearchOptions
    from packer.search.pack import Progress

Subject = TypeVar("Subject")
Found = TypeVar("Found")

STEP_SECONDS: Final = 40.0
"""Most time for each step where nothing is said; small figures end far sooner."""

LEAST_SECONDS: Final = 1e-3
"""Time that a search is given at least: it then ends with its first packings."""


@dataclass(frozen=True)
class StepProgress:
    """How far a piece of work in steps is.

    Attributes
    ----------
    done, total
        Steps done, and steps of all.
    doing
        How the present step stands, in a few words; empty between two steps.
    seconds
        The time for all steps; None where nothing limits it.
    """

    done: int
    total: int
    doing: str = ""
    seconds: float | None = None


@dataclass
class Course:
    """Steps of a long piece of work; nothing more is begun once it is interrupted.

    A time limit is for all steps together. Each gets an equal part of it, so that a comparison is
    fair; what one leaves over is saved.

    Attributes
    ----------
    options
        Of each search, but for the time limit; progress is told by a `StepProgress`.
    total, done
        Steps.
    proof
        As of `pack`.
    interrupted
        Whether a KeyboardInterrupt came.
    late
        Whether the time was over before a step that is of use only beside another.
    """

    options: SearchOptions
    total: int
    done: int = 0
    proof: float = 1.0
    interrupted: bool = False
    late: bool = False
    deadline: Deadline = field(init=False)

    def __post_init__(self) -> None:
        self.deadline = self.options.deadline()
        self.tell("")

    def part(self) -> Deadline:
        """Return the deadline of a step that begins now: its part of the time for all."""
        if not self.deadline.limited:
            return self.deadline
        equal = self.deadline.total / self.total
        left = self.deadline.left / max(1, self.total - self.done)
        return self.deadline.within(min(equal, left))

    def step(self, work: Callable[[Subject], Found | None], subject: Subject) -> Found | None:
        """Do one step and count it; None where it was interrupted before there was a result."""
        if self.interrupted:
            return None
        try:
            result = work(subject)
        except KeyboardInterrupt:
            self.interrupted = True
            return None
        self.done += 1
        self.tell("")
        return result

    def step_in_time(
        self, work: Callable[[Subject], Found | None], subject: Subject
    ) -> Found | None:
        """Do one step that can be left out: counted, but not begun once the time is over."""
        if not self.deadline.over:
            return self.step(work, subject)
        self.late = True
        self.done += 1
        return None

    def end_unless(self, complete: bool) -> None:
        """Begin no further step where one was interrupted before it was complete."""
        self.interrupted = not complete

    def tell(self, doing: str) -> None:
        """Report what is done and what is being done."""
        if self.options.progress is not None:
            seconds = self.deadline.total if self.deadline.limited else None
            self.options.progress(StepProgress(self.done, self.total, doing, seconds))

    def telling(self, words: Callable[[Any], str]) -> Callable[[Any], None] | None:
        """Return a listener for one step, which tells in words how the step stands."""
        if self.options.progress is None:
            return None
        return lambda now: self.tell(words(now))

    def packing(
        self,
        problem: Problem,
        near: Packing | None = None,
        options: SearchOptions | None = None,
        proof: float | None = None,
        known: Bound | None = None,
    ) -> Packing:
        """Pack within the limits; a search that was interrupted gives its best until then.

        It begins from a packing `near`, where one is given; `options`, but for their time limit,
        and `proof` are others than the usual; `known` is a bound proven already.
        """
        asked = options or self.options
        rules = tuple(rule for rule in asked.rules if not isinstance(rule, TimeLimit))
        if self.deadline.limited:
            rules += (TimeLimit(max(LEAST_SECONDS, self.part().left)),)
        asked = replace(asked, stop=rules, progress=self.telling(searching))
        work = self.proof if proof is None else proof
        packing = pack(problem, options=asked, near=near, proof=work, known=known)
        self.end_unless(packing.search.stopped != "interrupted")
        return packing


def searching(now: Progress) -> str:
    """Return in words how a search stands."""
    if not now.scale > 0:
        return "searching"
    return f"{counted(now.tried, 'packing')} tried, scale {now.scale:.6g}"
