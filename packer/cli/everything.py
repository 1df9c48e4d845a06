"""``packer all``: the whole road from a figure to fold sheets and report, in one folder."""

from __future__ import annotations

import hashlib
import json
import shlex
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Final

import typer

from packer.cli.command_line import TYPED
from packer.cli.groups import Subject
from packer.cli.options import ForceOption, PageOption, QuietOption, SeedOption, time_option
from packer.cli.output import note, warn
from packer.errors import FigureError, OptionError
from packer.files.newick import is_newick
from packer.files.write import write_files
from packer.model.figure import refuse_to_fold

if TYPE_CHECKING:
    from collections.abc import Iterator

    from packer.model.problem import Problem

FolderOption = Annotated[
    Path | None,
    typer.Option(
        "--out", metavar="DIR", help="The folder; by default one of the figure's name.",
        show_default=False,
    ),
]  # fmt: skip
AllTimeOption = Annotated[
    float | None,
    time_option(
        "Time for all; without it at most about 40 s to pack, and to crease seconds for most "
        "figures, about 60 s for 80 flaps."
    ),
]
PACKING: Final = 0.4
"""Share of the time that packing gets; the rest is for the creases."""


@dataclass(frozen=True)
class RoadStep:
    """One command of the road.

    Attributes
    ----------
    words
        After ``packer``, without where to write.
    reads, makes
        Files in the folder that it is made from and that it writes.
    """

    words: tuple[str, ...]
    reads: tuple[Path, ...]
    makes: tuple[Path, ...]


def command(
    subject: Subject,
    on: PageOption = "A4",
    time: AllTimeOption = None,
    seed: SeedOption = 0,
    out: FolderOption = None,
    force: ForceOption = False,
    quiet: QuietOption = False,
) -> None:
    """Pack a figure, crease, print, plan and report it, each step where its input has changed.

    A figure with more flaps or rivers than can be creased is packed, printed, planned and reported alone.
    """
    problem, stem = subject.posed()
    if not problem.sheet.unit:
        raise OptionError(
            "the sheet is only a ratio, and prints and plans need millimetres; say the size, "
            "such as --sheet 350mm",
            "--sheet",
        )
    folder = Path(stem) if out is None else out
    figure = subject.figure
    search = [*_option("--sheet", subject.sheet), *_option("--symmetry", subject.symmetry)]
    search += ["--seed", str(seed)]
    record = folder / f"{stem}.all.json"
    done = {} if force else _read(record)
    creased = _can_be_creased(problem)
    for step in steps(figure, folder, stem, search, on, time, seed, creased=creased):
        line = shlex.join(["packer", *step.words])
        key = step.words[0] + " " + step.makes[0].name
        stamp = [line, *map(_digest, step.reads)]
        if not is_newick(figure) and step.words[0] == "pack":
            stamp.append(_digest(Path(figure)))
        if done.get(key) == stamp and all(path.exists() for path in step.makes):
            note(f"unchanged: {line}", quiet)
            continue
        note(line, quiet)
        own = ["--force"] if force or key in done else []
        _run([*step.words, "--out", str(folder), *own, *(["--quiet"] if quiet else [])])
        done[key] = [stamp[0], *map(_digest, step.reads), *stamp[1 + len(step.reads) :]]
        text = json.dumps(done, ensure_ascii=False, indent=1) + "\n"
        write_files({record: text}, force=True)


def _can_be_creased(problem: Problem) -> bool:
    """Return whether the road goes on to creases; where it does not, tell why."""
    tree = problem.tree
    try:
        refuse_to_fold(len(tree.flaps), len(tree.rivers), "can be creased")
    except FigureError as error:
        warn(f"creases and their fold sheets are left out: {error.message}")
        return False
    return True


def steps(
    figure: str,
    folder: Path,
    stem: str,
    search: list[str],
    on: str,
    time: float | None,
    seed: int,
    *,
    creased: bool,
) -> Iterator[RoadStep]:
    """Yield the commands of the road, in their order, with those of creases or without."""

    def files(*ends: str) -> tuple[Path, ...]:
        return tuple(folder / f"{stem}.{end}" for end in ends)

    packing, creases = files("packing.json", "creases.fold")
    settled = files("settled.packing.json")
    packed = PACKING if creased else 1.0
    pack = [*search, *([] if time is None else ["--time", f"{packed * time:.6g}"])]
    yield RoadStep(
        ("pack", figure, *pack), (), files("packing.json", "packing.svg", "packing.png")
    )
    if not creased:
        yield RoadStep(("print", str(packing), "--on", on), (packing,), files("print.pdf"))
        yield RoadStep(("plan", str(packing)), (packing,), files("plan.json"))
        yield RoadStep(("report", str(packing)), (packing,), files("report.html"))
        return
    rest = [] if time is None else ["--time", f"{(1 - PACKING) * time:.6g}"]
    yield RoadStep(
        ("crease", str(packing), "--seed", str(seed), *rest),
        (packing,),
        (creases, *settled, *files("creases.svg", "creases.png")),
    )
    # the packing as settled: the tips that its creases have
    yield RoadStep(("print", str(settled[0]), "--on", on), settled, files("settled.print.pdf"))
    yield RoadStep(("print", str(creases), "--on", on), (creases,), files("creases.print.pdf"))
    yield RoadStep(("plan", str(packing)), (packing, *settled), files("plan.json"))
    yield RoadStep(("report", str(packing)), (packing, creases, *settled), files("report.html"))


def _option(name: str, value: str | None) -> list[str]:
    return [] if value is None else [name, value]


def _run(words: list[str]) -> None:
    """Run one command as if it had been typed."""
    from packer.cli import app

    typed = TYPED.set(tuple(words))
    try:
        app(args=words, prog_name="packer", standalone_mode=False)
    finally:
        TYPED.reset(typed)


def _digest(path: Path) -> str:
    """Return the SHA-256 of a file; empty where there is none."""
    return hashlib.sha256(path.read_bytes()).hexdigest() if path.exists() else ""


def _read(record: Path) -> dict[str, Any]:
    """Return what was made before; nothing where that cannot be read."""
    try:
        made = json.loads(record.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return made if isinstance(made, dict) else {}
