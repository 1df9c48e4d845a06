"""``packer pack``: find the largest packing of a figure, draw it and save it."""

from __future__ import annotations

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
from packer.cli.output import ProgressLine, check_free, save


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
            progress=lambda now: line.show(
                f"{now.seconds:.0f} s, {now.starts} starts, scale {now.scale:.6g}"
            ),
        )
    text = packing_text(packing)
    drawing = packing_drawing(packing)
    pictures = (text, svg_text(drawing), png_bytes(drawing))
    save(dict(zip(files, pictures, strict=True)), force=force, quiet=quiet)
    if json_:
        print(text, end="")
