"""Ctrl-C while a compiled solver runs: the signal reaches Python only between its own steps."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor, wait
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable

Value = TypeVar("Value")


def interruptible(work: Callable[[], Value], stop: Callable[[], None]) -> Value:
    """Return what `work` returns, run in a thread of its own so that Ctrl-C reaches this one.

    Parameters
    ----------
    work
        Gives up Python's lock while it computes, as compiled solvers do.
    stop
        Called on a KeyboardInterrupt; makes `work` return soon. The interrupt is raised again
        once it has.
    """
    with ThreadPoolExecutor(1) as pool:
        future = pool.submit(work)
        try:
            while not wait([future], 0.1).done:
                pass
        except KeyboardInterrupt:
            stop()
            raise
        return future.result()
