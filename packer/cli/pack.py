"""``packer pack``: find the largest packing of a figure, draw it and save it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from packer.cli.options import (
    HERE,
    FigureArgument,
    ForceOption,
    JsonOption,
    OutOption,
    QuietOption,
    SeedOption,
    SheetOption,
    StartsOption,
    SymmetryOption,
    TimeOption,
    WorkersOption,
    check_limits,
    pose_subject,
)
from packer.cli.output import ProgressLine, check_free, save, warn
from packer.cli.packing_table import headroom, print_packing

if TYPE_CHECKING:
    from packer.search.search import Progress


def command(
    figure: FigureArgument,
    sheet: SheetOption = None,
    symmetry: SymmetryOption = None,
    seed: SeedOption = 0,
    time: TimeOption = None,
    starts: StartsOption = None,
    workers: WorkersOption = None,
    out: OutOption = HERE,
    force: ForceOption = False,
    quiet: QuietOption = False,
    json_: JsonOption = False,
) -> None:
    """Pack a figure: find where every tip goes so that it comes out as large as possible."""
    check_limits(time=time, starts=starts, workers=workers)
    problem, stem = pose_subject(figure, sheet, symmetry)
    files = [out / f"{stem}.packing.{kind}" for kind in ("json", "svg", "png")]
    check_free(files, force)

    from packer.drawing.packing import packing_drawing
    from packer.drawing.plate import packing_plate
    from packer.drawing.plots import png_bytes
    from packer.drawing.svg import svg_text
    from packer.files.packing_json import packing_text
    from packer.search.search import pack

    with ProgressLine(quiet) as line:
        packing = pack(
            problem,
            seed=seed,
            time=time,
            starts=starts,
            workers=workers,
            progress=lambda now: line.show(progress_text(now)),
        )
    text = packing_text(packing)
    contents = (text, svg_text(packing_drawing(packing)), png_bytes(packing_plate(packing)))
    save(dict(zip(files, contents, strict=True)), force=force, quiet=quiet)
    if packing.search.stopped == "interrupted":
        warn("interrupted: this is the best packing found until then")
    if json_:
        print(text, end="")
    elif not quiet:
        print_packing(packing)


def progress_text(now: Progress) -> str:
    """Return what the progress line says: elapsed, starts, best scale and what is proven."""
    text = f"{now.seconds:.0f} s, {now.starts} starts"
    if now.scale > 0:
        text += f", scale {now.scale:.6g}"
        if now.bound is not None:
            text += f"; {headroom(max(0.0, now.bound / now.scale - 1))}"
    return text
