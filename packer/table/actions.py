"""On from here: creases, grid, plan, print and report of the packing on the table.

Each calls what the command of its name calls, in a process of its own, and hands over the files
that the command would have written with the words that make them again.
"""

from __future__ import annotations

import shlex
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from packer.errors import PackerError
from packer.files.packing_json import read_packing

if TYPE_CHECKING:
    from collections.abc import Callable
    from multiprocessing.connection import Connection

SECONDS: Final = 60.0
"""Time given to creases, as the command gives it."""
GIVE: Final = 2.0
"""Percent of scale that creases may cost, as the command allows."""
SEED: Final = 0

ENDINGS: Final = {
    "creases": ("creases.svg", "creases.png", "creases.fold", "settled.packing.json"),
    "grid": ("grid.json", "grid.svg", "grid.png", "grid.creases.fold", "grid.creases.svg"),
    "plan": ("plan.json",),
    "print": ("print.pdf", "print.svg"),
    "report": ("report.html",),
}
"""For each thing to do how the names of its files end."""


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
    """

    what: str
    folder: str
    stem: str
    sheet: str = ""
    paper: str = "A4"

    @property
    def packing(self) -> Path:
        """The saved packing."""
        return Path(self.folder) / f"{self.stem}.packing.json"

    @property
    def command(self) -> str:
        """The line of a shell that does the same in the folder."""
        name = f"{self.stem}.packing.json"
        size = ["--sheet", self.sheet] if self.sheet else []
        words = {
            "creases": ["crease", name, "--time", f"{SECONDS:g}"],
            "grid": ["grid", f"{self.stem}.toml"],
            "plan": ["plan", name, *size, "--out", "."],
            "print": ["print", name, *size, "--on", self.paper, "--as", "pages", "--as", "svg"],
            "report": ["report", name, *size],
        }
        return shlex.join(["packer", *words[self.what]])


@dataclass(frozen=True)
class Made:
    """What was made: contents by the endings of `ENDINGS`, and what to say of it."""

    task: Task
    files: dict[str, str | bytes]
    lines: tuple[str, ...]


def perform(pipe: Connection, task: Task) -> None:
    """Do a task in a process beside the server.

    Progress is sent as text, the result as `Made`, what is wrong as a `PackerError`.
    """
    try:
        pipe.send(_WORK[task.what](task, pipe.send))
    except PackerError as error:  # handed to the server, which shows it
        pipe.send(error)


def _creases(task: Task, tell: Callable[[str], None]) -> Made:
    from packer.cli.crease import crease_files, creased, summary  # noqa: PLC0415 - slow to load

    packing = read_packing(task.packing)
    made = creased(packing, GIVE / 100, SECONDS, SEED, tell)
    settled, base, hard = made
    rows = summary(settled, base, hard, packing.split_rivers)
    lines = tuple(f"{what}: {value}" for what, value in rows)
    return Made(task, crease_files(packing, made, "role"), lines)


def _grid(task: Task, tell: Callable[[str], None]) -> Made:
    from packer.cli.grid import grid_files, progress_text  # noqa: PLC0415 - slow to load
    from packer.grid.pack_grid import pack_grid  # noqa: PLC0415 - slow to load

    packing = pack_grid(
        read_packing(task.packing).problem,
        seed=SEED,
        progress=lambda now: tell(progress_text(now)),
    )
    _, base, files = grid_files(packing, SEED)
    across, up = packing.cells
    split = ", ".join(packing.split_rivers) or "none"
    lines = (
        f"{across} x {up} cells, {packing.status}",
        f"one cell is {packing.unit:.4g} of the figure's length",
        f"rivers in strands: {split}",
        f"{base.pattern.creases} creases: {base.status}",
    )
    return Made(task, files, lines)


def _plan(task: Task, tell: Callable[[str], None]) -> Made:
    import json  # noqa: PLC0415 - beside its only use

    from packer.cli.plan import chosen_paper, plan_record, planned  # noqa: PLC0415 - slow to load
    from packer.planning.plan import ALLOWANCE  # noqa: PLC0415 - slow to load
    from packer.report.plan_table import plan_lines  # noqa: PLC0415 - slow to load

    tell("planning the paper")
    paper = chosen_paper(None, None, None, 1.2)
    packing = read_packing(task.packing)
    made = planned(packing, task.sheet or None, None, None, paper, ALLOWANCE, None)
    text = json.dumps(plan_record(made), ensure_ascii=False, indent=1) + "\n"
    return Made(task, {"plan.json": text}, (*plan_lines(made), *made.warnings))


def _print(task: Task, tell: Callable[[str], None]) -> Made:
    from packer.cli import printing  # noqa: PLC0415 - slow to load

    tell("drawing the pages")
    with tempfile.TemporaryDirectory() as work:
        printing.command(
            task.packing,
            task.sheet or None,
            task.paper,
            ["pages", "svg"],
            out=Path(work),
            quiet=True,
        )
        files = _read(work, task)
    lines = (
        "print at 100 %, not fitted to the page, and measure the square on the first page",
    )
    return Made(task, files, lines)


def _report(task: Task, tell: Callable[[str], None]) -> Made:
    from packer.cli import report  # noqa: PLC0415 - slow to load

    tell("writing the report")
    with tempfile.TemporaryDirectory() as work:
        report.command(task.packing, task.sheet or None, out=Path(work), quiet=True)
        files = _read(work, task)
    return Made(task, files, ("one page that says it all; it opens beside this one",))


def _read(work: str, task: Task) -> dict[str, str | bytes]:
    """Return the files that a command left in a directory, by their endings."""
    return {
        ending: (Path(work) / f"{task.stem}.{ending}").read_bytes()
        for ending in ENDINGS[task.what]
    }


_WORK: Final[dict[str, Callable[[Task, Callable[[str], None]], Made]]] = {
    "creases": _creases,
    "grid": _grid,
    "plan": _plan,
    "print": _print,
    "report": _report,
}
