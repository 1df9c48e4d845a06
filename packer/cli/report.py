"""``packer report``: one page that says all about a packing."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, TypeVar

import typer

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
    pattern_beside,
    planned,
)
from packer.errors import PackerError

if TYPE_CHECKING:
    from collections.abc import Callable


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

    from packer.files.compare_files import read_comparison
    from packer.files.fold_json import read_base
    from packer.files.grid_json import read_grid
    from packer.files.levels_files import read_levels
    from packer.files.packing_json import read_packing
    from packer.planning.plan import ALLOWANCE
    from packer.report.report_page import report_page
    from packer.report.sections import crease_section, grid_section

    made_of = chosen_paper(paper, caliper, weight, bulk)
    found = read_packing(packing)
    made = None
    if sheet is not None or found.sheet.unit:
        counted = pattern_beside(packing, creases, found)
        made = planned(found, sheet, None, None, made_of, allowance, width, counted)
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
            packing, grid, "grid.json", lambda path: grid_section(read_grid(path), found)
        ),
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
