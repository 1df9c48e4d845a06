"""What commands print and save: results to stdout, all else to stderr, files whole or not at all."""

from __future__ import annotations

import shutil
import sys
import time
import unicodedata
from typing import TYPE_CHECKING

from packer.files.write import check_free, stands_at, write_files

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path
    from types import TracebackType
    from typing import Self

__all__ = ["ProgressLine", "check_free", "note", "print_table", "save", "visible", "warn"]

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


class ProgressLine:
    """One line on a terminal's stderr that is written over and over; nothing on a pipe.

    Parameters
    ----------
    quiet
        Whether to print nothing in any case.
    """

    def __init__(self, quiet: bool = False) -> None:
        self.live = not quiet and sys.stderr.isatty()
        self.last = -1.0

    def show(self, text: str) -> None:
        """Replace the line, at most ten times a second."""
        now = time.monotonic()
        if self.live and now - self.last >= 0.1:
            width = shutil.get_terminal_size().columns - 1
            print(f"\r\x1b[2K{visible(text)[:width]}", end="", file=sys.stderr, flush=True)
            self.last = now

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self.live and self.last >= 0:
            print("\r\x1b[2K", end="", file=sys.stderr, flush=True)


def _width(text: str) -> int:
    """Columns that text takes on a terminal."""
    return sum(
        0 if unicodedata.combining(c) else 2 if unicodedata.east_asian_width(c) in "WF" else 1
        for c in text
    )
