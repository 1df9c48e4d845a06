"""Searches one after the other, counted and reported, until they are done or interrupted."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeVar

from packer.numbers import counted
from packer.search.pack import pack

if TYPE_CHECKING:
    from collections.abc import Callable
    from concurrent.futures import Executor

    from packer.model.packing import Packing
    from packer.model.problem import Problem
    from packer.search.pack import Progress

    Report = Callable[[int, int, str], None]

Subject = TypeVar("Subject")
Found = TypeVar("Found")


@dataclass(frozen=True)
class Limits:
    """What each search is given.

    Attributes
    ----------
    seed, starts, time, workers, executor, proof
        As in `pack`.
    """

    seed: int = 0
    starts: int | None = None
    time: float | None = None
    workers: int | None = None
    executor: Executor | None = None
    proof: float = 1.0


@dataclass
class Course:
    """Steps of a long piece of work; nothing more is begun once it is interrupted.

    Attributes
    ----------
    limits
        Of each search.
    report
        Called with the number of steps done, of all, and what is being done in a few words.
    total, done
        Steps.
    interrupted
        Whether a KeyboardInterrupt came.
    """

    limits: Limits
    report: Report | None
    total: int
    done: int = 0
    interrupted: bool = False

    def step(self, work: Callable[[Subject], Found | None], subject: Subject) -> Found | None:
        """Do one step and count it; what was interrupted before it found anything is None."""
        if self.interrupted:
            return None
        try:
            found = work(subject)
        except KeyboardInterrupt:
            self.interrupted = True
            return None
        self.done += 1
        self.tell("")
        return found

    def tell(self, doing: str) -> None:
        """Report what is done and what is being done."""
        if self.report is not None:
            self.report(self.done, self.total, doing)

    def packing(self, problem: Problem) -> Packing:
        """Pack within the limits; a search that was interrupted gives its best until then."""
        limits = self.limits
        found = pack(
            problem,
            seed=limits.seed,
            starts=limits.starts,
            time=limits.time,
            workers=limits.workers,
            executor=limits.executor,
            proof=limits.proof,
            progress=self.report and (lambda now: self.tell(searching(now))),
        )
        self.interrupted = found.search.stopped == "interrupted"
        return found


def searching(now: Progress) -> str:
    """Return in words how a search stands."""
    if not now.scale > 0:
        return "searching"
    return f"{counted(now.starts, 'start')}, scale {now.scale:.6g}"
