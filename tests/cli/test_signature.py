"""Options that come as a group: typer sees each of them, the command one value."""

from __future__ import annotations

import inspect
from dataclasses import dataclass
from typing import Annotated

import pytest

from packer.cli import COMMANDS
from packer.cli.signature import with_options_apart

WidthOption = Annotated[float, "width"]


@dataclass(frozen=True)
class Size:
    width: WidthOption
    height: Annotated[float, "height"] = 2.0


def test_a_group_is_written_out_in_its_place_and_made_of_what_is_given():
    taken = []

    def command(size: Size, name: str = "none", other: int = 3) -> None:
        """Say what it does."""
        taken.append((size, name, other))

    # the classes of a test function are not in the reach of names that wait to be looked up
    command.__annotations__ = {"size": Size, "name": str, "other": int, "return": None}
    apart = with_options_apart(command)
    parameters = inspect.signature(apart).parameters
    assert list(parameters) == ["width", "height", "name", "other"]
    assert parameters["width"].annotation is WidthOption
    assert parameters["width"].default is inspect.Parameter.empty
    assert parameters["height"].default == 2.0
    assert apart.__doc__ == command.__doc__
    apart(width=1.0, height=4.0, name="a", other=5)
    assert taken == [(Size(1.0, 4.0), "a", 5)]


@pytest.mark.parametrize("name", COMMANDS)
def test_no_command_has_an_option_twice(name):
    """The groups of a command share no option, and each option is one parameter."""
    command = COMMANDS[name]
    parameters = inspect.signature(with_options_apart(command)).parameters.values()
    notes = [note for p in parameters for note in getattr(p.annotation, "__metadata__", ())]
    flags = [flag for note in notes for flag in note.param_decls or ()]
    assert len(flags) == len(set(flags))
