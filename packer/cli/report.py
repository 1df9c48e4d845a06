"""``packer report``: one page that says all about a packing."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, TypeVar

import typer

from packer.cli.beside import pattern_beside, settled_beside
from packer.cli.command_line import advice_in, command_in
from packer.cli.options import (
    HERE,
    ForceOption,
    OutOption,
    PackingArgument,
    QuietOption,
    stem_of,
)
from packer.cli.output import check_free, save
from packer.cli.plan import (
    AllowanceOption,
    BulkOption,
    CaliperOption,
    PaperOption,
    SheetOption,
    WeightOption,
    WidthOption,
    chosen_paper,
    planned,
)
from packer.errors import PackerError

if TYPE_CHECKING:
    from collections.abc import Callable

    from packer.creases.pattern import CreasePattern

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


def command(
    packing: PackingArgument,
    sheet: SheetOption = None,
    compare: CompareOption = None,
    creases: CreasesOption = None,
    grid: GridOption = None,
    levels: LevelsOption = None,
    paper: PaperOption = None,
    caliper: CaliperOption = None,
    weight: WeightOption = None,
    bulk: BulkOption = 1.2,
    allowance: AllowanceOption = 0.05,
    width: WidthOption = None,
    out: OutOption = HERE,
    force: ForceOption = False,
    quiet: QuietOption = False,
) -> None:
    """Write one page on a packing: drawings, table, advice, paper, creases, how it was made.

    The page is a single HTML file that loads nothing and runs no scripts.
    """
    target = out / f"{stem_of(packing)}.report.html"
    check_free([target], force)

    from packer.creases.settled_packing import settled_packing
    from packer.files.compare_files import read_comparison
    from packer.files.fold_json import read_base, read_fold
    from packer.files.grid_json import read_grid
    from packer.files.levels_files import read_levels
    from packer.files.packing_json import read_packing
    from packer.planning.plan import ALLOWANCE
    from packer.report.report_page import report_page
    from packer.report.sections import crease_section, fits, grid_section

    made_of = chosen_paper(paper, caliper, weight, bulk)
    found = read_packing(packing)
    pattern = _beside(packing, creases, "creases.fold", read_fold)
    subject = found
    if pattern is not None:
        fits(
            pattern,
            found,
            str(creases or packing.with_name(f"{stem_of(packing)}.creases.fold")),
        )
        settled_beside(packing, found)
        subject = settled_packing(found, pattern)
    made = None
    if sheet is not None or found.sheet.unit:
        counted = pattern_beside(packing, creases, found)
        made = planned(subject, sheet, None, None, made_of, allowance, width, counted)
    text = report_page(
        found,
        stem_of(packing),
        plan=made,
        creases=_beside(
            packing,
            creases,
            "creases.fold",
            lambda path: crease_section(read_base(path), found, made),
        ),
        grid=_beside(
            packing,
            grid,
            "grid.json",
            lambda path: grid_section(read_grid(path), found, _creases_of_grid(path)),
        ),
        made=_made(packing, creases, grid, compare),
        command=command_in(packing),
        told=advice_in(packing),
        comparison=_beside(packing, compare, "compare.json", read_comparison),
        levels=_beside(packing, levels, "levels.json", read_levels),
        options=_given(
            {
                "--sheet": sheet,
                "--paper": paper,
                "--caliper": caliper,
                "--weight": weight,
                "--bulk": None if weight is None else bulk,
                "--allowance": None if allowance == ALLOWANCE else allowance,
                "--width": width,
            }
        ),
    )
    save({target: text}, force=force, quiet=quiet)


def _made(packing: Path, *given: Path | None) -> list[str]:
    """Return the lines that made what stands on the page besides the packing."""
    ends = ("creases.fold", "grid.json", "compare.json")
    paths = [
        path or packing.with_name(f"{stem_of(packing)}.{end}")
        for path, end in zip(given, ends, strict=True)
    ]
    return [line for path in paths if path.exists() and (line := command_in(path))]


def _creases_of_grid(path: Path) -> CreasePattern | None:
    """Return the creases that lie beside a grid packing, if any."""
    from packer.files.fold_json import read_fold

    beside = path.with_name(f"{stem_of(path)}.grid.creases.fold")
    return read_fold(beside) if beside.exists() else None


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


def _given(options: dict[str, str | float | None]) -> list[str]:
    """Return the words of the options that were given."""
    return [
        word
        for name, value in options.items()
        if value is not None
        for word in (name, value if isinstance(value, str) else f"{value:g}")
    ]
