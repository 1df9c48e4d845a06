"""``packer guide`` and ``packer landmarks``: what they write, and what they refuse."""

import json
import re

import pytest

from packer.files.fold_json import fold_text
from packer.files.packing_json import packing_text, read_packing
from packer.folded.layers import flat_base
from packer.folded.pleats import PleatedPart, pleat_creases
from tests.conftest import Ticks
from tests.creases.molecules import test_classic_bases as bases
from tests.drawing import pdf
from tests.drawing.desk import fish
from tests.landmarks.recomputed_guide import faults


@pytest.fixture
def pattern(tmp_path):
    path = tmp_path / "bird.creases.fold"
    path.write_text(fold_text(flat_base(bases.base(*bases.BIRD))), encoding="utf-8")
    return path


@pytest.fixture
def packing(tmp_path):
    path = tmp_path / "fish.packing.json"
    path.write_text(packing_text(fish(1.0, "")), encoding="utf-8")
    return path


@pytest.mark.parametrize(("paper", "size"), [("A4", (210, 297)), ("letter", (215.9, 279.4))])
def test_a_guide_is_written_three_times_over(packer_cli, pattern, tmp_path, paper, size):
    words = ("--sheet", "350mm", "--on", paper, "--out", tmp_path / "out")
    ran = packer_cli("guide", pattern, *words)
    assert ran.code == 0, ran.err
    assert "landmark steps" in ran.out
    pages = pdf.pages((tmp_path / "out" / "bird.guide.pdf").read_bytes())
    assert all(pdf.size(page) == pytest.approx(size, abs=0.01) for page in pages)
    words = " ".join(page.extract_text() for page in pages)
    assert "Repeat on the other side" in words or "Bring" in words
    record = json.loads((tmp_path / "out" / "bird.guide.json").read_text())
    assert isinstance(record["steps"], list)
    assert {"alignment", "uses", "line", "marks"} <= record["steps"][0].keys()
    assert faults(record, json.loads(pattern.read_text())) == []
    for tip in record["tips"].values():
        assert tip["distance"] <= 0.5 / 350
    html = (tmp_path / "out" / "bird.guide.html").read_text()
    assert "<script" not in html
    assert "http" not in re.sub(r'xmlns="[^"]*"', "", html).replace("http-equiv", "")
    assert html.count("<svg") >= len(record["steps"])


def test_pleats_of_the_file_are_the_last_step(packer_cli, pattern, tmp_path):
    base = flat_base(bases.base(*bases.BIRD))
    tree = base.pattern.tree
    joint = tree.joints[tree.ends[0, 1] - tree.n_tips]
    parts = {tree.names[0]: PleatedPart(joint, ((0.4, 0.5),))}
    pattern.write_text(fold_text(base, pleat_creases(base.pattern, base.form, parts)))
    ran = packer_cli("guide", pattern, "--sheet", "350mm", "--out", tmp_path / "out")
    assert ran.code == 0, ran.err
    assert f"pleats of {tree.names[0]}" in ran.out
    record = json.loads((tmp_path / "out" / "bird.guide.json").read_text())
    assert faults(record, json.loads(pattern.read_text())) == []
    length = base.pattern.built[tree.names[0]]
    folds = record["pleats"][0]["folds"]
    assert [one["along"] for one in folds] == pytest.approx([0.4 * length, 0.5 * length])
    words = pdf.pages((tmp_path / "out" / "bird.guide.pdf").read_bytes())[-1].extract_text()
    assert "on the open sheet" in words
    assert "show their back" in words


def test_without_its_true_size_a_guide_asks_for_it(packer_cli, pattern, tmp_path):
    ran = packer_cli("guide", pattern, "--out", tmp_path / "out")
    assert ran.code == 2
    assert "--sheet" in ran.err
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("words", [("--within", "-1"), ("--within", "near"), ("--on", "B17")])
def test_wrong_words_are_told_by_option(packer_cli, pattern, words, tmp_path):
    ran = packer_cli("guide", pattern, "--sheet", "350mm", *words, "--out", tmp_path / "out")
    assert ran.code == 2
    assert words[0] in ran.err
    assert ran.err.count("\n") == 1


def test_a_packing_is_no_pattern(packer_cli, packing):
    ran = packer_cli("guide", packing, "--sheet", "350mm")
    assert ran.code == 2
    assert "fish.packing.json" in ran.err


def test_landmarks_are_told_step_by_step(packer_cli, packing):
    ran = packer_cli("landmarks", packing, "--sheet", "350mm")
    assert ran.code == 0, ran.err
    assert "expected by hand" in ran.out


def test_landmarks_end_with_their_time_and_say_so(packer_cli, packing, tmp_path, monkeypatch):
    """A clock on which each look takes a tenth of the limit."""
    monkeypatch.setattr("packer.deadline.monotonic", Ticks(1.0))
    ran = packer_cli("landmarks", packing, "--sheet", "350mm", "--time", "10")
    assert ran.code == 0, ran.err
    assert "ended before it was done" in ran.err
    assert "until its end the search found no sequence that marks" in ran.err
    words = ("landmarks", packing, "--sheet", "350mm", "--time", "10", "--snap", "1")
    ran = packer_cli(*words, "--out", tmp_path)
    assert ran.code == 0, ran.err
    assert "ended before it was done" in ran.err
    assert read_packing(tmp_path / "fish.snapped.packing.json").violations() == []


def test_snapping_keeps_the_packing_and_its_promise(packer_cli, packing, tmp_path):
    ran = packer_cli("landmarks", packing, "--sheet", "350mm", "--snap", "1", "--out", tmp_path)
    assert ran.code == 0, ran.err
    before, after = read_packing(packing), read_packing(tmp_path / "fish.snapped.packing.json")
    assert after.violations() == []
    assert after.scale >= before.scale * 0.99
    assert (tmp_path / "fish.snap.svg").read_text().startswith("<svg")


@pytest.mark.parametrize("share", ["0", "-1", "50", "nan"])
def test_a_snap_out_of_range_is_refused(packer_cli, packing, share):
    ran = packer_cli("landmarks", packing, "--sheet", "350mm", "--snap", share)
    assert ran.code == 2
    assert "--snap" in ran.err
