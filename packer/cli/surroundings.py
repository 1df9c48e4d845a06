"""The terminal, pipe or file that a run talks to, whatever state it is in."""

from __future__ import annotations

import errno
import io
import logging
import os
import sys
from pathlib import Path

DISCARD = Path(os.devnull)

STUMBLE = {"strict", "surrogateescape"}
"""How streams deal with letters they lack that ends in an error; the second in the locale C."""


def prepare() -> None:
    """Make stdout and stderr fit to print any text, and keep other packages' notes off them.

    A stream that was closed is opened on nothing. One that cannot show a letter shows its escape.
    matplotlib tells of a home that cannot be read and of settings it does not know, none of which
    a user of packer can do anything about.
    """
    logging.getLogger("matplotlib").setLevel(logging.CRITICAL)
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if stream is None:
            setattr(sys, name, DISCARD.open("w", encoding="utf-8"))
        elif isinstance(stream, io.TextIOWrapper) and stream.errors in STUMBLE:
            stream.reconfigure(errors="backslashreplace")


def finish() -> str:
    """Send off what was printed; return why it could not be sent, "" where it was.

    A reader that has had enough, such as ``head``, is no fault.
    """
    try:
        sys.stdout.flush()
    except OSError as error:
        return given_up(error)
    return ""


def is_of_output(error: OSError) -> bool:
    """Return whether an error can come of printing: a stream names no file."""
    kinds = {errno.EPIPE, errno.ENOSPC, errno.EIO, errno.EBADF, errno.EFBIG, errno.EDQUOT}
    return error.filename is None and error.errno in kinds


def given_up(error: OSError) -> str:
    """Print nothing more on stdout, which failed; return why, "" where its reader left."""
    number = os.open(DISCARD, os.O_WRONLY)
    try:
        os.dup2(number, sys.stdout.fileno())
    except (OSError, ValueError):  # a stream without a file of its own
        sys.stdout = DISCARD.open("w", encoding="utf-8")
    finally:
        os.close(number)
    return "" if isinstance(error, BrokenPipeError) else str(error.strerror or error)
