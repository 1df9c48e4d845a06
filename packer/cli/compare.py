"""``packer compare``: the same figure on several sheets, or over all side ratios."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, cast

import typer

from packer.cli.command_line import command_line
from packer.cli.groups import CourseArguments, Output
from packer.cli.options import (
    FigureArgument,
    JsonOption,
    named_options,
    option,
    read_subject,
)
from packer.cli.output import ProgressLine
from packer.cli.tables import KINDS, PrintedTable, TabledResult, course_listener
from packer.errors import OptionError, did_you_mean
from packer.model.sheet import parse_sheet

if TYPE_CHECKING:
    from collections.abc import Mapping

    from packer.model.figure import Figure, Symmetry
    from packer.model.sheet import Sheet
    from packer.planning.comparison import Equal
    from packer.planning.stock import Stock
    from packer.search.options import SearchOptions

SheetsOption = Annotated[
    list[str] | None,
    typer.Option(
        "--sheet",
        metavar="SIZE",
        help="A sheet to compare, as often as you like: 1x1, 3x2, A4 ... A sheet in mm sets the "
        "size of all. By default square, 4x3, A-series, 3x2 and 2x1.",
        show_default=False,
    ),
]
SymmetriesOption = Annotated[
    list[str] | None,
    typer.Option(
        "--symmetry",
        metavar="NAME",
        help="A symmetry to compare, as often as you like: none, book, diagonal.",
        show_default=False,
    ),
]
EqualOption = Annotated[
    str | None,
    typer.Option(
        metavar="WHAT",
        help="What is held equal: area (default) or longest (the side).",
        show_default=False,
    ),
]
StockOption = Annotated[
    str | None,
    typer.Option(
        metavar="SIZE",
        help="Cut every sheet from this paper, and show the waste: A3, 700x1000mm ...",
        show_default=False,
    ),
]
SweepOption = Annotated[
    bool,
    typer.Option("--sweep", help="Follow the scale over the side ratio, at equal area."),
]
UpToOption = Annotated[
    float | None,
    typer.Option(
        metavar="RATIO", help="Last side ratio of a sweep; 5 by default.", show_default=False
    ),
]
CreasesOption = Annotated[
    int | None,
    typer.Option(
        metavar="TRIES",
        help="Crease every packing as well, with so many tries such as 10 (a second or so each), "
        "and rank the sheets by scale against how hard each is to fold.",
        show_default=False,
    ),
]
GridOption = Annotated[
    float | None,
    typer.Option(
        metavar="EFFORT",
        help="Pack every sheet on whole cells as well, with so much effort such as 5 (a second "
        "or so each), and show what the grid costs.",
        show_default=False,
    ),
]
StepsOption = Annotated[
    int | None,
    typer.Option(
        metavar="N", help="Side ratios in a sweep; 17 by default.", show_default=False
    ),
]


@dataclass(frozen=True)
class SheetArguments:
    """The sheets to compare, and what is held equal among them."""

    sheet: SheetsOption = None
    symmetry: SymmetriesOption = None
    equal: EqualOption = None
    stock: StockOption = None


@dataclass(frozen=True)
class SweepArguments:
    """Whether to follow the scale over the side ratio, and how far."""

    sweep: SweepOption = False
    up_to: UpToOption = None
    steps: StepsOption = None


@dataclass(frozen=True)
class MeasureArguments:
    """What is measured of each packing besides its scale."""

    creases: CreasesOption = None
    grid: GridOption = None


def command(
    figure: FigureArgument,
    sheets: SheetArguments = SheetArguments(),
    ratios: SweepArguments = SweepArguments(),
    measures: MeasureArguments = MeasureArguments(),
    search: CourseArguments = CourseArguments(),
    output: Output = Output(),
    json_: JsonOption = False,
) -> None:
    """Compare sheets: pack a figure on each, fairly, and show which suits it best."""
    _check_apart(
        ratios.sweep,
        {"--sheet": sheets.sheet, "--equal": sheets.equal, "--stock": sheets.stock}
        | {"--creases": measures.creases, "--grid": measures.grid},
        {"--up-to": ratios.up_to, "--steps": ratios.steps},
    )
    subject, stem = read_subject(figure)
    symmetries = _symmetries(sheets.symmetry)
    if ratios.sweep and len(symmetries) > 1:
        raise OptionError("a sweep follows one symmetry; name one", "--symmetry")
    held, paper = _held(sheets.equal, sheets.stock)
    shapes = [option("--sheet", parse_sheet, text) for text in sheets.sheet or []]
    what = "sweep" if ratios.sweep else "compare"
    files = output.files(stem, [f"{what}.{kind}" for kind in KINDS])

    with ProgressLine(output.quiet, search.time) as line, named_options():
        where = "at all ratios" if ratios.sweep else "on all sheets"
        options = search.options(course_listener(line, where))
        if ratios.sweep:
            outcome = _swept(subject, symmetries, ratios, options)
        else:
            wishes = _Wishes(shapes, symmetries, held, paper, measures)
            outcome = _compared(subject, wishes, options)
    outcome.tell(files, output, json_)


@dataclass(frozen=True)
class _Wishes:
    """What is to be compared, and what is measured of each packing."""

    shapes: list[Sheet]
    symmetries: list[Symmetry]
    equal: Equal
    stock: Stock | None
    measures: MeasureArguments


def _compared(figure: Figure, wishes: _Wishes, options: SearchOptions) -> TabledResult:
    from packer.drawing.plates.compare_plate import compare_plate
    from packer.drawing.writers.png import png_bytes
    from packer.files.compare_files import comparison_csv, comparison_text
    from packer.planning.compare import compare
    from packer.report.compare_table import (
        RANKED,
        folding_heads,
        folding_table,
        table,
        table_foot,
        table_heads,
    )

    comparison = compare(
        figure,
        wishes.shapes or None,
        wishes.symmetries,
        equal=wishes.equal,
        stock=wishes.stock,
        tries=wishes.measures.creases,
        effort=wishes.measures.grid,
        options=options,
    )
    contents = (
        comparison_text(comparison, command_line()),
        comparison_csv(comparison),
        png_bytes(compare_plate(comparison), 150),
    )
    title = f"{comparison.name}: equal {comparison.equal}"
    if comparison.stock:
        title = f"{comparison.name}: each cut from {comparison.stock.name}"
    tables = [PrintedTable(table_heads(comparison), table(comparison), table_foot(comparison))]
    if creased := folding_table(comparison):
        tables.append(PrintedTable(folding_heads(comparison), creased, RANKED))
    return TabledResult(contents, title, tables, comparison.complete)


def _swept(
    figure: Figure,
    symmetries: list[Symmetry],
    ratios: SweepArguments,
    options: SearchOptions,
) -> TabledResult:
    from packer.drawing.plates.sweep_plot import sweep_png
    from packer.files.compare_files import sweep_csv, sweep_rows, sweep_text
    from packer.planning.sweep import STEPS, UP_TO, sweep

    swept = sweep(
        figure,
        symmetries[0] if symmetries else None,
        up_to=UP_TO if ratios.up_to is None else ratios.up_to,
        steps=STEPS if ratios.steps is None else ratios.steps,
        options=options,
    )
    rows = [
        (
            f"{line['ratio']:.3f} : 1",
            "standing" if line["standing"] else "lying",
            f"{line['scale']:.6g}",
            f"{100 * line['relative']:.1f} %",
            "best" if line["relative"] == 1 else "",
        )
        for line in sweep_rows(swept)
    ]
    return TabledResult(
        (sweep_text(swept), sweep_csv(swept), sweep_png(swept)),
        f"{swept.name}: side ratios at equal area",
        [PrintedTable(("ratio", "", "scale", "of the best", ""), rows)],
        swept.complete,
    )


def _check_apart(
    sweep: bool, of_sheets: Mapping[str, object], of_sweep: Mapping[str, object]
) -> None:
    """Refuse options of sheets in a sweep and options of a sweep without one."""
    for name, value in (of_sheets if sweep else of_sweep).items():
        if value is not None:
            wrong = (
                "does not go with --sweep" if sweep else "belongs to --sweep, which is missing"
            )
            raise OptionError(f"this {wrong}; leave it out", name)


def _held(equal: str | None, stock: str | None) -> tuple[Equal, Stock | None]:
    from packer.planning.stock import Stock

    if stock is not None:
        if equal is not None:
            raise OptionError("the stock is what is held equal; leave one out", "--equal")
        sheet = option("--stock", lambda text: parse_sheet(text).in_mm(), stock)
        return "stock", Stock(stock, sheet.width, sheet.height)
    known: dict[str, Equal] = {"area": "area", "longest": "longest side"}
    held = equal or "area"
    if held not in known:
        raise OptionError(f'cannot hold "{held}" equal{did_you_mean(held, known)}', "--equal")
    return known[held], None


def _symmetries(words: list[str] | None) -> list[Symmetry]:
    from packer.model.figure import SYMMETRIES

    for word in words or []:
        if word not in SYMMETRIES:
            raise OptionError(
                f'unknown symmetry "{word}"{did_you_mean(word, SYMMETRIES)}', "--symmetry"
            )
    return cast("list[Symmetry]", words or [])
