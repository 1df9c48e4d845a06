"""Options of numbers: each has its range in the table, and tells it in --help."""

from __future__ import annotations

from packer.cli import app
from packer.cli.ranges import RANGES, number_options
from packer.limits import plain


def test_every_option_of_a_number_has_its_range_and_tells_it_once():
    """Once too where several commands share the option."""
    for command in app.registered_commands:
        for name, info in number_options(command.callback):
            assert name in RANGES, f"{command.name} --{name}"
            span = f"{plain(RANGES[name].least)} to {plain(RANGES[name].most)}"
            assert info.help.count(span) == 1
