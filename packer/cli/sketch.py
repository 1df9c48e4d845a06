"""``packer sketch``: make a figure file of a stick figure drawn in a vector editor."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from packer.cli.groups import Output
from packer.cli.options import JsonOption
from packer.cli.output import note, print_json, print_table, visible
from packer.errors import FigureError, OptionError, did_you_mean

if TYPE_CHECKING:
    from packer.model.figure import Figure
    from packer.sketch.stick_tree import Scaling

DrawingArgument = Annotated[
    Path, typer.Argument(metavar="DRAWING.svg", help="The drawing.", show_default=False)
]
LongestOption = Annotated[
    float | None,
    typer.Option(
        metavar="LENGTH",
        help="Length of the longest part in the figure; 10 by default.",
        show_default=False,
    ),
]
LengthOption = Annotated[
    str | None,
    typer.Option(
        metavar="PART=LENGTH",
        help="Length of a named part, such as claw=6.",
        show_default=False,
    ),
]
TrueOption = Annotated[bool, typer.Option("--mm", help="True millimetres, as drawn.")]
JoinOption = Annotated[
    float,
    typer.Option(
        metavar="SHARE",
        help="Ends closer than this share of the shortest stroke are one joint.",
    ),
]
TwinsOption = Annotated[
    float,
    typer.Option(
        metavar="SHARE",
        help="How far twins may stray from mirror images, as a share of the figure's diagonal; "
        "0 looks for none.",
    ),
]
CrossOption = Annotated[
    str,
    typer.Option(
        metavar="NAME",
        help="What becomes of strokes that only cross: pass over each other, or join.",
    ),
]
MarkedOption = Annotated[
    bool,
    typer.Option(
        "--marked",
        help="Write NAME.marked.svg as well: the drawing with joints and names as they were "
        "read, or with what is wrong.",
    ),
]


@dataclass(frozen=True)
class ScalingArguments:
    """How lengths of a drawing become lengths of the figure, in one of three ways."""

    longest: LongestOption = None
    length: LengthOption = None
    mm: TrueOption = False

    def chosen(self) -> Scaling:
        """Return the way that the options mean.

        Raises
        ------
        OptionError
            Where they mean two, or one is wrong.
        """
        from packer.sketch.stick_tree import LONGEST, Scaling

        ways = {
            "--longest": self.longest is not None,
            "--length": self.length is not None,
            "--mm": self.mm,
        }
        given = [name for name, on in ways.items() if on]
        if len(given) > 1:
            raise OptionError(
                "lengths can be scaled in one way only; leave one out", " and ".join(given)
            )
        try:
            if self.length is not None:
                return _named(self.length)
            return Scaling(LONGEST if self.longest is None else self.longest, mm=self.mm)
        except OptionError as error:
            raise OptionError(error.message, given[0] if given else "--longest") from None


@dataclass(frozen=True)
class ReadingArguments:
    """How strokes of a drawing become limbs."""

    join: JoinOption = 0.05
    twins: TwinsOption = 0.06
    cross: CrossOption = "pass"


def command(
    drawing: DrawingArgument,
    lengths: ScalingArguments = ScalingArguments(),
    reading: ReadingArguments = ReadingArguments(),
    marked: MarkedOption = False,
    output: Output = Output(),
    json_: JsonOption = False,
) -> None:
    """Read a drawn stick figure: joints, lengths, twins and names, as a figure file to edit."""
    scaling = lengths.chosen()
    target, *copies = output.files(drawing.stem, ["toml", *(["marked.svg"] if marked else [])])

    from packer.files.figure_record import record_of
    from packer.files.figure_toml import figure_text
    from packer.sketch.joints import CROSSINGS
    from packer.sketch.marked_copy import marked_copy
    from packer.sketch.stick_tree import figure_of_sketch, joined
    from packer.sketch.svg_reader import read_sketch

    join, twins, cross = reading.join, reading.twins, reading.cross
    if cross not in CROSSINGS:
        raise OptionError(
            f'unknown choice "{cross}"{did_you_mean(cross, CROSSINGS)}', "--cross"
        )
    crossing: Any = cross
    sketch = read_sketch(drawing)
    title = drawing.stem.replace("_", " ")
    try:
        read = figure_of_sketch(sketch, title, scaling, join=join, twins=twins, cross=crossing)
    except OptionError as error:
        raise OptionError(error.message, f"--{error.entry}") from None
    except FigureError as error:
        for copy in copies:
            output.save({copy: marked_copy(sketch, joined(sketch, join, crossing))})
        raise error.found_in(str(drawing)) from None
    head = [
        f"Read from {drawing.name}.",
        *(f"{text[0].upper()}{text[1:]}." for text in read.notes),
    ]
    comments = "".join(f"# {visible(line)}\n" for line in head)
    files: dict[Path, str | bytes] = {target: f"{comments}\n{figure_text(read.figure)}"}
    for copy in copies:
        files[copy] = marked_copy(sketch, read.net, read.names)
    for line in read.notes:
        note(line, output.quiet)
    output.save(files)
    if json_:
        record = {"figure": record_of(read.figure), "notes": list(read.notes)}
        print_json(json.dumps(record, ensure_ascii=False, indent=1))
    elif not output.quiet:
        _print(read.figure)


def _named(text: str) -> Scaling:
    from packer.sketch.stick_tree import Scaling

    part, _, number = text.rpartition("=")
    if not part:
        raise OptionError(f'"{text}" names no part; write it as claw=6', "length")
    return Scaling(part=part, length=_number(number))


def _number(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise OptionError(
            f'"{text}" is no number; write a length such as 6', "length"
        ) from None


def _print(figure: Figure) -> None:
    from packer.model.figure import SYMMETRY_NAMES

    rows = [
        (part.name, kind, "pair" if part.pair else "", f"{part.length:g}")
        for kind, parts in (("flap", figure.flaps), ("river", figure.rivers))
        for part in parts
    ]
    print(visible(f"{figure.name}: {SYMMETRY_NAMES[figure.symmetry]}"))
    print_table(rows, ("part", "", "", "length"), left=(0, 1, 2))
