"""``packer report``: one page that says all about a packing."""

from __future__ import annotations

import shlex
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
    planned,
)
from packer.errors import PackerError

if TYPE_CHECKING:
    from collections.abc import Callable

    from packer.packing import Packing

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


def command(
    packing: PackingArgument,
    sheet: SheetOption = None,
    compare: CompareOption = None,
    creases: CreasesOption = None,
    grid: GridOption = None,
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

    from packer import __version__
    from packer.cli.packing_table import summary
    from packer.cli.report_tables import (
        crease_section,
        grid_section,
        paper_plan,
        parts_table,
        sheet_tables,
    )
    from packer.drawing.report import Report, report_html
    from packer.files.compare_files import read_comparison
    from packer.files.figure_toml import figure_text
    from packer.files.fold_json import read_fold
    from packer.files.grid_json import read_grid
    from packer.files.packing_json import read_packing
    from packer.planning.advice import advice

    made_of = chosen_paper(paper, caliper, weight, bulk)
    found = read_packing(packing)
    made = None
    if sheet is not None or found.sheet.unit:
        made = planned(found, sheet, None, None, made_of, allowance, width)
    mm = None if made is None else made.sheet.width / found.sheet.width
    comparison = _beside(packing, compare, "compare.json", read_comparison)
    text = report_html(
        Report(
            found,
            [line.removeprefix(f"{found.figure.name}: ") for line in summary(found)],
            parts_table(found),
            advice(found),
            search_lines(found),
            commands(found, packing, sheet),
            figure_text(found.figure),
            None if made is None else paper_plan(found, made),
            _beside(
                packing,
                creases,
                "creases.fold",
                lambda path: crease_section(read_fold(path), found, mm),
            ),
            _beside(
                packing, grid, "grid.json", lambda path: grid_section(read_grid(path), found)
            ),
            comparison,
            () if comparison is None else sheet_tables(comparison),
            __version__,
        )
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


def search_lines(packing: Packing) -> list[str]:
    """Return how a packing was found, in sentences."""
    from packer.cli.packing_table import headroom

    search = packing.search
    lines = ["It was given, not searched for."]
    if search.starts:
        lines = [
            (
                f"{search.starts} starts with seed {search.seed} took {search.seconds:.1f} s; "
                f"{search.hits} of them reached this scale. The search ended by: {search.stopped}."
            )
        ]
        if search.stopped in {"time", "interrupted"}:
            lines.append("A search that the clock ends may come out otherwise next time.")
    if packing.bound is not None and packing.headroom is not None:
        sentence = headroom(packing.headroom)
        lines.append(f"{sentence[0].upper()}{sentence[1:]} (proven by: {packing.bound.rule}).")
    else:
        lines.append("No upper bound was computed, so nothing is known of a better packing.")
    return lines


def commands(packing: Packing, path: Path, sheet: str | None) -> list[str]:
    """Return the lines of a shell that make a packing and its report again."""
    stem, search = stem_of(path), packing.search
    words = ["packer", "pack", f"{stem}.toml", "--seed", str(search.seed)]
    own = packing.figure.sheet
    if own != packing.sheet and not (own is None and packing.sheet.describe() == "1 x 1"):
        words += ["--sheet", packing.sheet.describe().replace(" ", "")]
    if packing.symmetry != packing.figure.symmetry:
        words += ["--symmetry", packing.symmetry]
    if search.stopped == "starts":
        words += ["--starts", str(search.starts)]
    if search.stopped == "time":
        words += ["--time", f"{search.seconds:.0f}"]
    again = [
        "packer",
        "report",
        f"{stem}.packing.json",
        *([] if sheet is None else ["--sheet", sheet]),
    ]
    return [shlex.join(words), shlex.join(again)]
