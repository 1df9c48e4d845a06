"""What the README shows is what the commands print now, but for seconds."""

from __future__ import annotations

import re
from pathlib import Path

from packer.files.figure_toml import parse_figure, read_figure
from packer.report.packing_table import summary
from packer.search.options import SearchOptions
from packer.search.pack import pack
from packer.search.stopping import MaxStarts
from tests.conftest import SAMPLES

README = (Path(__file__).parent.parent / "README.md").read_text(encoding="utf-8")


def blocks(language):
    """The fenced blocks of a language."""
    return re.findall(rf"^```{language}\n(.*?)^```", README, flags=re.MULTILINE | re.DOTALL)


def test_the_summary_of_the_crab_is_what_pack_prints():
    """The bound is proven meanwhile, so the search waits for no clock."""
    (shown,) = [block for block in blocks("text") if block.startswith("Shore crab: scale")]
    packing = pack(
        read_figure(SAMPLES / "shore_crab.toml"),
        options=SearchOptions(stop=MaxStarts(2), workers=1),
    )
    assert summary(packing)[: shown.count("\n")] == shown.splitlines()


def test_the_figure_shown_is_read():
    (shown,) = [block for block in blocks("toml") if block.startswith("name =")]
    assert {flap.name for flap in parse_figure(shown).flaps} >= {"claw", "leg_1", "eye", "tail"}
