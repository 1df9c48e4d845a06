"""``packer report``: one page that says all about a packing."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

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
    plan_lines,
    planned,
    size_rows,
)

if TYPE_CHECKING:
    from packer.drawing.html import Table
    from packer.drawing.report import PaperPlan
    from packer.packing import Packing
    from packer.planning.comparison import Comparison
    from packer.planning.plan import Plan

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
    """Write one page on a packing: drawings, table, advice, paper, comparison, how it was made.

    The page is a single HTML file that loads nothing and runs no scripts.
    """
    target = out / f"{stem_of(packing)}.report.html"
    check_free([target], force)

    from packer import __version__
    from packer.cli.packing_table import summary
    from packer.drawing.report import Report, report_html
    from packer.files.figure_toml import figure_text
    from packer.files.packing_json import read_packing
    from packer.planning.advice import advice

    made_of = chosen_paper(paper, caliper, weight, bulk)
    found = read_packing(packing)
    made = None
    if sheet is not None or found.sheet.unit:
        made = planned(found, sheet, None, None, made_of, allowance, width)
    beside = packing.with_name(f"{stem_of(packing)}.compare.json")
    comparison = _comparison(compare, beside)
    text = report_html(
        Report(
            found,
            [line.removeprefix(f"{found.figure.name}: ") for line in summary(found)],
            _parts(found),
            advice(found),
            search_lines(found),
            commands(found, packing, sheet),
            figure_text(found.figure),
            None if made is None else _paper_plan(found, made),
            comparison,
            None if comparison is None else _sheets(comparison),
            __version__,
        )
    )
    save({target: text}, force=force, quiet=quiet)


def _comparison(given: Path | None, beside: Path) -> Comparison | None:
    from packer.files.compare_files import read_comparison

    if given is not None:
        return read_comparison(given)
    return read_comparison(beside) if beside.exists() else None


def _parts(packing: Packing) -> Table:
    """Return the table of `packer pack`, with bars where a part costs something."""
    from packer.cli.packing_table import heads, rows
    from packer.drawing.html import Table
    from packer.planning.advice import savings

    gains = {name: saving.gain for saving in savings(packing) for name in saving.names}
    most = max(gains.values(), default=0.0) or 1.0
    tree = packing.tree
    groups = []
    for k, name in enumerate(tree.names):
        twin = int(tree.twin[k])
        twins = packing.symmetry != "none" and twin != k
        if not twins or twin > k:
            groups.append([name, tree.names[twin]] if twins else [name])
    titles = list(heads(packing))
    column = titles.index("tenth shorter")
    titles[column] = "gain of a tenth shorter"
    return Table(
        "Flaps and rivers: where they lie, what share of the paper they take, what they cost",
        titles,
        rows(packing),
        left=(0, titles.index("kind"), len(titles) - 1),
        parts=groups,
        bars={column: [gains[group[0]] / most for group in groups]},
    )


def _paper_plan(packing: Packing, made: Plan) -> PaperPlan:
    from packer.drawing.html import Table
    from packer.drawing.report import PaperPlan
    from packer.planning.plan import MODELS

    sizes = Table(
        "Sizes in mm",
        ("part", "on sheet", "finished", "width", "kind"),
        size_rows(packing, made),
        left=(0, 4),
    )
    lines = [f"{line[0].upper()}{line[1:]}." for line in plan_lines(made)]
    warnings = [f"{line}." for line in made.warnings]
    return PaperPlan(lines, sizes, warnings, MODELS)


def _sheets(comparison: Comparison) -> Table:
    from packer.cli.compare import table, table_heads
    from packer.drawing.html import Table

    held = f"equal {comparison.equal}"
    if comparison.stock is not None:
        held = f"each cut from {comparison.stock.name}"
    best = comparison.entries[comparison.best].packing.scale
    shares = [entry.packing.scale / best for entry in comparison.entries]
    return Table(
        f"{comparison.name} on {len(comparison.entries)} sheets, {held}",
        table_heads(comparison),
        table(comparison),
        left=(0, 1),
        bars={3: shares},
    )


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
