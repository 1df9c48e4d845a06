"""Who does the work: this process for a moment, then processes of its own, or any executor."""

from __future__ import annotations

import os
import signal
import sys
import threading
import warnings
from concurrent.futures import (
    BrokenExecutor,
    CancelledError,
    Executor,
    Future,
    ProcessPoolExecutor,
)
from multiprocessing import get_context, parent_process
from typing import TYPE_CHECKING, Any, Final, Self

from packer.deadline import Deadline
from packer.errors import SearchError

if TYPE_CHECKING:
    from collections.abc import Callable

ALONE: Final = 0.5
"""Seconds for which this process works by itself: starting others would take as long."""

WATCH: Final = 1.0
"""Seconds between two looks of a worker at whether the process that leads is still there."""

MOST_LOSSES: Final = 3
"""Lost legs for each worker, with no result between them, after which a search gives up."""


def processors() -> int:
    """Return how many processors this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


class WorkerPool:
    """Workers as a context: processes are started late and ended with it.

    Parameters
    ----------
    count
        How many legs run at once; the processors by default.
    executor
        Any executor; it is used from the first leg and left running.
    """

    def __init__(self, count: int | None = None, executor: Executor | None = None) -> None:
        self.given = executor
        self.count = count or _size_of(executor) or processors()
        self.here = Deadline.after(ALONE)
        self.own: Executor | None = None
        self.losses = 0
        self.homes: dict[Future[Any], Executor] = {}

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *exc: object) -> None:
        if self.own is not None:
            self.own.shutdown(wait=False, cancel_futures=True)

    @property
    def elsewhere(self) -> bool:
        """Whether tasks run beside this process by now."""
        return self.given is not None or self.own is not None

    @property
    def alone(self) -> bool:
        """Whether this process does all the work."""
        return self.given is None and self.count == 1

    def submit(self, task: Callable[..., Any], *args: Any) -> Future[Any]:
        """Have one task done, here or elsewhere."""
        if self.given is not None:
            return self.given.submit(task, *args)
        if self.own is None:
            if self.count == 1 or not self.here.over:
                future: Future[Any] = Future()
                future.set_result(task(*args))
                return future
            self.own = _processes(self.count)
        future = self.own.submit(task, *args)
        self.homes[future] = self.own
        return future

    def result(self, future: Future[Any]) -> Any:
        """Return a task's result, None where its worker was lost.

        A pool of processes that broke is replaced. Other executors report a lost worker by errors
        of their own, so any error counts as a loss, up to `MOST_LOSSES` in a row.
        """
        home = self.homes.pop(future, None)
        try:
            result = future.result()
        except (BrokenExecutor, OSError):
            if home is not None and home is self.own:
                self.own = None
            self._count_loss()
            return None
        except (Exception, CancelledError):
            if self.given is None:
                raise
            self._count_loss()
            return None
        self.losses = 0
        return result

    def _count_loss(self) -> None:
        self.losses += 1
        if self.losses > MOST_LOSSES * self.count:
            raise SearchError(
                f"{self.losses} workers were lost one after the other; look at their own messages, "
                "or search with fewer workers"
            )


def _size_of(executor: Executor | None) -> int | None:
    size = getattr(executor, "_max_workers", None)
    return size if isinstance(size, int) else None


def _processes(count: int) -> Executor:
    """Return a pool that forks where that is safe: scripts then need no ``if __name__`` guard."""
    context = get_context("fork") if sys.platform == "linux" else None
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)
        return ProcessPoolExecutor(
            count, mp_context=context, initializer=_follow, initargs=(os.getpid(),)
        )


def _follow(leader: int) -> None:
    """Leave Ctrl-C to the parent process, and end when it ends, even where it was killed."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=end_with, args=(leader,), daemon=True).start()


def end_with(leader: int) -> None:
    """End this process once its parent has ended.

    A worker that waits for work would wait for ever: forked siblings keep each other's pipes open,
    so that none of them is told of the end. On POSIX an orphan gets another parent, which shows in
    its parent's number; where that number stays, the handle of the parent process tells.
    """
    parent = parent_process()
    while parent is not None and parent.is_alive() and os.getppid() == leader:
        parent.join(WATCH)
    os._exit(1)
