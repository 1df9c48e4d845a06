"""``packer check``: says what a figure is, draws it, and writes only where it is told to."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ET

import pytest

from tests.conftest import SAMPLES


def test_a_figure_is_described_and_its_tree_drawn(packer_cli, samples):
    ran = packer_cli("check", samples / "goby.toml")
    assert (ran.code, ran.err) == (0, "")
    assert ran.out == (
        "Goby: book symmetry, sheet 1 x 1\n"
        "8 flaps, 2 pairs among them, 3 rivers, 4 joints; 8.8 long in all\n"
        "longest from tip to tip: 3.7, between breast_fin.left and tail_fin.left\n"
        "\n"
        "back\n"
        "├─ back_fin_1  0.7\n"
        "├─ shoulder  0.4  to gills\n"
        "│  ├─ snout  0.9  at axis\n"
        "│  ├─ breast_fin.left  1.1\n"
        "│  └─ breast_fin.right  1.1\n"
        "└─ body  0.7  to stalk\n"
        "   ├─ back_fin_2  0.9\n"
        "   ├─ anal_fin  0.6\n"
        "   └─ peduncle  0.6  to tail\n"
        "      ├─ tail_fin.left  0.9\n"
        "      └─ tail_fin.right  0.9\n"
    )


def test_the_sheet_and_symmetry_can_be_tried(packer_cli, samples):
    ran = packer_cli("check", samples / "goby.toml", "--sheet", "A4", "--symmetry", "none")
    assert ran.out.startswith("Goby: no symmetry, sheet 210 x 297 mm\n")


def test_a_tree_on_the_command_line(packer_cli):
    ran = packer_cli("check", "((finger:1,thumb:0.5)arm:2,tail:3);")
    assert ran.code == 0
    assert "3 flaps, 1 river, 2 joints; 6.5 long in all" in ran.out


def test_levels_pleats_and_widths_are_described(packer_cli, tmp_path):
    path = tmp_path / "fish.toml"
    path.write_text(
        """name = "Fish"
[flaps]
head = { joint = "neck", length = 1, width = 2 }
fin = { joint = "neck", length = 1, pair = true, detail = 2 }
tail = { joint = "neck", length = 2, pleats = 3, depth = 0.1 }
"""
    )
    ran = packer_cli("check", path)
    assert ran.out.splitlines()[3:] == [
        "",
        "neck",
        "├─ head  1  2 cells wide on a grid",
        "├─ fin.left  1  detail 2",
        "├─ fin.right  1  detail 2",
        "└─ tail  2.6  3 pleats shorten it to 2",
        "",
        "detail 1: 2 flaps, 0 rivers, 3.6 long in all",
        "detail 2: 4 flaps, 0 rivers, 5.6 long in all, adds fin",
    ]
    levels = json.loads(packer_cli("check", path, "--json").out)["levels"]
    assert [(line["detail"], line["flaps"]) for line in levels] == [(1, 2), (2, 4)]


def test_a_level_that_is_no_figure_is_told(packer_cli, tmp_path):
    path = tmp_path / "fish.toml"
    path.write_text(
        """[flaps]
head = { joint = "neck", length = 1 }
fin = { joint = "neck", length = 1, pair = true, detail = 2 }
"""
    )
    assert "at detail 1: a figure needs" in packer_cli("check", path).out


def test_json_says_the_same(packer_cli, samples):
    ran = packer_cli("check", samples / "goby.toml", "--json")
    assert json.loads(ran.out) == {
        "name": "Goby",
        "sheet": {"width": 1, "height": 1, "unit": ""},
        "symmetry": "book",
        "flaps": 8,
        "pairs": 2,
        "rivers": 3,
        "joints": 4,
        "length": pytest.approx(8.8),
        "longest": {"ends": ["breast_fin.left", "tail_fin.left"], "length": pytest.approx(3.7)},
    }


@pytest.mark.parametrize("path", sorted(SAMPLES.glob("*.toml")), ids=lambda p: p.stem)
def test_every_sample_is_drawn(path, packer_cli, tmp_path):
    ran = packer_cli("check", path, "--out", tmp_path / "out", "--quiet")
    assert (ran.code, ran.out, ran.err) == (0, "", "")
    svg = tmp_path / "out" / f"{path.stem}.figure.svg"
    assert ET.fromstring(svg.read_text(encoding="utf-8")).tag.endswith("svg")
    assert svg.with_suffix(".png").read_bytes().startswith(b"\x89PNG")


def test_a_drawing_is_not_written_over(packer_cli, samples, tmp_path):
    words = ("check", samples / "goby.toml", "--out", tmp_path)
    assert packer_cli(*words).code == 0
    before = (tmp_path / "goby.figure.svg").read_bytes()
    ran = packer_cli(*words)
    assert (ran.code, ran.out) == (2, "")
    assert "exists already" in ran.err
    assert (tmp_path / "goby.figure.svg").read_bytes() == before
    assert packer_cli(*words, "--force").code == 0


def test_wild_names_cannot_move_the_cursor(packer_cli, tmp_path):
    file = tmp_path / "wild.toml"
    file.write_text(
        'name = "\\u001b[31m"\n[flaps]\n"\\u001b[2J" = { joint = "\\u0007", length = 1 }\n'
        '"\\u202e<script>" = { joint = "\\u0007", length = 1 }\n'
    )
    ran = packer_cli("check", file, "--out", tmp_path)
    assert ran.code == 0
    assert not {"\x1b", "\x07", "\u202e"} & set(ran.out)


SIDED = """symmetry = "book"
[flaps]
antenna = { joint = "a", length = 1, pair = true, place = "top left" }
leg = { joint = "a", length = 1, pair = true, place = ["top", "left"] }
eye = { joint = "a", length = 1, pair = true, place = [0.25, 0.5] }
"""


def test_each_twin_is_told_on_its_own_side(packer_cli, tmp_path):
    figure = tmp_path / "sided.toml"
    figure.write_text(SIDED, encoding="utf-8")
    told = packer_cli("check", figure).out
    assert "antenna.left  1  at top left\n" in told
    assert "antenna.right  1  at top right\n" in told
    assert "eye.right  1  at (0.75, 0.5)\n" in told
    assert (
        'leg: a list means any of these, "top" or "left"; for both at once write "top left"'
        in told
    )
