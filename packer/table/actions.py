"""On from here: creases, guide, grid, plan, print and report of the packing on the table.

Each is the command of its name, called as a function in a process of its own. What the command
prints is what the page shows, and the files it writes are handed over with the words that make
them again.
"""

from __future__ import annotations

import contextlib
import io
import shlex
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from packer.errors import PackerError

if TYPE_CHECKING:
    from collections.abc import Callable
    from multiprocessing.connection import Connection

ENDINGS: Final = {
    "creases": (
        "creases.svg", "creases.png", "creases.fold", "settled.packing.json", "base.svg",
    ),
    "guide": ("guide.pdf", "guide.html", "guide.json"),
    "grid": ("grid.json", "grid.svg", "grid.png", "grid.creases.fold", "grid.creases.svg"),
    "plan": ("plan.json",),
    "print": ("print.pdf", "print.svg"),
    "report": ("report.html",),
}  # fmt: skip
"""For each thing to do how the names of its files end."""
IN_TRUE_SIZE: Final = frozenset({"guide", "plan", "print"})
"""What can only be made for a sheet whose size is known."""

_REPLACED: Final = "\r\x1b[2K"
"""What a command writes before it replaces its line of progress."""


@dataclass(frozen=True)
class Task:
    """What is to be done with a saved packing.

    Attributes
    ----------
    what
        A key of `ENDINGS`.
    folder, stem
        Where NAME.packing.json lies, and its NAME.
    sheet
        The size of the sheet to fold from, as typed; empty for that of the packing.
    paper
        The pages to print on, as typed.
    creased
        Whether NAME.creases.fold holds the creases of this packing, for a guide to begin from.
    """

    what: str
    folder: str
    stem: str
    sheet: str = ""
    paper: str = "A4"
    creased: bool = False

    @property
    def command(self) -> str:
        """The line of a shell that does the same in the folder."""
        first = ["creases"] if self.what == "guide" and not self.creased else []
        return " && ".join(
            shlex.join(["packer", *self.words(what)]) for what in (*first, self.what)
        )

    def words(self, what: str) -> list[str]:
        """Return the words after ``packer`` that do the same or a step of it."""
        name = f"{self.stem}.packing.json"
        size = ["--sheet", self.sheet] if self.sheet else []
        return {
            "creases": ["crease", name],
            "guide": ["guide", f"{self.stem}.creases.fold", *size, "--on", self.paper],
            "grid": ["grid", f"{self.stem}.toml"],
            "plan": ["plan", name, *size, "--out", "."],
            "print": ["print", name, *size, "--on", self.paper, "--as", "pages", "--as", "svg"],
            "report": ["report", name, *size],
        }[what]


@dataclass(frozen=True)
class TaskResult:
    """What was made: contents by the names of the files, and what the command said of it."""

    task: Task
    files: dict[str, bytes]
    text: str


def run_task(pipe: Connection, task: Task) -> None:
    """Do a task in a process beside the server.

    Progress is sent as text, the result as `TaskResult`, what is wrong as a `PackerError`.
    """
    said, noted = io.StringIO(), _Line(pipe.send)
    with (
        tempfile.TemporaryDirectory() as work,
        contextlib.redirect_stdout(said),
        contextlib.redirect_stderr(noted),
    ):
        try:
            _WORK[task.what](task, Path(task.folder) / f"{task.stem}.packing.json", Path(work))
        except PackerError as error:  # handed to the server, which shows it
            pipe.send(error)
            return
        files = {path.name: path.read_bytes() for path in sorted(Path(work).iterdir())}
        notes = [line for line in noted.lines if not line.startswith("wrote ")]
        pipe.send(
            TaskResult(task, files, "\n".join([said.getvalue().rstrip(), *notes]).strip())
        )


class _Line(io.TextIOBase):
    """A terminal's stderr, of which the line that is written over and over is told at once."""

    def __init__(self, hears: Callable[[str], None]) -> None:
        self.hears = hears
        self.text = ""

    def isatty(self) -> bool:
        """Return that progress is welcome."""
        return True

    def write(self, text: str) -> int:
        """Tell progress, and keep the rest."""
        if text.startswith(_REPLACED):
            if progress := text.removeprefix(_REPLACED):
                self.hears(progress)
        else:
            self.text += text
        return len(text)

    @property
    def lines(self) -> list[str]:
        """What was noted besides."""
        return self.text.splitlines()


def _keep_words(task: Task, what: str) -> None:
    """Let the files that are made keep the words that make them again."""
    from packer.cli.command_line import TYPED  # noqa: PLC0415 - loads typer

    TYPED.set(tuple(task.words(what)))


def _creases(task: Task, packing: Path, work: Path) -> None:
    from packer.cli import crease, groups  # noqa: PLC0415 - slow to load

    _keep_words(task, "creases")
    crease.command(packing, output=groups.Output(work))


def _guide(task: Task, packing: Path, work: Path) -> None:
    from packer.cli import groups, guide  # noqa: PLC0415 - slow to load

    folder = packing.parent
    if not task.creased:
        _creases(task, packing, work)
        print()  # noqa: T201 - between what the two commands say
        folder = work
    _keep_words(task, "guide")
    pattern = folder / f"{task.stem}.creases.fold"
    guide.command(pattern, task.sheet or None, on=task.paper, output=groups.Output(work))


def _grid(task: Task, packing: Path, work: Path) -> None:
    from packer.cli import grid, groups  # noqa: PLC0415 - slow to load

    _keep_words(task, "grid")
    figure = str(packing.with_name(f"{task.stem}.toml"))
    grid.command(groups.Subject(figure), output=groups.Output(work))


def _plan(task: Task, packing: Path, work: Path) -> None:
    from packer.cli import plan  # noqa: PLC0415 - slow to load

    size = plan.SizeArguments(task.sheet or None)
    plan.command(packing, size, output=plan.PlanOutput(work))


def _print(task: Task, packing: Path, work: Path) -> None:
    from packer.cli import groups, printing  # noqa: PLC0415 - slow to load

    pages = printing.PageArguments(task.paper)
    output = groups.Output(work)
    printing.command(packing, task.sheet or None, ["pages", "svg"], pages, output=output)


def _report(task: Task, packing: Path, work: Path) -> None:
    from packer.cli import groups, plan, report  # noqa: PLC0415 - slow to load

    size = plan.SizeArguments(task.sheet or None)
    report.command(packing, size, output=groups.Output(work))


_WORK: Final[dict[str, Callable[[Task, Path, Path], None]]] = {
    "creases": _creases,
    "guide": _guide,
    "grid": _grid,
    "plan": _plan,
    "print": _print,
    "report": _report,
}
