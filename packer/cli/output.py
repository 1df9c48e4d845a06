"""What commands print and save: results to stdout, all else to stderr, files whole or not at all."""

from __future__ import annotations

import contextlib
import json
import re
import shutil
import sys
import threading
import unicodedata
from typing import TYPE_CHECKING, Final

from packer.deadline import Deadline
from packer.files.write import check_free, stands_at, write_files

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path
    from types import TracebackType
    from typing import Self

__all__ = [
    "ProgressLine",
    "check_free",
    "note",
    "print_json",
    "print_table",
    "save",
    "visible",
    "warn",
]

_HIDDEN = {"Cc", "Cs", "Zl", "Zp"}
_TURNING = set("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


def visible(text: str) -> str:
    """Return text in which nothing can move a terminal's cursor: such characters are escaped."""
    return "".join(
        f"\\u{ord(c):04x}" if unicodedata.category(c) in _HIDDEN or c in _TURNING else c
        for c in text
    )


def warn(text: str) -> None:
    """Print a warning to stderr."""
    print(visible(text), file=sys.stderr)


def note(text: str, quiet: bool = False) -> None:
    """Print a line about the run, such as a file written, to stderr."""
    if not quiet:
        print(visible(text), file=sys.stderr)


def print_json(text: str) -> None:
    """Print JSON to stdout, with letters that it cannot show escaped as JSON escapes them.

    Parameters
    ----------
    text
        JSON, in which such letters stand in strings alone; a line is ended where it is open.
    """
    encoding = getattr(sys.stdout, "encoding", None) or "utf-8"
    try:
        text.encode(encoding)
    except (UnicodeError, LookupError):
        text = re.sub("[^\x00-\x7f]", lambda letter: json.dumps(letter[0])[1:-1], text)
    print(text if text.endswith("\n") else f"{text}\n", end="")


def print_table(
    rows: Sequence[Sequence[str]], heads: Sequence[str], left: Sequence[int] = (0,)
) -> None:
    """Print rows in columns to stdout.

    Parameters
    ----------
    rows
        The cells as text; a row may be shorter than the heads.
    heads
        One for each column.
    left
        The columns aligned at their left; all others at their right.
    """
    cells = [[visible(cell) for cell in row] + [""] * (len(heads) - len(row)) for row in rows]
    table = [list(heads), *cells]
    widths = [max(_width(row[k]) for row in table) for k in range(len(heads))]
    for row in table:
        padded = [
            cell + " " * (width - _width(cell))
            if k in left
            else " " * (width - _width(cell)) + cell
            for k, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        print("  ".join(padded).rstrip())


def save(
    files: Mapping[Path, str | bytes], *, force: bool = False, quiet: bool = False
) -> None:
    """Write results whole or not at all, and say where they are.

    Raises
    ------
    ReadError
        Where a file exists and may not be replaced, or cannot be written.
    """
    replaced = {path: stands_at(path) for path in files}
    write_files(files, force)
    for path, what in replaced.items():
        note(f"wrote {path}{f' in place of {what}' if what else ''}", quiet)


EVERY_SECONDS: Final = 10.0
"""Seconds between two lines of progress where stderr is no terminal."""

BLINK: Final = 0.5
"""Seconds between two looks at the clock on a terminal."""


class ProgressLine:
    """How a long run stands: one line on a terminal, written over; else a line now and then.

    The elapsed time moves from the first second on, whatever the run tells. Its thread runs while
    worker processes are forked, which does no harm: they write nothing to stderr.

    Parameters
    ----------
    quiet
        Whether to print nothing in any case.
    about
        Seconds that the run is expected to take, where that is known.
    """

    def __init__(self, quiet: bool = False, about: float | None = None) -> None:
        self.terminal = sys.stderr.isatty()
        self.quiet = quiet
        self.about = about
        self.text = ""
        self.run = Deadline.after()
        self._shown = False
        self._over = threading.Event()
        self._ticker = threading.Thread(target=self._tick, daemon=True)

    def show(self, text: str) -> None:
        """Say what is reached so far; it is printed with the next look at the clock."""
        self.text = text

    def line(self) -> str:
        """Return the line: elapsed seconds, about how many there are, what is reached."""
        passed = f"{self.run.elapsed:.0f}"
        of = f" of about {self.about:.0f} s" if self.about else " s"
        return visible(f"{passed}{of}{f', {self.text}' if self.text else ''}")

    def _tick(self) -> None:
        while not self._over.wait(BLINK if self.terminal else EVERY_SECONDS):
            if self.terminal:
                width = shutil.get_terminal_size().columns - 1
                text = f"\r\x1b[2K{self.line()[:width]}"
            else:
                text = f"{self.line()}\n"
            self._shown = True
            with contextlib.suppress(OSError, ValueError):  # stderr may be closed or full
                print(text, end="", file=sys.stderr, flush=True)

    def __enter__(self) -> Self:
        if not self.quiet:
            self._ticker.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._over.set()
        if self._ticker.is_alive():
            self._ticker.join()
        if self.terminal and self._shown:
            print("\r\x1b[2K", end="", file=sys.stderr, flush=True)


def _width(text: str) -> int:
    """Columns that text takes on a terminal."""
    return sum(
        0 if unicodedata.combining(c) else 2 if unicodedata.east_asian_width(c) in "WF" else 1
        for c in text
    )
