"""``packer crease``: its files, its numbers, and the road from a figure to the fold sheet."""

from __future__ import annotations

import json
import signal
import sys
import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest

from packer.files.fold_json import read_fold
from packer.files.packing_json import packing_text, read_packing
from packer.folded.checks import Finding, findings
from packer.folded.form import fold
from tests.cli.test_ending import Terminal, start
from tests.conftest import PATIENCE
from tests.drawing import pdf
from tests.drawing.desk import fish

ENDS = ("creases.svg", "creases.png", "creases.fold", "settled.packing.json")


@pytest.fixture
def saved(tmp_path):
    """A fish whose river the packing takes for split, which it is not."""
    path = tmp_path / "fish.packing.json"
    claimed = replace(fish(1.0, ""), split_rivers=("body",))
    path.write_text(packing_text(claimed), encoding="utf-8")
    return path


@pytest.mark.slow
def test_figure_to_packing_to_creases_to_fold_sheet(packer_cli, samples, tmp_path):
    """A sample goes the whole road by the command line."""
    figure = samples / "sea_star.toml"
    words = ("--out", tmp_path)
    assert packer_cli("pack", figure, "--starts", 8, "--workers", 1, *words).code == 0
    packing = tmp_path / "sea_star.packing.json"
    ran = packer_cli("crease", packing, "--time", 12, "--json", *words)
    assert ran.code == 0, ran.err
    told = json.loads(ran.out)
    assert told["findings"] == []
    assert told["layerOrder"] == "valid layer order"
    assert told["given"] <= 0.02 + 1e-9
    for end in ENDS:
        assert (tmp_path / f"sea_star.{end}").stat().st_size > 500
    ET.parse(tmp_path / "sea_star.creases.svg")
    settled = read_packing(tmp_path / "sea_star.settled.packing.json")
    assert settled.violations() == []
    pattern = read_fold(tmp_path / "sea_star.creases.fold")
    assert pattern.title == "Sea star"
    assert findings(pattern, fold(pattern)) == []
    for name, (x, y) in zip(settled.tree.flaps, settled.tips, strict=True):
        assert pattern.points[pattern.tips[name]] == pytest.approx((x, y), abs=1e-9)
    ran = packer_cli(
        "print", tmp_path / "sea_star.creases.fold", "--sheet", "200mm", "--on", "A4", *words
    )
    assert ran.code == 0, ran.err
    (printed,) = tmp_path.glob("*.print.pdf")
    assert len(pdf.pages(printed.read_bytes())) >= 2


@pytest.mark.skipif(sys.platform == "win32", reason="needs POSIX signals and terminals")
def test_ctrl_c_ends_settling_and_keeps_its_best(saved, tmp_path):
    terminal = Terminal()
    run = start("crease", saved, "--time", 300, "--out", tmp_path, stderr=terminal.theirs)
    try:
        terminal.wait_for(" 0.")  # there is a smallest feature, so something to keep
        run.send_signal(signal.SIGINT)
        out, _ = run.communicate(timeout=PATIENCE)
    finally:
        run.kill()
        terminal.close()
    assert run.returncode == 0
    assert "valid layer order" in out
    for end in ENDS:
        assert (tmp_path / f"fish.{end}").exists()


def test_both_looks(packer_cli, saved, tmp_path):
    texts = []
    for look in ("role", "fold"):
        out = tmp_path / look
        ran = packer_cli("crease", saved, "--time", 4, "--look", look, "--out", out)
        assert ran.code == 0, ran.err
        assert "none; the packing expected body" in ran.out
        texts.append((out / "fish.creases.svg").read_text(encoding="utf-8"))
    assert texts[0] != texts[1]


def test_a_pattern_with_findings_is_never_written(packer_cli, saved, tmp_path, monkeypatch):
    wrong = Finding("Kawasaki", "vertex 7 at (0.5, 0.25)", 0.1, 1e-9, "radians")
    monkeypatch.setattr("packer.folded.checks.findings", lambda *_: [wrong])
    out = tmp_path / "out"
    ran = packer_cli("crease", saved, "--time", 1, "--out", out)
    assert ran.code == 1
    assert "fish.packing.json" in ran.err
    assert "Kawasaki: vertex 7 at (0.5, 0.25) is off by 0.1 radians" in ran.err
    assert not out.exists()


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--give", "0"), "--give"),
        (("--give", "80"), "--give"),
        (("--time", "nan"), "--time"),
        (("--look", "rol"), 'did you mean "role"'),
        (("--time", "-1"), "--time"),
    ],
)
def test_wrong_options_write_nothing(packer_cli, saved, tmp_path, words, told):
    out = tmp_path / "out"
    ran = packer_cli("crease", saved, *words, "--out", out)
    assert ran.code == 2
    assert told in ran.err
    assert not out.exists()


def test_existing_files_are_kept(packer_cli, saved, tmp_path):
    (tmp_path / "fish.creases.fold").write_text("mine", encoding="utf-8")
    ran = packer_cli("crease", saved, "--out", tmp_path)
    assert ran.code == 2
    assert (tmp_path / "fish.creases.fold").read_text(encoding="utf-8") == "mine"
    assert not (tmp_path / "fish.creases.svg").exists()


def test_a_file_that_is_no_packing(packer_cli, samples, tmp_path):
    ran = packer_cli("crease", samples / "goby.toml", "--out", tmp_path)
    assert ran.code == 2
    assert "goby.toml" in ran.err


def test_a_wrong_fold_file_is_not_printed(packer_cli, tmp_path):
    path = tmp_path / "wrong.fold"
    path.write_text("{}", encoding="utf-8")
    ran = packer_cli("print", path, "--sheet", "200mm", "--out", tmp_path)
    assert ran.code == 2
    assert "wrong.fold" in ran.err
