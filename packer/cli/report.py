"""``packer report``: one page that says all about a packing."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, TypeVar

import typer

from packer.cli.beside import (
    base_of_grid,
    grid_guide_path,
    guide_beside,
    pattern_beside,
    settled_beside,
)
from packer.cli.command_line import advice_in, command_in
from packer.cli.groups import Output, PaperArguments
from packer.cli.options import PackingArgument, stem_of
from packer.cli.plan import SizeArguments, planned
from packer.errors import OptionError, PackerError

if TYPE_CHECKING:
    from collections.abc import Callable

    from packer.model.packing import Packing
    from packer.planning.plan import Plan
    from packer.report.html_report import Creases, Grid

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
GuideOption = Annotated[
    Path | None,
    typer.Option(
        "--guide",
        metavar="FILE",
        help="A fold guide of the creases to show; by default NAME.guide.json beside the packing, "
        "if any.",
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
    guide: GuideOption = None
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
    from packer.files.levels_files import read_levels
    from packer.files.packing_json import read_packing
    from packer.report.report_page import Provenance, report_page

    made_of = paper.chosen()
    subject = read_packing(packing)
    settled = _settled(packing, beside.creases, subject)
    made = None
    if size.sheet is not None or subject.sheet.unit:
        pattern = pattern_beside(packing, beside.creases, subject)
        made = planned(settled, size, made_of, pattern)
    creases = _beside(
        packing,
        beside.creases,
        "creases.fold",
        lambda path: _creases(path, beside.guide, packing, subject, made),
    )
    if beside.guide is not None and creases is None:
        raise OptionError("no creases that it is of lie beside the packing", "--guide")
    grid = _beside(packing, beside.grid, "grid.json", lambda path: _grid(path, subject, made))
    text = report_page(
        subject,
        stem_of(packing),
        plan=made,
        creases=creases,
        grid=grid,
        comparison=_beside(packing, beside.compare, "compare.json", read_comparison),
        levels=_beside(packing, beside.levels, "levels.json", read_levels),
        provenance=Provenance(
            command_in(packing),
            _made(packing, beside, creases, grid),
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


def _creases(
    path: Path, guide: Path | None, packing: Path, subject: Packing, made: Plan | None
) -> Creases:
    """Return what is told of creases and of their guide: the one named, or the one that lies there."""
    from packer.files.fold_json import read_base
    from packer.report.sections import crease_section

    base = read_base(path)
    told = guide_beside(_guide_path(packing, guide), base.pattern, named=guide is not None)
    return crease_section(base, subject, made, told)


def _guide_path(packing: Path, named: Path | None) -> Path:
    return named or packing.with_name(f"{stem_of(packing)}.guide.json")


def _grid(path: Path, subject: Packing, made: Plan | None) -> Grid:
    """Return what is told of a grid, of its creases and of their guide, where these lie there."""
    from packer.files.grid_json import read_grid
    from packer.report.sections import grid_section

    base = base_of_grid(path)
    told = None if base is None else guide_beside(grid_guide_path(path), base.pattern)
    return grid_section(read_grid(path), subject, base, made, told)


def _made(
    packing: Path, beside: FilesBeside, creases: Creases | None, grid: Grid | None
) -> list[str]:
    """Return the lines that made what stands on the page besides the packing."""
    name = stem_of(packing)
    grid_path = beside.grid or packing.with_name(f"{name}.grid.json")
    shown = [
        (creases, beside.creases or packing.with_name(f"{name}.creases.fold")),
        (creases and creases.guide, _guide_path(packing, beside.guide)),
        (grid, grid_path),
        (grid and grid.guide, grid_guide_path(grid_path)),
    ]
    paths = [path for part, path in shown if part is not None]
    paths.append(beside.compare or packing.with_name(f"{name}.compare.json"))
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
