"""Arguments and options that several commands share, and how their words are read."""

from __future__ import annotations

import contextlib
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, TypeVar, cast

import typer

from packer.errors import FigureError, OptionError, PackerError, SheetError
from packer.files.figure_toml import read_figure
from packer.files.newick import is_newick, parse_newick
from packer.limits import SIDES_APART
from packer.model.sheet import parse_sheet

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from concurrent.futures import Executor

    from packer.model.figure import Figure, Symmetry
    from packer.model.problem import Problem
    from packer.search.options import SearchOptions

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


def pose_subject(
    text: str, sheet: str | None = None, symmetry: str | None = None, detail: int | None = None
) -> tuple[Problem, str]:
    """Return the figure an argument means on the sheet the options give, and its stem.

    Of a figure with finer parts only those up to a detail, where one is given.

    Raises
    ------
    PackerError
        Where the file, the sheet or the symmetry is wrong, or they do not go together.
    """
    from packer.model.problem import pose

    figure, stem = read_subject(text)
    size = None if sheet is None else option("--sheet", parse_sheet, sheet)
    try:
        level = figure if detail is None else figure.at(detail)
        return pose(level, size, cast("Symmetry | None", symmetry)), stem
    except (FigureError, SheetError) as error:
        if error.entry == "symmetry" and symmetry is not None:
            raise OptionError(error.message, "--symmetry") from None
        raise error.found_in("the Newick tree" if is_newick(text) else text) from None


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


@dataclass(frozen=True)
class Limits:
    """What the options say about the length of a search."""

    seed: int = 0
    time: float | None = None
    starts: int | None = None
    workers: int | None = None
    effort: float | None = None

    def options(
        self, progress: Callable[[Any], None], executor: Executor | None = None
    ) -> SearchOptions:
        """Return them as a search takes them."""
        from packer.search.options import SearchOptions
        from packer.search.stopping import MaxEffort, MaxStarts, TimeLimit

        rules = (
            None if self.starts is None else MaxStarts(self.starts),
            None if self.effort is None else MaxEffort(self.effort),
            None if self.time is None else TimeLimit(self.time),
        )
        stop = tuple(rule for rule in rules if rule is not None)
        return SearchOptions(self.seed, stop, self.workers, executor, progress)


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
