"""``packer levels``: a table, a plate and two files; the report shows them."""

from __future__ import annotations

import csv
import io
import json

import pytest

FISH = """name = "Fish"
symmetry = "book"
[sheet]
width = 200
height = 200
unit = "mm"
[flaps]
snout = { joint = "neck", length = 1, place = "axis" }
fin = { joint = "neck", length = 1, pair = true }
barbel = { joint = "neck", length = 0.5, pair = true, detail = 2 }
ray_1 = { joint = "tail", length = 1, detail = 2 }
ray_2 = { joint = "tail", length = 0.9, pair = true, detail = 2 }
[rivers]
body = { joints = ["neck", "tail"], length = 2, pleats = 2, depth = 0.1 }
"""


@pytest.fixture
def fish(tmp_path):
    path = tmp_path / "fish.toml"
    path.write_text(FISH)
    return path


def test_levels_are_packed_creased_drawn_and_reported(packer_cli, fish, tmp_path):
    words = ("levels", fish, "--starts", "1", "--workers", "1", "--creases", "1")
    words += ("--leave-out", "2", "--landmarks", "25mm", "--out", tmp_path)
    ran = packer_cli(*words)
    assert ran.code == 0
    assert "detail" in ran.out
    assert "landmark creases" in ran.out
    record = json.loads((tmp_path / "fish.levels.json").read_text())
    first, second = record["levels"]
    assert (first["detail"], first["flaps"], second["flaps"]) == (1, 4, 8)
    assert first["bound"] >= first["scale"] >= second["scale"]
    assert second["adds"] == ["barbel", "ray_1", "ray_2"]
    assert second["untried"] == 1
    assert first["length_mm"] == pytest.approx(first["size"])
    assert first["creases"] > 0
    assert 0 < first["landmarks"] <= first["landmark_creases"]
    assert max(level["landmark_off_mm"] for level in (first, second)) <= 0.5
    lines = list(csv.DictReader(io.StringIO((tmp_path / "fish.levels.csv").read_text())))
    assert [float(line["scale"]) for line in lines] == [first["scale"], second["scale"]]
    assert [int(line["landmarks"]) for line in lines] == [
        first["landmarks"],
        second["landmarks"],
    ]
    assert (tmp_path / "fish.levels.png").read_bytes().startswith(b"\x89PNG")
    packed = packer_cli("pack", fish, "--starts", "1", "--workers", "1", "--out", tmp_path)
    assert packed.code == 0
    assert packer_cli("report", tmp_path / "fish.packing.json", "--out", tmp_path).code == 0
    page = (tmp_path / "fish.report.html").read_text()
    assert "Levels of detail" in page
    assert "at 2 levels of detail" in page


def test_a_figure_without_detail_is_refused_and_nothing_written(packer_cli, samples, tmp_path):
    ran = packer_cli("levels", samples / "goby.toml", "--out", tmp_path)
    assert ran.code == 2
    assert "goby.toml" in ran.err
    assert "write detail = 2" in ran.err
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--leave-out", "-1"), "--leave-out: -1 is out of range"),
        (("--creases", "0"), "--creases: 0 is"),
        (("--sheet", "huge"), "--sheet"),
        (("--landmarks", "wide"), "--landmarks"),
        (("--symmetry", "bok"), "--symmetry"),
    ],
)
def test_wrong_options_are_named(packer_cli, fish, words, told):
    ran = packer_cli("levels", fish, *words)
    assert ran.code == 2
    assert told in ran.err


def test_one_level_can_be_packed_alone(packer_cli, fish, tmp_path):
    words = (
        "pack",
        fish,
        "--detail",
        "1",
        "--starts",
        "1",
        "--workers",
        "1",
        "--out",
        tmp_path,
    )
    assert packer_cli(*words).code == 0
    record = json.loads((tmp_path / "fish.packing.json").read_text())
    assert set(record["tips"]) == {"snout", "fin.left", "fin.right", "body"}
    ran = packer_cli("grid", fish, "--detail", "0", "--out", tmp_path / "grid")
    assert ran.code == 2
    assert "--detail: 0 is out of range" in ran.err
