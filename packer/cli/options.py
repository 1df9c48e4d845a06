"""Arguments and options that several commands share, and how their words are read."""

from __future__ import annotations

import contextlib
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, TypeVar

import typer

from packer.errors import OptionError, PackerError, SheetError
from packer.files.figure_toml import read_figure
from packer.files.newick import is_newick, parse_newick
from packer.limits import LANDMARK_SECONDS, SIDES_APART
from packer.model.sheet import parse_sheet

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from packer.model.figure import Figure
    from packer.model.sheet import Sheet

FigureArgument = Annotated[
    str,
    typer.Argument(
        metavar="FIGURE",
        help='A figure file, or a tree in Newick notation such as "(head:1,tail:2,fin:1);".',
        show_default=False,
    ),
]
PackingArgument = Annotated[
    Path,
    typer.Argument(
        metavar="NAME.packing.json",
        help="A packing file, from pack; plan and print take a grid, NAME.grid.json, as well.",
        show_default=False,
    ),
]

OutOption = Annotated[
    Path, typer.Option("--out", metavar="DIR", help="Where to write; made if it is missing.")
]
ForceOption = Annotated[bool, typer.Option("--force", help="Write over existing files.")]
QuietOption = Annotated[
    bool, typer.Option("--quiet", help="Print neither progress nor tables, only what is wrong.")
]
JsonOption = Annotated[
    bool, typer.Option("--json", help="Print the result as JSON in place of tables.")
]
SheetOption = Annotated[
    str | None,
    typer.Option(
        "--sheet",
        metavar="SIZE",
        help="The sheet, in place of the figure's: 1x1, 2x1, 300x300mm, A4, letter ...; one side at "
        f"most {SIDES_APART:g} times the other.",
        show_default=False,
    ),
]
SymmetryOption = Annotated[
    str | None,
    typer.Option(
        "--symmetry",
        metavar="NAME",
        help="none, book or diagonal, in place of the figure's.",
        show_default=False,
    ),
]
DetailOption = Annotated[
    int | None,
    typer.Option(
        "--detail",
        metavar="N",
        help="Leave out the parts of the figure that are finer than this: 1 is what is needed.",
        show_default=False,
    ),
]
SeedOption = Annotated[
    int, typer.Option("--seed", metavar="N", help="The same seed gives the same result.")
]


def time_option(text: str) -> typer.models.OptionInfo:
    """Return the option of a time limit; the help says what holds without it."""
    option_: typer.models.OptionInfo = typer.Option(
        "--time", metavar="SECONDS", help=text, show_default=False
    )
    return option_


TimeOption = Annotated[
    float | None,
    time_option("Search so long, and no longer; without it at most about 40 s."),
]
CourseTimeOption = Annotated[
    float | None,
    time_option(
        "Time for all of it together, but for landmarks, which take at most "
        f"{LANDMARK_SECONDS:g} s for each packing; without it a few starts, and at most 40 s "
        "for each packing, its creases and its grid, 10 s for each ratio of a sweep."
    ),
]
GridTimeOption = Annotated[
    float | None,
    time_option(
        "Search so long, and no longer, and for the layer order as long as is left of it, at least "
        "5 s; without it --effort ends the search, 30 s or so at most."
    ),
]
StartsOption = Annotated[
    int | None,
    typer.Option("--starts", metavar="N", help="Make so many starts.", show_default=False),
]
WorkersOption = Annotated[
    int | None,
    typer.Option(
        "--workers",
        metavar="N",
        help="Processes to search with; one for each processor by default.",
        show_default=False,
    ),
]
TrueSizeOption = Annotated[
    str | None,
    typer.Option(
        "--sheet",
        metavar="SIZE",
        help="The sheet in true size: 350mm, 300x200mm, A4 ...",
        show_default=False,
    ),
]
WithinOption = Annotated[
    str, typer.Option("--within", metavar="MM", help="How far a mark may lie from its tip.")
]
PageOption = Annotated[
    str, typer.Option("--on", metavar="PAPER", help="The pages to print on: A4, letter ...")
]
AllowanceOption = Annotated[
    float,
    typer.Option(
        metavar="SHARE",
        help="Share of a length lost in thickness and shaping (common practice).",
    ),
]
PaperOption = Annotated[
    str | None,
    typer.Option(
        metavar="NAME", help="A paper of the table; see --papers.", show_default=False
    ),
]
CaliperOption = Annotated[
    float | None,
    typer.Option(metavar="UM", help="Thickness of a layer in micrometres.", show_default=False),
]
WeightOption = Annotated[
    float | None,
    typer.Option(
        metavar="G", help="Weight in g/m2; caliper = weight x bulk.", show_default=False
    ),
]
BulkOption = Annotated[
    float, typer.Option(metavar="CM3", help="Volume of a gram of paper (common practice).")
]
WidthOption = Annotated[
    float | None,
    typer.Option(metavar="MM", help="Width that flaps are folded to.", show_default=False),
]

Value = TypeVar("Value")

HERE = Path()
"""Where commands write by default: the directory they are run in."""


def read_subject(text: str) -> tuple[Figure, str]:
    """Return the figure an argument means, and the stem of the names of its results.

    Raises
    ------
    PackerError
        Where the file or the tree is wrong.
    """
    if is_newick(text):
        return parse_newick(text), "tree"
    return read_figure(text), Path(text).stem


def option(name: str, read: Callable[[str], Value], text: str) -> Value:
    """Read an option's word, and name the option where the word is wrong.

    Raises
    ------
    OptionError
        Where `read` refuses the word.
    """
    try:
        return read(text)
    except PackerError as error:
        raise OptionError(error.message, name) from None


def in_mm(name: str, text: str) -> float:
    """Return a length typed with or without a unit, in mm.

    Raises
    ------
    OptionError
        Where it is no length above zero.
    """
    size = option(name, parse_sheet, text)
    return size.width * (size.mm_per_unit or 1.0)


def true_mm_of(sheet: Sheet, text: str | None) -> float:
    """Return the mm that a unit of a sheet is, on one of the size that --sheet may give.

    Raises
    ------
    OptionError
        Where the text is no size, or no size is known, or it is of other proportions.
    """
    from packer.drawing.packing_drawing import true_mm

    wished = None if text is None else option("--sheet", parse_sheet, text)
    try:
        return true_mm(sheet, wished)
    except SheetError as error:
        raise OptionError(error.message, "--sheet") from None


@contextlib.contextmanager
def named_options() -> Iterator[None]:
    """Name the option of the command line where a value is refused."""
    try:
        yield
    except OptionError as error:
        raise OptionError(error.message, f"--{error.entry}") from None


def stem_of(path: Path) -> str:
    """Return NAME of ``NAME.packing.json`` and of any other file."""
    return path.name.split(".", 1)[0] if path.name.count(".") > 1 else path.stem
