"""``packer guide``: from the bare sheet to the base, as pages to fold from."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from packer.cli.command_line import command_line
from packer.cli.groups import Output
from packer.cli.options import (
    PageOption,
    TrueSizeOption,
    WithinOption,
    in_mm,
    time_option,
    true_mm_of,
)
from packer.cli.output import ProgressLine, print_table, warn
from packer.cli.printing import page_size
from packer.deadline import Deadline
from packer.errors import PatternError
from packer.limits import LANDMARK_SECONDS

if TYPE_CHECKING:
    from packer.landmarks.sequence import Landmarks

PatternArgument = Annotated[
    Path,
    typer.Argument(
        metavar="NAME.creases.fold",
        help="A crease pattern, from crease or grid.",
        show_default=False,
    ),
]
ErrorOption = Annotated[
    str,
    typer.Option(
        "--error", metavar="MM", help="Most that a mark made by hand may be expected to miss."
    ),
]


LandmarkTimeOption = Annotated[
    float | None,
    time_option(
        f"Look for landmarks so long, and no longer; without it at most {LANDMARK_SECONDS:g} s. Most "
        "figures take some seconds, 80 flaps up to a minute or two. Ctrl-C ends the search as well: the best until "
        "then is kept."
    ),
]


def command(
    pattern: PatternArgument,
    sheet: TrueSizeOption = None,
    within: WithinOption = "0.5mm",
    error: ErrorOption = "1mm",
    on: PageOption = "A4",
    time: LandmarkTimeOption = None,
    output: Output = Output(),
) -> None:
    """Tell how to fold a pattern: landmarks, pre-creasing, the stages of its collapse, pleats.

    Writes NAME.guide.pdf, NAME.guide.html and NAME.guide.json.
    """
    paper = page_size(on)
    stem = pattern.name.removesuffix(".fold").removesuffix(".creases")
    files = output.files(stem, ("guide.pdf", "guide.html", "guide.json"))

    from packer import __version__
    from packer.drawing.plates.guide_pages import guide_pages
    from packer.drawing.writers.tiled_pdf import paged_pdf
    from packer.files.fold_json import read_base, read_pleats
    from packer.files.guide_json import guide_text, parse_guide
    from packer.landmarks.fold_guide import fold_guide
    from packer.report.guide_page import guide_html
    from packer.report.guide_table import guide_rows

    read = read_base(pattern)
    mm = true_mm_of(read.pattern.sheet, sheet)
    near, most = in_mm("--within", within), in_mm("--error", error)
    pleats = read_pleats(pattern)
    deadline = Deadline.after(LANDMARK_SECONDS if time is None else time)
    with ProgressLine(output.quiet) as line:
        try:
            guide = fold_guide(
                read, mm, near, most, pleats=pleats, progress=line.show, deadline=deadline
            )
        except PatternError as fault:
            raise fault.found_in(str(pattern)) from None
    contents = (
        paged_pdf(guide_pages(guide, paper), files[0].name),
        guide_html(guide, __version__),
        guide_text(guide, command_line()),
    )
    output.save(dict(zip(files, contents, strict=True)))
    warn_unmarked(guide.landmarks, near, most)
    warn_ended(guide.landmarks.complete)
    if not output.quiet:
        rows = guide_rows(parse_guide(contents[-1]))
        print_table([list(row) for row in rows], ["", stem], left=(0, 1))


def warn_unmarked(made: Landmarks, within: float, error: float) -> None:
    """Name the tips that have no mark by folding."""
    if made.unmarked:
        names = ", ".join(made.unmarked)
        none = "no short sequence marks"
        if not made.complete:
            none = "until its end the search found no sequence that marks"
        warn(
            f"{none} {names} within {within:g} mm and with an expected error of "
            f"at most {error:g} mm: measure them or take them from the print, or try a larger "
            "--within or --error"
        )


def warn_ended(complete: bool) -> None:
    """Say where a search for landmarks has not come to its end."""
    if not complete:
        warn(
            "the search ended before it was done: what was found until then is kept; more --time finds more"
        )
