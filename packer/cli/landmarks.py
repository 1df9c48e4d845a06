"""``packer landmarks``: how to find the tips of a packing by folding, and what a little scale saves."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from packer.cli.groups import Output
from packer.cli.guide import (
    ErrorOption,
    LandmarkTimeOption,
    warn_ended,
    warn_unmarked,
)
from packer.cli.options import (
    PackingArgument,
    TrueSizeOption,
    WithinOption,
    in_mm,
    stem_of,
    true_mm_of,
)
from packer.cli.output import ProgressLine, print_table, visible
from packer.deadline import Deadline
from packer.errors import OptionError
from packer.limits import LANDMARK_SECONDS
from packer.units import HAND_MM

if TYPE_CHECKING:
    from packer.landmarks.sequence import Landmarks
    from packer.planning.snapping import Snapped

SnapOption = Annotated[
    float | None,
    typer.Option(
        "--snap",
        metavar="PERCENT",
        help="Move the tips onto marks that are easy to find, for at most so much of the scale.",
        show_default=False,
    ),
]


def command(
    packing: PackingArgument,
    sheet: TrueSizeOption = None,
    within: WithinOption = "0.5mm",
    error: ErrorOption = "1mm",
    snap: SnapOption = None,
    time: LandmarkTimeOption = None,
    output: Output = Output(),
) -> None:
    """Find the tips of a packing by folding: one short sequence of creases for all of them.

    With --snap tips move onto marks that are easy to find and the others climb again.
    With --snap it writes NAME.snapped.packing.json and the trade-off as NAME.snap.svg.
    """
    if snap is not None and not 0 < snap <= 20:
        raise OptionError(f"{snap:g} is no share; write per cent above 0, at most 20", "--snap")
    ends = () if snap is None else ("snapped.packing.json", "snap.svg")
    files = output.files(stem_of(packing), ends)

    from packer.files.packing_json import read_packing
    from packer.planning.snapping import MarkLimits, snapped, trade_off

    read = read_packing(packing)
    mm = true_mm_of(read.sheet, sheet)
    limits = MarkLimits(
        in_mm("--within", within) / mm, HAND_MM / mm, in_mm("--error", error) / mm
    )
    deadline = Deadline.after(LANDMARK_SECONDS if time is None else time)
    with ProgressLine(output.quiet, time) as line:
        if snap is None:
            rows = [snapped(read, 0.0, limits, line.show, deadline)]
        else:
            rows = trade_off(read, snap / 100, limits, progress=line.show, deadline=deadline)
    best = rows[-1]
    if snap is not None:
        output.save(dict(zip(files, _written(rows, snap / 100, read.figure.name), strict=True)))
    warn_unmarked(best.landmarks, limits.within * mm, limits.most_error * mm)
    warn_ended(best.complete)
    if not output.quiet:
        _print(best.landmarks, mm)
        if snap is not None:
            print()
            print_table([_row(one, mm) for one in rows], HEADS)


HEADS = ("scale given up", "at most", "steps", "creases", "expected by hand", "to measure")


def _written(rows: list[Snapped], most: float, name: str) -> tuple[str, str]:
    from packer.drawing.plates.snap_plot import snap_plot
    from packer.drawing.writers.svg import svg_text
    from packer.files.packing_json import packing_text

    points = [(one.given, one.landmarks.count) for one in rows]
    plot = snap_plot(points, most, f"{name}: scale against landmark steps")
    return packing_text(rows[-1].packing), svg_text(plot)


def _row(one: Snapped, mm: float) -> list[str]:
    made = one.landmarks
    error = max((mark.error for mark in made.tips.values()), default=0.0) * mm
    return [
        f"{one.given:.2%}",
        f"{one.allowed:.2%}",
        str(made.count),
        str(len(made.steps)),
        f"{error:.2g} mm",
        str(len(made.unmarked)),
    ]


def _print(made: Landmarks, mm: float) -> None:
    from packer.landmarks.wording import instruction, marks_made, measured

    for number in range(len(made.steps)):
        words = f"{number + 1}. {instruction(made, number)} {marks_made(made, number)}"
        print(visible(words.rstrip()))
    print()
    print_table(
        [
            [
                name,
                made.marks[mark.point].name,
                f"{mark.distance * mm:.2f} mm",
                f"{mark.error * mm:.2g} mm",
            ]
            for name, mark in made.tips.items()
        ]
        + [[name, measured(made, name, mm), "", ""] for name in made.unmarked],
        ["tip", "mark", "off", "expected by hand"],
        left=(0, 1),
    )
