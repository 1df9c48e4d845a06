"""The command line: parse, call, print. Heavy imports wait inside the commands."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, NoReturn

import typer

from packer.cli import check, compare, crease, grid, pack, plan, printing, report, sketch
from packer.cli.command_line import TYPED
from packer.cli.output import visible
from packer.errors import PackerError, PatternError, SearchError

if TYPE_CHECKING:
    from collections.abc import Sequence

app = typer.Typer(
    name="packer",
    help="Plan complex folded-paper figures: from a stick figure to the printed fold sheet.",
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)

app.command("check")(check.command)
app.command("pack")(pack.command)
app.command("compare")(compare.command)
app.command("crease")(crease.command)
app.command("grid")(grid.command)
app.command("plan")(plan.command)
app.command("print")(printing.command)
app.command("report")(report.command)
app.command("sketch")(sketch.command)


UsageError: type[Exception] = typer.BadParameter.__mro__[1]
"""What typer raises where words and options do not fit a command; it has no public name there."""


def main(arguments: Sequence[str] | None = None) -> NoReturn:
    """Run a command and exit: 0 when done, 1 for a failed run, 2 for wrong input.

    Parameters
    ----------
    arguments
        Words of the command line; those of this process by default. Without any the help is shown.
    """
    words = list(sys.argv[1:] if arguments is None else arguments) or ["--help"]
    TYPED.set(tuple(map(str, words)))
    try:
        code = app(args=words, prog_name="packer", standalone_mode=False)
    except PackerError as error:
        print(visible(str(error)), file=sys.stderr)
        sys.exit(1 if isinstance(error, SearchError | PatternError) else 2)
    except UsageError as error:
        print(visible(_misused(error, words)), file=sys.stderr)
        sys.exit(2)
    sys.exit(code or 0)


def _misused(error: Exception, words: Sequence[str]) -> str:
    """Return one sentence on what is wrong with words and options, and where to look."""
    context, told = getattr(error, "ctx", None), getattr(error, "format_message", error.__str__)
    # an option of a command that ends without its value is told without a context
    command = context.command_path if context else f"packer {words[0]}"
    fault = " ".join(told().split()).rstrip(".")
    return f"{command}: {fault[:1].lower()}{fault[1:]}; {command} --help tells what it takes"
