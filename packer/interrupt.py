"""Ctrl-C while a compiled solver runs: the signal reaches Python only between its own steps."""

from __future__ import annotations

from concurrent.futures import Future, ThreadPoolExecutor, wait
from threading import Thread
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


def abandonable(work: Callable[[], Value]) -> Value:
    """Return what `work` returns, but leave it alone on Ctrl-C.

    For solvers that nothing can stop. The interrupt is raised at once; the work goes on to its own
    limits in a thread that ends with the program.

    Parameters
    ----------
    work
        Gives up Python's lock while it computes, as compiled solvers do.
    """
    future: Future[Value] = Future()

    def run() -> None:
        try:
            future.set_result(work())
        except BaseException as error:  # noqa: BLE001 - raised where it is waited for
            future.set_exception(error)

    Thread(target=run, daemon=True).start()
    while not wait([future], 0.1).done:
        pass
    return future.result()
