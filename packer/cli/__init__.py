"""The command line: parse, call, print. Heavy imports wait inside the commands.

In: words of a shell. Out: files, tables on stdout, notes and errors on stderr, an exit code.

    one module a command, each with a function `command`; the rest is what they share:

    options, groups, signature    options, groups of them as values, and how typer sees these
    ranges                        what numbers options take, told in --help and checked
    output, tables                what is printed, and saved whole or not at all
    command_line, beside          the line that makes a file again; files that lie beside another
    cluster, surroundings         workers elsewhere; the terminal, pipe or file that is written to

Exit codes: 0 done, 1 a search or a folding that failed, 2 wrong input.
"""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Final, NoReturn

import typer

from packer.cli import (
    check,
    compare,
    crease,
    everything,
    grid,
    guide,
    landmarks,
    levels,
    pack,
    plan,
    printing,
    report,
    sketch,
    surroundings,
    table,
)
from packer.cli.command_line import TYPED
from packer.cli.output import visible
from packer.cli.ranges import with_ranges
from packer.cli.signature import with_options_apart
from packer.errors import PackerError, PatternError, SearchError
from packer.limits import LONGEST_MESSAGE, cut_short

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

app = typer.Typer(
    name="packer",
    help="Plan complex folded-paper figures: from a stick figure to the printed fold sheet.",
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)

COMMANDS: Final[dict[str, Callable[..., None]]] = {
    "sketch": sketch.command,
    "table": table.command,
    "check": check.command,
    "pack": pack.command,
    "levels": levels.command,
    "compare": compare.command,
    "crease": crease.command,
    "grid": grid.command,
    "landmarks": landmarks.command,
    "guide": guide.command,
    "plan": plan.command,
    "print": printing.command,
    "report": report.command,
    "all": everything.command,
}
"""In the order of the job, as they are listed."""

for name, command in COMMANDS.items():
    app.command(name)(with_ranges(with_options_apart(command)))


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
    surroundings.prepare()
    TYPED.set(tuple(map(str, words)))
    try:
        code = app(args=words, prog_name="packer", standalone_mode=False)
    except PackerError as error:
        print(visible(str(error)), file=sys.stderr)
        sys.exit(1 if isinstance(error, SearchError | PatternError) else 2)
    except UsageError as error:
        print(visible(_misused(error, words)), file=sys.stderr)
        sys.exit(2)
    except OSError as error:
        if not surroundings.is_of_output(error):
            raise
        code, fault = 0, surroundings.given_up(error)
    else:
        fault = surroundings.finish()
    if fault:
        print(f"the results could not be printed ({fault})", file=sys.stderr)
        sys.exit(1)
    sys.exit(code or 0)


def _misused(error: Exception, words: Sequence[str]) -> str:
    """Return one sentence on what is wrong with words and options, and where to look."""
    context, told = getattr(error, "ctx", None), getattr(error, "format_message", error.__str__)
    # an option of a command that ends without its value is told without a context
    command = context.command_path if context else f"packer {words[0]}"
    fault = cut_short(" ".join(told().split()).rstrip("."), LONGEST_MESSAGE)
    return f"{command}: {fault[:1].lower()}{fault[1:]}; {command} --help tells what it takes"
