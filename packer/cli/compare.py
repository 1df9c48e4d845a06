"""``packer compare``: the same figure on several sheets, or over all side ratios."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, cast

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
    from packer.planning.comparison import Comparison, Equal
    from packer.planning.stock import Stock
    from packer.search.search import Progress
    from packer.sheet import Sheet

    Report = Callable[[int, int, Progress | None], None]

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
    str, typer.Option(metavar="WHAT", help="What is held equal: area or longest (the side).")
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
UpToOption = Annotated[float, typer.Option(metavar="RATIO", help="Last side ratio of a sweep.")]
StepsOption = Annotated[int, typer.Option(metavar="N", help="Side ratios in a sweep.")]


def command(
    figure: FigureArgument,
    sheet: SheetsOption = None,
    symmetry: SymmetriesOption = None,
    equal: EqualOption = "area",
    stock: StockOption = None,
    sweep: SweepOption = False,
    up_to: UpToOption = 5.0,
    steps: StepsOption = 17,
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
    check_limits(time=time, starts=starts, workers=workers)
    if sweep and (sheet or stock or time):
        raise OptionError(
            "a sweep takes no sheets, no stock and no time; leave them out", "--sweep"
        )
    subject, stem = read_subject(figure)
    files = [
        out / f"{stem}.{'sweep' if sweep else 'compare'}.{kind}"
        for kind in ("json", "csv", "png")
    ]
    check_free(files, force)
    with ProgressLine(quiet) as line:

        def report(done: int, total: int, now: Progress | None) -> None:
            line.show(progress_text(done, total, now))

        if sweep:
            one = _one_symmetry(symmetry)
            outcome = _swept(subject, one, up_to, steps, seed, starts, workers, report)
        else:
            held, paper = _held(equal, stock)
            shapes = [option("--sheet", parse_sheet, text) for text in sheet or []]
            wished = _symmetries(symmetry)
            outcome = _compared(
                subject, shapes, wished, held, paper, seed, starts, time, workers, report
            )
    save(dict(zip(files, outcome.contents, strict=True)), force=force, quiet=quiet)
    if not outcome.complete:
        warn("interrupted: what was found until then is kept")
    if json_:
        print(outcome.contents[0], end="")
    elif not quiet:
        print(visible(outcome.title))
        print_table(outcome.rows, outcome.heads, left=(0, 1))


@dataclass(frozen=True)
class _Outcome:
    """What was found, ready to be saved and printed."""

    contents: tuple[str, str, bytes]
    title: str
    heads: tuple[str, ...]
    rows: Sequence[tuple[str, ...]]
    complete: bool


def _compared(
    figure: Figure,
    shapes: list[Sheet],
    symmetries: list[Symmetry],
    equal: Equal,
    stock: Stock | None,
    seed: int,
    starts: int | None,
    time: float | None,
    workers: int | None,
    report: Report,
) -> _Outcome:
    from packer.drawing.compare_plate import compare_plate
    from packer.drawing.plots import png_bytes
    from packer.files.compare_files import comparison_csv, comparison_text
    from packer.planning.compare import compare

    try:
        found = compare(
            figure,
            shapes or None,
            symmetries,
            equal=equal,
            stock=stock,
            seed=seed,
            starts=starts,
            time=time,
            workers=workers,
            report=report,
        )
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
    return _Outcome(contents, title, table_heads(found), table(found), found.complete)


def _swept(
    figure: Figure,
    symmetry: Symmetry | None,
    up_to: float,
    steps: int,
    seed: int,
    starts: int | None,
    workers: int | None,
    report: Report,
) -> _Outcome:
    from packer.drawing.sweep_plot import sweep_png
    from packer.files.compare_files import sweep_csv, sweep_rows, sweep_text
    from packer.planning.compare import STARTS
    from packer.planning.sweep import sweep

    try:
        found = sweep(
            figure,
            symmetry,
            up_to=up_to,
            steps=steps,
            seed=seed,
            starts=starts or STARTS,
            workers=workers,
            report=report,
        )
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
        ("ratio", "", "scale", "of the best", ""),
        rows,
        found.complete,
    )


def table_heads(found: Comparison) -> tuple[str, ...]:
    """Return the heads of a comparison's table."""
    unit = f", {found.unit}" if found.unit else ""
    waste = ("waste",) if found.stock else ()
    flaps = ("corner", "edge", "middle")
    return (
        *("sheet", "symmetry", f"scale{unit}", "of the best", f"figure{unit}", *flaps),
        *("paper", "headroom", "loose", "layers", *waste),
    )


def table(found: Comparison) -> list[tuple[str, ...]]:
    """Return the lines of a comparison's table as text, in the order of the sheets."""
    from packer.planning.comparison import row

    lines = []
    for entry in found.entries:
        line = row(found, entry)
        headroom, waste = line["headroom"], line["waste"]
        lines.append(
            (
                line["sheet"],
                line["symmetry"],
                f"{line['scale']:.6g}",
                f"{100 * line['relative']:.1f} %",
                f"{line['size']:.4g}",
                *(str(line[kind]) for kind in ("corner", "edge", "middle")),
                f"{100 * line['paper_used']:.0f} %",
                "" if headroom is None else f"{100 * headroom:.0f} %",
                str(line["loose"]),
                f"{line['layers']:.0f}",
                *([] if waste is None else [f"{100 * waste:.0f} %"]),
            )
        )
    return lines


def progress_text(done: int, total: int, now: Progress | None) -> str:
    """Return the one progress bar of all searches, and how the present one stands."""
    share = done / total
    filled = round(20 * share)
    text = f"[{'#' * filled}{'.' * (20 - filled)}] {done} of {total}"
    if now is not None and now.scale > 0:
        text += f", {now.starts} starts, scale {now.scale:.6g}"
    return text


def _held(equal: str, stock: str | None) -> tuple[Equal, Stock | None]:
    from packer.planning.stock import Stock

    if stock is not None:
        sheet = option("--stock", lambda text: parse_sheet(text).in_mm(), stock)
        return "stock", Stock(stock, sheet.width, sheet.height)
    known: dict[str, Equal] = {"area": "area", "longest": "longest side"}
    if equal not in known:
        raise OptionError(f'cannot hold "{equal}" equal{did_you_mean(equal, known)}', "--equal")
    return known[equal], None


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
