"""What numbers options take: one table for all commands, told in --help and checked alike."""

from __future__ import annotations

from typing import (
    TYPE_CHECKING,
    Annotated,
    Any,
    Final,
    get_args,
    get_origin,
    get_type_hints,
)

from typer.models import OptionInfo

from packer.errors import OptionError
from packer.limits import (
    FLEX,
    LENGTH,
    PACKINGS,
    SECONDS,
    SEED,
    SIDES_APART,
    STARTS,
    WORKERS,
    NumberRange,
    plain,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    Command = Callable[..., Any]

RANGES: Final = {
    "seed": SEED,
    "time": SECONDS,
    "starts": STARTS,
    "workers": WORKERS,
    "gallery": PACKINGS,
    "flex": NumberRange(0.0, FLEX.most),
    "unit": LENGTH,
    "error": NumberRange(0.0, 10.0),
    "side": NumberRange(1, 640),
    "lengthen": NumberRange(0.0, 10.0),
    "effort": NumberRange(0.01, 1e5),
    "give": NumberRange(0.01, 50.0),
    "creases": NumberRange(1, 10_000),
    "detail": NumberRange(1, 99),
    "grid": NumberRange(0.01, 1e5),
    "up-to": NumberRange(1.0, SIDES_APART),
    "steps": NumberRange(2, 200),
    "margin": NumberRange(0.0, 100.0),
    "overlap": NumberRange(0.0, 100.0),
    "figure": NumberRange(1e-3, 1e6),
    "allowance": NumberRange(0.0, 0.9),
    "caliper": NumberRange(1.0, 1e4),
    "weight": NumberRange(1.0, 1e4),
    "bulk": NumberRange(0.1, 10.0),
    "width": NumberRange(1e-3, 1e4),
    "longest": LENGTH,
    "join": NumberRange(0.0, 0.9),
    "twins": NumberRange(0.0, 0.5),
    "snap": NumberRange(0.0, 50.0),
    "leave-out": NumberRange(0, 999),
}
"""By the name of the option, without its dashes. An option of a number that is not here is refused
by a test."""


def with_ranges(command: Command) -> Command:
    """Return a command whose options of numbers tell their range in --help and check it.

    Parameters
    ----------
    command
        A function as typer takes it; options that several commands share are told once.
    """
    for name, info in number_options(command):
        if name in RANGES and info.callback is None:
            allowed = RANGES[name]
            span = f"{plain(allowed.least)} to {plain(allowed.most)}"
            info.help = f"{(info.help or '').rstrip('.')}; {span}."
            info.callback = _checked(name)
    return command


def number_options(command: Command) -> Iterator[tuple[str, OptionInfo]]:
    """Yield the options of a command that take a number, by name without dashes."""
    for name, hint in get_type_hints(command, include_extras=True).items():
        if get_origin(hint) is not Annotated:
            continue
        kind, *notes = get_args(hint)
        numbers = {int, float} & {kind, *get_args(kind)}
        for info in notes:
            if numbers and isinstance(info, OptionInfo):
                yield (info.param_decls or (name.replace("_", "-"),))[0].lstrip("-"), info


def _checked(name: str) -> Callable[[float | None], float | None]:
    """Return what typer calls with each value of an option."""

    def check(value: float | None) -> float | None:
        if value is not None and not RANGES[name].hold(value):
            raise OptionError(
                f"{value:.10g} is out of range; write a number {RANGES[name]}",
                f"--{name}",
            )
        return value

    return check
