"""``packer sketch``: three drawings with the figures they give; wrong input and marked copies."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from packer.files.figure_toml import read_figure
from packer.sketch.svg_reader import parse_sketch
from tests.conftest import run

SAMPLES = Path(__file__).parents[2] / "samples"
SKETCHES = ("cuttlefish", "sea_slug", "squat_lobster")

GOOD = (
    '<svg xmlns="http://www.w3.org/2000/svg" stroke="black" fill="none" {}>'
    '<path id="claw" d="M0 0L-30 -20"/><path d="M0 0L30 -20"/><path id="tail" d="M0 0V20"/></svg>'
)
LOOP = GOOD.replace("</svg>", '<path d="M-30 -20H30"/></svg>')


@pytest.fixture
def drawing(tmp_path):
    path = tmp_path / "crab.svg"
    path.write_text(GOOD.format(""))
    return path


@pytest.mark.parametrize("stem", SKETCHES)
def test_the_sample_drawings_give_their_figures(stem, tmp_path, capsys):
    assert run("sketch", SAMPLES / f"{stem}.svg", "--out", tmp_path) == 0
    assert (tmp_path / f"{stem}.toml").read_text() == (SAMPLES / f"{stem}.toml").read_text()
    assert "flap" in capsys.readouterr().out


def test_the_samples_are_what_was_drawn():
    lobster = read_figure(SAMPLES / "squat_lobster.toml")
    assert lobster.symmetry == "book"
    assert [f.name for f in lobster.flaps if not f.pair] == ["beak", "tail fan"]
    assert read_figure(SAMPLES / "sea_slug.toml").symmetry == "none"
    arms = {f.name: f.length for f in read_figure(SAMPLES / "cuttlefish.toml").flaps}
    assert max(arms, key=arms.get) == "tentacle"


def test_results_go_to_stdout_and_notes_to_stderr(drawing, capsys):
    assert run("sketch", drawing, "--out", drawing.parent / "new", "--json") == 0
    out, err = capsys.readouterr()
    record = json.loads(out)
    assert record["figure"]["symmetry"] == "book"
    assert "1 twin part" in err
    assert run("sketch", drawing, "--out", drawing.parent / "newer", "--quiet") == 0
    assert capsys.readouterr() == ("", "")


def test_lengths_can_be_wished_for(drawing, capsys):
    out = drawing.parent
    for words, length in (
        (["--longest", 3], 1.664),
        (["--length", "claw=6"], 3.328),
        (["--mm"], 5.292),
    ):
        assert run("sketch", drawing, "--out", out, "--force", *words) == 0
        tail = read_figure(out / "crab.toml").flaps[1]
        assert tail.length == pytest.approx(length, abs=1e-3)


def test_what_was_read_is_marked_in_a_copy_on_request(drawing, capsys):
    assert run("sketch", drawing, "--out", drawing.parent, "--marked") == 0
    copy = parse_sketch((drawing.parent / "crab.marked.svg").read_bytes())
    assert {c.text for c in copy.captions} == {"claw", "tail"}


def test_faults_are_marked_in_a_copy_on_request_and_nothing_else_is_written(drawing, capsys):
    drawing.write_text(LOOP.format(""))
    out = drawing.parent / "out"
    assert run("sketch", drawing, "--out", out) == 2
    assert not out.exists()
    said = capsys.readouterr().err
    assert said.startswith(f"{drawing}: ")
    assert "loop around (" in said
    assert run("sketch", drawing, "--out", out, "--marked") == 2
    assert [path.name for path in out.iterdir()] == ["crab.marked.svg"]


@pytest.mark.parametrize(
    ("content", "words", "said"),
    [
        (None, [], "no such file; name a drawing"),
        ("hello", [], "no SVG"),
        ("<svg/>", [], "no visible stroke"),
        (GOOD, ["--longest", "0"], "--longest: 0 is out of range"),
        (GOOD, ["--longest", "nan"], "--longest: nan is out of range"),
        (GOOD, ["--length", "6"], "--length: .* names no part"),
        (GOOD, ["--length", "claw=six"], "--length: .* is no number"),
        (GOOD, ["--length", "clav=6"], 'no part is called "clav".*"claw"'),
        (GOOD, ["--mm", "--longest", "3"], "in one way only"),
        (GOOD.format('viewBox="0 0 9 9"'), ["--mm"], "gives itself no size"),
        (GOOD, ["--join", "0.9"], "--join: "),
        (GOOD, ["--twins", "-1"], "--twins: "),
    ],
)
def test_wrong_input_is_one_sentence_and_nothing_is_written(
    content, words, said, tmp_path, capsys
):
    path, out = tmp_path / "crab.svg", tmp_path / "out"
    if content is not None:
        path.write_text(content.format("") if "{}" in content else content)
    assert run("sketch", path, "--out", out, *words) == 2
    printed, told = capsys.readouterr()
    assert printed == ""
    assert told.count("\n") == 1
    assert re.search(said, told)
    assert not out.exists()


def test_an_existing_figure_is_not_written_over(drawing, capsys):
    target = drawing.with_suffix(".toml")
    target.write_text("mine")
    assert run("sketch", drawing, "--out", drawing.parent) == 2
    assert target.read_text() == "mine"
    assert "--force" in capsys.readouterr().err
    assert run("sketch", drawing, "--out", drawing.parent, "--force") == 0
    assert target.read_text() != "mine"
