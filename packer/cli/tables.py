"""What a command over many searches ends with: three files, and their tables printed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from packer.cli.output import note, print_json, print_table, visible, warn
from packer.numbers import counted

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from packer.cli.groups import Output
    from packer.cli.output import ProgressLine
    from packer.planning.timed_searches import StepProgress

KINDS = ("json", "csv", "png")
"""The ends of the files: for a program, for a spreadsheet, to be looked at."""


@dataclass(frozen=True)
class PrintedTable:
    """A table to print.

    Attributes
    ----------
    heads, rows
        One head for each column, and the cells of each row as text.
    foot
        What is said below it, if anything.
    left
        The columns aligned at their left.
    """

    heads: tuple[str, ...]
    rows: Sequence[tuple[str, ...]]
    foot: str = ""
    left: tuple[int, ...] = (0, 1)


@dataclass(frozen=True)
class TabledResult:
    """The result of many searches, ready to be saved and printed.

    Attributes
    ----------
    contents
        The files' contents in the order of `KINDS`.
    title, tables
        What is printed.
    complete
        Whether no search was interrupted.
    """

    contents: tuple[str, str, bytes]
    title: str
    tables: Sequence[PrintedTable]
    complete: bool

    def tell(self, files: Sequence[Path], output: Output, json_: bool) -> None:
        """Save the files, and print the tables, or the first file where JSON is wanted."""
        output.save(dict(zip(files, self.contents, strict=True)))
        if not self.complete:
            warn("interrupted: what was found until then is kept")
        if json_:
            print_json(self.contents[0])
        elif not output.quiet:
            self._print()

    def _print(self) -> None:
        print(visible(self.title))
        for k, table in enumerate(self.tables):
            if k:
                print()
            print_table(table.rows, table.heads, table.left)
            if table.foot:
                print(table.foot)


def course_listener(line: ProgressLine, where: str) -> Callable[[StepProgress], None]:
    """Return what tells of a piece of work in steps: at first how long it will take."""

    def listen(now: StepProgress) -> None:
        if not now.done and not now.doing:
            line.about = now.seconds
            takes = (
                f"takes at most {now.seconds:g} s" if now.seconds else "is not limited in time"
            )
            steps = counted(now.total, "step")
            note(f"packing {where}, {steps}, {takes}; --time sets it", line.quiet)
        line.show(progress_text(now.done, now.total, now.doing))

    return listen


def progress_text(done: int, total: int, doing: str) -> str:
    """Return the one progress bar of all searches, and how the present one stands."""
    filled = round(20 * done / total)
    bar = f"[{'#' * filled}{'.' * (20 - filled)}] {done} of {total}"
    return f"{bar}, {doing}" if doing else bar
