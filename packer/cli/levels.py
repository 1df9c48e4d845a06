"""``packer levels``: what each level of detail of a figure costs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated

import typer

from packer.cli.groups import CourseArguments, Output, Subject
from packer.cli.options import (
    FigureArgument,
    JsonOption,
    SymmetryOption,
    in_mm,
    option,
    read_subject,
)
from packer.cli.output import ProgressLine, warn
from packer.cli.tables import KINDS, PrintedTable, TabledResult, course_listener
from packer.errors import FigureError, OptionError
from packer.limits import LANDMARK_SECONDS
from packer.model.sheet import parse_sheet

if TYPE_CHECKING:
    from packer.planning.level_results import Levels

SheetsOption = Annotated[
    list[str] | None,
    typer.Option(
        "--sheet",
        metavar="SIZE",
        help="A sheet to pack on, as often as you like, in place of the figure's.",
        show_default=False,
    ),
]
CreasesOption = Annotated[
    int | None,
    typer.Option(
        metavar="TRIES",
        help="Crease every level as well, with so many tries such as 10 (a second or so each).",
        show_default=False,
    ),
]
LeaveOutOption = Annotated[
    int | None,
    typer.Option(
        metavar="N",
        help="Leave out alone so many parts of each level, the dearest first; 8 by default, 0 for "
        "none.",
        show_default=False,
    ),
]
LandmarksOption = Annotated[
    str | None,
    typer.Option(
        "--landmarks",
        metavar="LENGTH",
        help="Count the creases that find all tips of each level by folding, on a sheet whose "
        "longer side is so long, such as 350mm: seconds for 20 tips, half a minute for 80.",
        show_default=False,
    ),
]


@dataclass(frozen=True)
class LevelMeasures:
    """What is measured of each level besides its scale."""

    creases: CreasesOption = None
    leave_out: LeaveOutOption = None
    landmarks: LandmarksOption = None

    @property
    def left_out(self) -> int:
        """Parts of each level that are left out alone."""
        from packer.planning.levels import LEFT_OUT

        return LEFT_OUT if self.leave_out is None else self.leave_out


def command(
    figure: FigureArgument,
    sheet: SheetsOption = None,
    symmetry: SymmetryOption = None,
    measures: LevelMeasures = LevelMeasures(),
    search: CourseArguments = CourseArguments(),
    output: Output = Output(),
    json_: JsonOption = False,
) -> None:
    """Pack a figure at each of its levels of detail, and show what every detail costs."""
    if measures.left_out < 0:
        raise OptionError(
            f"{measures.left_out} parts cannot be left out; write 0 or more", "--leave-out"
        )
    subject, stem = read_subject(figure)
    problem, _ = Subject(figure, sheet[0] if sheet else None, symmetry).posed()
    sheets = [option("--sheet", parse_sheet, text) for text in sheet or []]
    text = measures.landmarks
    side_mm = None if text is None else in_mm("--landmarks", text)
    files = output.files(stem, [f"levels.{kind}" for kind in KINDS])

    from packer.planning.levels import levels
    from packer.units import MARK_MM

    with ProgressLine(output.quiet, search.time) as line:
        options = search.options(course_listener(line, "at all levels"))
        try:
            made = levels(
                subject,
                sheets,
                problem.symmetry,
                tries=measures.creases,
                leave_out=measures.left_out,
                side_mm=side_mm,
                options=options,
            )
        except FigureError as error:
            raise error if error.source else error.found_in(figure) from None
    if side_mm is not None and any(one.landmarks is None for one in made.levels):
        warn(
            f"not for every level a short sequence was found in {LANDMARK_SECONDS:g} s that marks all tips "
            f"within {MARK_MM:g} mm"
        )
    if made.late:
        warn(
            "the time was over before every level was packed once more and without each part; what a "
            "search can vouch for is taken from experience. Give more --time"
        )
    _tabled(made).tell(files, output, json_)


def _tabled(levels: Levels) -> TabledResult:
    from packer.drawing.plates.levels_plate import levels_plate
    from packer.drawing.writers.png import png_bytes
    from packer.files.levels_files import levels_csv, levels_text
    from packer.report.levels_table import (
        FOOT,
        LEFT_OUT_FOOT,
        left_out_heads,
        left_out_table,
        level_heads,
        level_table,
    )

    heads = level_heads(levels)
    tables = [PrintedTable(heads, level_table(levels), FOOT, (0, len(heads) - 1))]
    if rows := left_out_table(levels):
        tables.append(PrintedTable(left_out_heads(), rows, LEFT_OUT_FOOT, (0, 2, 6)))
    plate = png_bytes(levels_plate(levels), 150)
    contents = (levels_text(levels), levels_csv(levels), plate)
    return TabledResult(contents, f"{levels.name}: levels of detail", tables, levels.complete)
