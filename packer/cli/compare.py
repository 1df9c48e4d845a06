"""``packer compare``: the same figure on several sheets, or over all side ratios."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, cast

import typer

from packer.cli.command_line import command_line
from packer.cli.options import (
    HERE,
    FigureArgument,
    ForceOption,
    JsonOption,
    Limits,
    OutOption,
    QuietOption,
    SeedOption,
    StartsOption,
    WorkersOption,
    named_options,
    option,
    read_subject,
    time_option,
)
from packer.cli.output import (
    ProgressLine,
    check_free,
    note,
    print_json,
    print_table,
    save,
    visible,
    warn,
)
from packer.errors import OptionError, did_you_mean
from packer.model.sheet import parse_sheet
from packer.numbers import counted

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from packer.model.figure import Figure, Symmetry
    from packer.model.sheet import Sheet
    from packer.planning.comparison import Equal
    from packer.planning.stock import Stock
    from packer.planning.timed_searches import StepProgress
    from packer.search.options import SearchOptions

    Table = tuple[tuple[str, ...], Sequence[tuple[str, ...]], str]

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
CompareTimeOption = Annotated[
    float | None,
    time_option(
        "Time for all sheets together; without it 8 starts and at most 40 s for each packing, its "
        "creases and its grid, and of a sweep one start and at most 10 s for each ratio."
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
    time: CompareTimeOption = None,
    workers: WorkersOption = None,
    out: OutOption = HERE,
    force: ForceOption = False,
    quiet: QuietOption = False,
    json_: JsonOption = False,
) -> None:
    """Compare sheets: pack a figure on each, fairly, and show which suits it best."""
    limits = Limits(seed, time, starts, workers)
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
    one = _one_symmetry(symmetry) if sweep else None
    held, paper = _held(equal, stock)
    shapes = [option("--sheet", parse_sheet, text) for text in sheet or []]
    wished = _symmetries(symmetry)
    check_free(files, force)

    with ProgressLine(quiet, time) as line, named_options():
        options = limits.options(
            course_listener(line, "at all ratios" if sweep else "on all sheets")
        )
        if sweep:
            outcome = _swept(subject, one, up_to, steps, options)
        else:
            wishes = _Wishes(shapes, wished, held, paper, creases, grid)
            outcome = _compared(subject, wishes, options)
    save(dict(zip(files, outcome.contents, strict=True)), force=force, quiet=quiet)
    if not outcome.complete:
        warn("interrupted: what was found until then is kept")
    if json_:
        print_json(outcome.contents[0])
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


@dataclass(frozen=True)
class _Wishes:
    """What is to be compared, and what is measured of each packing."""

    shapes: list[Sheet]
    symmetries: list[Symmetry]
    equal: Equal
    stock: Stock | None
    tries: int | None
    effort: float | None


def _compared(figure: Figure, wishes: _Wishes, options: SearchOptions) -> _Outcome:
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

    found = compare(
        figure,
        wishes.shapes or None,
        wishes.symmetries,
        equal=wishes.equal,
        stock=wishes.stock,
        tries=wishes.tries,
        effort=wishes.effort,
        options=options,
    )
    contents = (
        comparison_text(found, command_line()),
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


def _swept(
    figure: Figure,
    symmetry: Symmetry | None,
    up_to: float | None,
    steps: int | None,
    options: SearchOptions,
) -> _Outcome:
    from packer.drawing.plates.sweep_plot import sweep_png
    from packer.files.compare_files import sweep_csv, sweep_rows, sweep_text
    from packer.planning.sweep import STEPS, UP_TO, sweep

    found = sweep(
        figure,
        symmetry,
        up_to=UP_TO if up_to is None else up_to,
        steps=STEPS if steps is None else steps,
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
        for line in sweep_rows(found)
    ]
    return _Outcome(
        (sweep_text(found), sweep_csv(found), sweep_png(found)),
        f"{found.name}: side ratios at equal area",
        [(("ratio", "", "scale", "of the best", ""), rows, "")],
        found.complete,
    )


def course_listener(line: ProgressLine, where: str) -> Callable[[StepProgress], None]:
    """Return what tells of a piece of work in steps: at first how long it will take."""

    def listen(now: StepProgress) -> None:
        if not now.done and not now.doing:
            line.about = now.seconds
            takes = (
                f"takes at most {now.seconds:g} s" if now.seconds else "is not limited in time"
            )
            steps = counted(now.total, "step")
            note(f"packing {where}, {steps}, {takes}; --time sets it", line.quiet)
        line.show(progress_text(now.done, now.total, now.doing))

    return listen


def progress_text(done: int, total: int, doing: str) -> str:
    """Return the one progress bar of all steps, and how the present one stands."""
    filled = round(20 * done / total)
    bar = f"[{'#' * filled}{'.' * (20 - filled)}] {done} of {total}"
    return f"{bar}, {doing}" if doing else bar


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


def _one_symmetry(words: list[str] | None) -> Symmetry | None:
    wished = _symmetries(words)
    if len(wished) > 1:
        raise OptionError("a sweep follows one symmetry; name one", "--symmetry")
    return wished[0] if wished else None
