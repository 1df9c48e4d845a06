"""What the README shows is what the commands print now, but for seconds."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest
import typer

from packer.cli import app
from packer.files.figure_toml import parse_figure, read_figure
from packer.report.packing_table import summary
from packer.search.options import SearchOptions
from packer.search.pack import pack
from packer.search.stopping import MaxStarts
from tests.conftest import SAMPLES

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")


def blocks(language):
    """The fenced blocks of a language."""
    return re.findall(rf"^```{language}\n(.*?)^```", README, flags=re.MULTILINE | re.DOTALL)


def commands():
    """Every command line of the README: in blocks, behind &&, and in the running text."""
    spans = re.findall(
        r"(?<!`)`([^`]+)`(?!`)", re.sub(r"```.*?```", "", README, flags=re.DOTALL)
    )
    parts = [part.strip() for block in blocks("sh") for part in re.split(r"&&|\n", block)]
    lines = [re.sub(r"^\.venv/bin/", "", part) for part in parts] + spans
    return dict.fromkeys(line for line in lines if line.startswith("packer "))


@pytest.fixture(scope="module")
def crab():
    """The packing that all of the README's crab is held against."""
    options = SearchOptions(stop=MaxStarts(2), workers=1)
    return pack(read_figure(SAMPLES / "shore_crab.toml"), options=options)


def test_the_summary_of_the_crab_is_what_pack_prints(crab):
    """The bound is proven meanwhile, so the search waits for no clock.

    Of the packings that reach the bound another comes where the processor rounds otherwise, so what
    the second line counts may differ.
    """
    (shown,) = blocks("text")
    assert shown.startswith("Shore crab: scale")
    scale, counts, bound = summary(crab)[: shown.count("\n")]
    assert [scale, bound] == shown.splitlines()[::2]
    words = re.sub(r"\d+", "N", shown.splitlines()[1])
    assert re.sub(r"\d+", "N", counts) == words
    assert "15 flaps" in counts


def test_the_figure_shown_is_read():
    (shown,) = blocks("toml")
    assert {flap.name for flap in parse_figure(shown).flaps} >= {"claw", "leg_1", "eye", "tail"}


def test_the_lines_of_python_do_what_they_say(crab, monkeypatch):
    """With the crab's search counted in place of its ten seconds; the rest runs as it stands."""
    (shown,) = blocks("python")
    taken = {}

    def packed(figure, sheet, options):
        taken.update(figure=figure, sheet=sheet, options=options)
        return crab

    monkeypatch.setattr("packer.pack", packed, raising=False)
    monkeypatch.chdir(ROOT)
    exec(shown, {})
    assert taken["figure"] == crab.figure
    assert taken["sheet"].in_mm().width == 350
    assert taken["options"].rules[0].seconds == 10


@pytest.mark.parametrize("line", [line for line in commands() if line.count(" ") > 1])
def test_every_command_shown_is_one_that_is_taken(line):
    """Command, options and their values are read as typed; files of the README are there."""
    _, name, *words = shlex.split(line)
    command = typer.main.get_command(app).commands[name]
    words = [word.strip("[]") for word in words]
    context = command.make_context(name, words, resilient_parsing=False)
    assert context.params
    for word in words:
        if word.startswith("samples/"):
            assert (ROOT / word).exists()


def test_commands_are_shown_for_every_verb():
    names = {line.split()[1] for line in commands()}
    assert names >= {command.name for command in app.registered_commands}
