"""A process beside the server: it works while the page stays quick, and ends when either ends.

What it does is a plain function that is given a pipe. It is started anew and not forked, since the
server runs threads; it watches the server as the workers of a search watch their leader, so that
none is left behind, however the server ends.
"""

from __future__ import annotations

import os
import signal
import threading
from multiprocessing import get_context
from typing import TYPE_CHECKING, Any, Final

from packer.search.parallel.executors import end_with

if TYPE_CHECKING:
    from collections.abc import Callable
    from multiprocessing.connection import Connection

GRACE: Final = 3.0
"""Seconds that a process is given to end by itself before it is ended."""


class ChildProcess:
    """A process that runs one function, and what goes to and fro.

    Parameters
    ----------
    work
        Called in the process with its end of the pipe and the arguments.
    hears
        Called here, in a thread, with everything that the process sends; with None at its end.
    arguments
        Further arguments of `work`; anything that pickles.
    """

    def __init__(
        self,
        work: Callable[..., None],
        hears: Callable[[Any], None],
        arguments: tuple[Any, ...] = (),
    ) -> None:
        context = get_context("spawn")
        self.pipe, theirs = context.Pipe()
        self.process = context.Process(
            target=_run, args=(work, theirs, os.getpid(), arguments), daemon=True
        )
        self.process.start()
        theirs.close()
        self.hears = hears
        self.thread = threading.Thread(target=self._listen, daemon=True)
        self.thread.start()

    def _listen(self) -> None:
        while True:
            try:
                told = self.pipe.recv()
            except (EOFError, OSError):
                break
            self.hears(told)
        self.hears(None)

    def send(self, value: object) -> None:
        """Send something to the process; nothing happens where it has ended."""
        try:
            self.pipe.send(value)
        except OSError:
            return

    def interrupt(self) -> None:
        """Ask the process to end what it does and to hand over its best, as Ctrl-C does."""
        if self.process.is_alive() and self.process.pid is not None:
            os.kill(self.process.pid, signal.SIGINT)

    def end(self) -> None:
        """End the process, whatever it does."""
        self.process.terminate()
        self.process.join(GRACE)
        if self.process.is_alive():
            self.process.kill()
            self.process.join()
        self.pipe.close()


def _run(
    work: Callable[..., None], pipe: Connection, leader: int, arguments: tuple[Any, ...]
) -> None:
    """Run in the process: follow the server to its end, then do the work."""
    os.setpgid(0, 0)  # Ctrl-C at the terminal is the server's; it ends this one in order
    signal.signal(signal.SIGINT, signal.default_int_handler)
    threading.Thread(target=end_with, args=(leader,), daemon=True).start()
    try:
        work(pipe, *arguments)
    except (EOFError, BrokenPipeError, KeyboardInterrupt):
        return
