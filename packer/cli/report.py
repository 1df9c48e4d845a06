"""``packer report``: one page that says all about a packing."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, TypeVar

import typer

from packer.cli.beside import base_of_grid, pattern_beside, settled_beside
from packer.cli.command_line import advice_in, command_in
from packer.cli.groups import Output, PaperArguments
from packer.cli.options import PackingArgument, stem_of
from packer.cli.plan import SizeArguments, planned
from packer.errors import PackerError

if TYPE_CHECKING:
    from collections.abc import Callable

    from packer.model.packing import Packing

CreasesOption = Annotated[
    Path | None,
    typer.Option(
        "--creases",
        metavar="FILE",
        help="A crease pattern to show; by default NAME.creases.fold beside the packing, if any.",
        show_default=False,
    ),
]
GridOption = Annotated[
    Path | None,
    typer.Option(
        "--grid",
        metavar="FILE",
        help="A grid packing to show; by default NAME.grid.json beside the packing, if any.",
        show_default=False,
    ),
]
CompareOption = Annotated[
    Path | None,
    typer.Option(
        "--compare",
        metavar="FILE",
        help="A comparison to show; by default NAME.compare.json beside the packing, if any.",
        show_default=False,
    ),
]

LevelsOption = Annotated[
    Path | None,
    typer.Option(
        "--levels",
        metavar="FILE",
        help="Levels of detail to show; by default NAME.levels.json beside the packing, if any.",
        show_default=False,
    ),
]


@dataclass(frozen=True)
class FilesBeside:
    """Files to show with a packing; by default those of its name that lie beside it, if any."""

    compare: CompareOption = None
    creases: CreasesOption = None
    grid: GridOption = None
    levels: LevelsOption = None


def command(
    packing: PackingArgument,
    size: SizeArguments = SizeArguments(),
    beside: FilesBeside = FilesBeside(),
    paper: PaperArguments = PaperArguments(),
    output: Output = Output(),
) -> None:
    """Write one page on a packing: drawings, table, advice, paper, creases, how it was made.

    The page is a single HTML file that loads nothing and runs no scripts.
    """
    (target,) = output.files(stem_of(packing), ["report.html"])

    from packer.files.compare_files import read_comparison
    from packer.files.fold_json import read_base
    from packer.files.grid_json import read_grid
    from packer.files.levels_files import read_levels
    from packer.files.packing_json import read_packing
    from packer.report.report_page import Provenance, report_page
    from packer.report.sections import crease_section, grid_section

    made_of = paper.chosen()
    subject = read_packing(packing)
    settled = _settled(packing, beside.creases, subject)
    made = None
    if size.sheet is not None or subject.sheet.unit:
        pattern = pattern_beside(packing, beside.creases, subject)
        made = planned(settled, size, made_of, pattern)
    text = report_page(
        subject,
        stem_of(packing),
        plan=made,
        creases=_beside(
            packing,
            beside.creases,
            "creases.fold",
            lambda path: crease_section(read_base(path), subject, made),
        ),
        grid=_beside(
            packing,
            beside.grid,
            "grid.json",
            lambda path: grid_section(read_grid(path), subject, base_of_grid(path), made),
        ),
        comparison=_beside(packing, beside.compare, "compare.json", read_comparison),
        levels=_beside(packing, beside.levels, "levels.json", read_levels),
        provenance=Provenance(
            command_in(packing),
            _made(packing, beside.creases, beside.grid, beside.compare),
            _given(size, paper),
            advice_in(packing),
        ),
    )
    output.save({target: text})


def _settled(packing: Path, creases: Path | None, subject: Packing) -> Packing:
    """Return a packing as settled for the creases that are shown with it, if any.

    Raises
    ------
    ReadError
        Where they are of another packing.
    """
    from packer.creases.settled_packing import settled_packing
    from packer.files.fold_json import read_fold
    from packer.report.sections import fits

    pattern = _beside(packing, creases, "creases.fold", read_fold)
    if pattern is None:
        return subject
    file = creases or packing.with_name(f"{stem_of(packing)}.creases.fold")
    fits(pattern, subject, str(file))
    settled_beside(packing, subject)
    return settled_packing(subject, pattern)


def _made(packing: Path, *given: Path | None) -> list[str]:
    """Return the lines that made what stands on the page besides the packing."""
    ends = ("creases.fold", "grid.json", "compare.json")
    paths = [
        path or packing.with_name(f"{stem_of(packing)}.{end}")
        for path, end in zip(given, ends, strict=True)
    ]
    return [line for path in paths if path.exists() and (line := command_in(path))]


_Read = TypeVar("_Read")


def _beside(
    packing: Path, given: Path | None, ending: str, read: Callable[[Path], _Read]
) -> _Read | None:
    """Read the file that was named, or NAME.ending beside the packing if it is there."""
    path = given or packing.with_name(f"{stem_of(packing)}.{ending}")
    if given is None and not path.exists():
        return None
    try:
        return read(path)
    except PackerError as error:
        raise error if error.source else error.found_in(str(path)) from None


def _given(size: SizeArguments, paper: PaperArguments) -> list[str]:
    """Return the words of the options that were given."""
    from packer.planning.plan import ALLOWANCE

    options: dict[str, str | float | None] = {
        "--sheet": size.sheet,
        "--paper": paper.paper,
        "--caliper": paper.caliper,
        "--weight": paper.weight,
        "--bulk": None if paper.weight is None else paper.bulk,
        "--allowance": None if size.allowance == ALLOWANCE else size.allowance,
        "--width": size.width,
    }
    return [
        word
        for name, value in options.items()
        if value is not None
        for word in (name, value if isinstance(value, str) else f"{value:g}")
    ]
