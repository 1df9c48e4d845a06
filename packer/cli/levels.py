"""``packer levels``: what each level of detail of a figure costs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from packer.cli.compare import course_listener
from packer.cli.guide import in_mm
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
    SymmetryOption,
    WorkersOption,
    option,
    pose_subject,
    read_subject,
    time_option,
)
from packer.cli.output import (
    ProgressLine,
    check_free,
    print_json,
    print_table,
    save,
    visible,
    warn,
)
from packer.errors import FigureError, OptionError
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
LevelsTimeOption = Annotated[
    float | None,
    time_option(
        "Time for all levels together, but for landmarks; without it 4 starts a level and at most "
        "40 s for each packing and its creases."
    ),
]


def command(
    figure: FigureArgument,
    sheet: SheetsOption = None,
    symmetry: SymmetryOption = None,
    creases: CreasesOption = None,
    leave_out: LeaveOutOption = None,
    landmarks: LandmarksOption = None,
    seed: SeedOption = 0,
    starts: StartsOption = None,
    time: LevelsTimeOption = None,
    workers: WorkersOption = None,
    out: OutOption = HERE,
    force: ForceOption = False,
    quiet: QuietOption = False,
    json_: JsonOption = False,
) -> None:
    """Pack a figure at each of its levels of detail, and show what every detail costs."""
    limits = Limits(seed, time, starts, workers)
    if leave_out is not None and leave_out < 0:
        raise OptionError(
            f"{leave_out} parts cannot be left out; write 0 or more", "--leave-out"
        )
    subject, stem = read_subject(figure)
    problem, _ = pose_subject(figure, sheet[0] if sheet else None, symmetry)
    sheets = [option("--sheet", parse_sheet, text) for text in sheet or []]
    side_mm = None if landmarks is None else in_mm("--landmarks", landmarks)
    files = [out / f"{stem}.levels.{kind}" for kind in ("json", "csv", "png")]
    check_free(files, force)

    from packer.drawing.plates.levels_plate import levels_plate
    from packer.drawing.writers.png import png_bytes
    from packer.files.levels_files import levels_csv, levels_text
    from packer.planning.levels import LEFT_OUT, levels
    from packer.units import MARK_MM

    with ProgressLine(quiet, time) as line:
        try:
            outcome = levels(
                subject,
                sheets,
                problem.symmetry,
                tries=creases,
                leave_out=LEFT_OUT if leave_out is None else leave_out,
                side_mm=side_mm,
                options=limits.options(course_listener(line, "at all levels")),
            )
        except FigureError as error:
            raise error if error.source else error.found_in(figure) from None
    contents = (
        levels_text(outcome),
        levels_csv(outcome),
        png_bytes(levels_plate(outcome), 150),
    )
    save(dict(zip(files, contents, strict=True)), force=force, quiet=quiet)
    if not outcome.complete:
        warn("interrupted: what was found until then is kept")
    if side_mm is not None and any(one.landmarks is None for one in outcome.levels):
        warn(f"not every level has a short sequence that finds all tips within {MARK_MM:g} mm")
    if json_:
        print_json(contents[0])
    elif not quiet:
        _print(outcome)


def _print(levels: Levels) -> None:
    from packer.report.levels_table import (
        FOOT,
        LEFT_OUT_FOOT,
        left_out_heads,
        left_out_table,
        level_heads,
        level_table,
    )

    print(visible(f"{levels.name}: levels of detail"))
    print_table(
        level_table(levels), level_heads(levels), left=(0, len(level_heads(levels)) - 1)
    )
    print(FOOT)
    if rows := left_out_table(levels):
        print()
        print_table(rows, left_out_heads(), left=(0, 2, 6))
        print(LEFT_OUT_FOOT)
