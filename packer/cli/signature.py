"""Options as one value: a command may take a group of options, and typer still sees each of them.

A group is a frozen dataclass whose fields are options. A command that has a group among its
parameters is handed over to typer with the group's fields in its place.
"""

from __future__ import annotations

import functools
import inspect
from dataclasses import is_dataclass
from typing import TYPE_CHECKING, Any, get_type_hints

if TYPE_CHECKING:
    from collections.abc import Callable


def with_options_apart(command: Callable[..., None]) -> Callable[..., None]:
    """Return a command as typer takes it: every field of a group is a parameter of its own.

    Parameters
    ----------
    command
        A function whose parameters are options, as typer takes them, or groups of options.
    """
    groups: dict[str, tuple[type, list[str]]] = {}
    parameters: list[inspect.Parameter] = []
    for parameter in _resolved(command):
        group = parameter.annotation
        if is_dataclass(group) and isinstance(group, type):
            members = _resolved(group)
            groups[parameter.name] = group, [member.name for member in members]
            parameters += members
        else:
            parameters.append(parameter)

    @functools.wraps(command)
    def called(**values: Any) -> None:
        for name, (group, members) in groups.items():
            values[name] = group(**{member: values.pop(member) for member in members})
        command(**values)

    called.__signature__ = inspect.Signature(parameters)  # type: ignore[attr-defined]
    called.__annotations__ = {parameter.name: parameter.annotation for parameter in parameters}
    return called


def _resolved(function: Callable[..., Any]) -> list[inspect.Parameter]:
    """Return the parameters of a function or class with their types in place of their names."""
    hints = get_type_hints(function, include_extras=True)
    return [
        parameter.replace(annotation=hints[name])
        for name, parameter in inspect.signature(function).parameters.items()
    ]
