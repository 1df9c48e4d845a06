"""Searches one after the other, counted and reported, until they are done or interrupted."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, TypeVar

from packer.numbers import counted
from packer.search.pack import pack

if TYPE_CHECKING:
    from collections.abc import Callable

    from packer.model.packing import Packing
    from packer.model.problem import Problem
    from packer.search.options import SearchOptions
    from packer.search.pack import Progress

Subject = TypeVar("Subject")
Found = TypeVar("Found")


@dataclass(frozen=True)
class StepProgress:
    """How far a piece of work in steps is.

    Attributes
    ----------
    done, total
        Steps done, and steps of all.
    doing
        How the present step stands, in a few words; empty between two steps.
    """

    done: int
    total: int
    doing: str = ""


@dataclass
class Course:
    """Steps of a long piece of work; nothing more is begun once it is interrupted.

    Attributes
    ----------
    options
        Of each search; progress is told by a `StepProgress`.
    total, done
        Steps.
    proof
        As of `pack`.
    interrupted
        Whether a KeyboardInterrupt came.
    """

    options: SearchOptions
    total: int
    done: int = 0
    proof: float = 1.0
    interrupted: bool = False

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

    def end_unless(self, complete: bool) -> None:
        """Begin no further step where one was interrupted before it was complete."""
        self.interrupted = not complete

    def tell(self, doing: str) -> None:
        """Report what is done and what is being done."""
        if self.options.progress is not None:
            self.options.progress(StepProgress(self.done, self.total, doing))

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
    ) -> Packing:
        """Pack within the limits; a search that was interrupted gives its best until then.

        It begins from a packing `near`, where one is given; `options` and `proof` are others than
        the usual.
        """
        asked = replace(options or self.options, progress=self.telling(searching))
        work = self.proof if proof is None else proof
        packing = pack(problem, options=asked, near=near, proof=work)
        self.end_unless(packing.search.stopped != "interrupted")
        return packing


def searching(now: Progress) -> str:
    """Return in words how a search stands."""
    if not now.scale > 0:
        return "searching"
    return f"{counted(now.starts, 'start')}, scale {now.scale:.6g}"
