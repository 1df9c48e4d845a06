"""``packer compare``: the same figure on several sheets, or over all side ratios."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any, cast

import typer

from packer.cli.options import (
    HERE,
    FigureArgument,
    ForceOption,
    JsonOption,
    OutOption,
    QuietOption,
    SeedOption,
    StartsOption,
    TimeOption,
    WorkersOption,
    check_limits,
    option,
    read_subject,
)
from packer.cli.output import ProgressLine, check_free, print_table, save, visible, warn
from packer.errors import OptionError, did_you_mean
from packer.sheet import parse_sheet

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from packer.figure import Figure, Symmetry
    from packer.planning.comparison import Equal
    from packer.planning.stock import Stock
    from packer.sheet import Sheet

    Table = tuple[tuple[str, ...], Sequence[tuple[str, ...]], str]
    Report = Callable[[int, int, str], None]

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


def command(
    figure: FigureArgument,
    sheet: SheetsOption = None,
    symmetry: SymmetriesOption = None,
    equal: EqualOption = None,
    stock: StockOption = None,
    sweep: SweepOption = False,
    up_to: UpToOption = None,
    steps: StepsOption = None,
    creases: CreasesOption = None,
    grid: GridOption = None,
    seed: SeedOption = 0,
    starts: StartsOption = None,
    time: TimeOption = None,
    workers: WorkersOption = None,
    out: OutOption = HERE,
    force: ForceOption = False,
    quiet: QuietOption = False,
    json_: JsonOption = False,
) -> None:
    """Compare sheets: pack a figure on each, fairly, and show which suits it best."""
    check_limits(time=time, starts=starts, workers=workers, creases=creases, grid=grid)
    _check_apart(
        sweep,
        {"--sheet": sheet, "--equal": equal, "--stock": stock}
        | {"--creases": creases, "--grid": grid},
        {"--up-to": up_to, "--steps": steps},
    )
    subject, stem = read_subject(figure)
    files = [
        out / f"{stem}.{'sweep' if sweep else 'compare'}.{kind}"
        for kind in ("json", "csv", "png")
    ]
    check_free(files, force)
    with ProgressLine(quiet) as line:

        def report(done: int, total: int, doing: str) -> None:
            line.show(progress_text(done, total, doing))

        limits = {"seed": seed, "starts": starts, "time": time, "workers": workers}
        if sweep:
            one = _one_symmetry(symmetry)
            given = {"up_to": up_to, "steps": steps}
            span = {name: value for name, value in given.items() if value is not None}
            outcome = _swept(subject, one, report=report, **span, **limits)
        else:
            held, paper = _held(equal, stock)
            shapes = [option("--sheet", parse_sheet, text) for text in sheet or []]
            wished = {"equal": held, "stock": paper, "tries": creases, "effort": grid}
            outcome = _compared(
                subject, shapes, _symmetries(symmetry), report=report, **wished, **limits
            )
    save(dict(zip(files, outcome.contents, strict=True)), force=force, quiet=quiet)
    if not outcome.complete:
        warn("interrupted: what was found until then is kept")
    if json_:
        print(outcome.contents[0], end="")
    elif not quiet:
        for k, (heads, rows, foot) in enumerate(outcome.tables):
            print("" if k else visible(outcome.title))
            print_table(rows, heads, left=(0, 1))
            if foot:
                print(foot)


@dataclass(frozen=True)
class _Outcome:
    """What was found, ready to be saved and printed."""

    contents: tuple[str, str, bytes]
    title: str
    tables: Sequence[Table]
    complete: bool


def _compared(
    figure: Figure, shapes: list[Sheet], symmetries: list[Symmetry], **options: Any
) -> _Outcome:
    from packer.cli.compare_table import (
        RANKED,
        folding_heads,
        folding_table,
        table,
        table_foot,
        table_heads,
    )
    from packer.drawing.compare_plate import compare_plate
    from packer.drawing.plots import png_bytes
    from packer.files.compare_files import comparison_csv, comparison_text
    from packer.planning.compare import compare

    try:
        found = compare(figure, shapes or None, symmetries, **options)
    except OptionError as error:
        raise OptionError(error.message, f"--{error.entry}") from None
    contents = (
        comparison_text(found),
        comparison_csv(found),
        png_bytes(compare_plate(found), 150),
    )
    title = f"{found.name}: equal {found.equal}"
    if found.stock:
        title = f"{found.name}: each cut from {found.stock.name}"
    tables: list[Table] = [(table_heads(found), table(found), table_foot(found))]
    if creased := folding_table(found):
        tables.append((folding_heads(found), creased, RANKED))
    return _Outcome(contents, title, tables, found.complete)


def _swept(figure: Figure, symmetry: Symmetry | None, **options: Any) -> _Outcome:
    from packer.drawing.sweep_plot import sweep_png
    from packer.files.compare_files import sweep_csv, sweep_rows, sweep_text
    from packer.planning.sweep import sweep

    try:
        found = sweep(figure, symmetry, **options)
    except OptionError as error:
        raise OptionError(error.message, f"--{error.entry}") from None
    rows = [
        (
            f"{line['ratio']:.3f} : 1",
            "standing" if line["standing"] else "lying",
            f"{line['scale']:.6g}",
            f"{100 * line['relative']:.1f} %",
            "best" if line["relative"] == 1 else "",
        )
        for line in sweep_rows(found)
    ]
    return _Outcome(
        (sweep_text(found), sweep_csv(found), sweep_png(found)),
        f"{found.name}: side ratios at equal area",
        [(("ratio", "", "scale", "of the best", ""), rows, "")],
        found.complete,
    )


def progress_text(done: int, total: int, doing: str) -> str:
    """Return the one progress bar of all steps, and how the present one stands."""
    filled = round(20 * done / total)
    bar = f"[{'#' * filled}{'.' * (20 - filled)}] {done} of {total}"
    return f"{bar}, {doing}" if doing else bar


def _check_apart(sweep: bool, of_sheets: dict[str, Any], of_sweep: dict[str, Any]) -> None:
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
    from packer.figure import SYMMETRIES

    for word in words or []:
        if word not in SYMMETRIES:
            raise OptionError(
                f'unknown symmetry "{word}"{did_you_mean(word, SYMMETRIES)}', "--symmetry"
            )
    return cast("list[Symmetry]", words or [])


def _one_symmetry(words: list[str] | None) -> Symmetry | None:
    wished = _symmetries(words)
    if len(wished) > 1:
        raise OptionError("a sweep follows one symmetry; name one", "--symmetry")
    return wished[0] if wished else None
