"""``packer pack``: the files it writes, the table it prints, and that both hold."""

from __future__ import annotations

import json
import math
import re
import xml.etree.ElementTree as ET

import pytest

from packer.cli.pack import _Files
from packer.files.packing_json import read_packing
from packer.model.figure import Figure, Flap
from packer.model.packing import Packing
from packer.model.problem import pose
from tests.conftest import HANDY, SAMPLES
from tests.recomputed import check_record

FEW = ("--starts", "1", "--workers", "1")


def pack(packer_cli, figure, out, *words):
    ran = packer_cli("pack", figure, "--out", out, *FEW, *words)
    assert ran.code == 0, ran.err
    return ran


def test_three_files_are_written_and_named(packer_cli, samples, tmp_path):
    ran = pack(packer_cli, samples / "goby.toml", tmp_path / "out")
    names = ["goby.packing.json", "goby.packing.png", "goby.packing.svg"]
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == names
    wrote = [line for line in ran.err.splitlines() if line.startswith("wrote ")]
    assert sorted(line.split("/")[-1] for line in wrote) == names
    check_record(json.loads((tmp_path / "out" / names[0]).read_text(encoding="utf-8")))
    assert (tmp_path / "out" / names[1]).read_bytes().startswith(b"\x89PNG")
    assert ET.parse(tmp_path / "out" / names[2]).getroot().tag.endswith("svg")


def test_a_star_of_four_takes_the_corners(packer_cli, tmp_path):
    """Four equal flaps of half a side: the bird base (Demaine and O'Rourke, 2007, ch. 16)."""
    ran = pack(packer_cli, "(a:0.5,b:0.5,c:0.5,d:0.5);", tmp_path)
    assert ran.out.startswith("tree: scale 1, sheet 1 x 1, no symmetry\n")
    assert read_packing(tmp_path / "tree.packing.json").scale == pytest.approx(1, rel=1e-12)


def test_two_flaps_lie_across_the_sheet_in_millimetres(packer_cli, tmp_path):
    """Two tips are at most the diagonal apart, so 3 units of length are 500 mm on 300 x 400."""
    ran = pack(packer_cli, "(long:2,short:1);", tmp_path, "--sheet", "300x400mm")
    rows = {row.split()[0]: row.split() for row in ran.out.splitlines() if row}
    assert rows["part"][:6] == ["part", "length", "on", "sheet,", "mm", "kind"]
    assert rows["long"][1:4] == ["2", "333.3", "corner"]
    assert rows["short"][1:4] == ["1", "166.7", "corner"]
    # m = 500 / (a + b), so one more unit of either takes 500 / 9 of scale
    assert rows["long"][6] == f"{-500 / 9:.3g}"
    assert rows["long"][7:9] == ["+7.1", "%"]  # 3 / 2.8
    assert "tenth shorter, first order" in ran.out
    both = "7.1 % packed again (7.1 % to first order)"
    assert f'Shortening "long" by a tenth would gain scale: {both}.' in ran.out


def test_json_is_the_file_and_nothing_else(packer_cli, samples, tmp_path):
    ran = pack(packer_cli, samples / "sea_star.toml", tmp_path, "--json")
    assert ran.out == (tmp_path / "sea_star.packing.json").read_text(encoding="utf-8")
    assert json.loads(ran.out)["search"]["seed"] == 0


def test_quiet_prints_nothing(packer_cli, samples, tmp_path):
    ran = pack(packer_cli, samples / "sea_star.toml", tmp_path, "--quiet")
    assert (ran.out, ran.err) == ("", "")


def test_nothing_is_searched_for_where_a_file_exists(
    packer_cli, samples, tmp_path, monkeypatch
):
    (tmp_path / "sea_star.packing.png").write_text("mine")
    monkeypatch.setattr("packer.search.pack.pack", None)
    ran = packer_cli("pack", samples / "sea_star.toml", "--out", tmp_path)
    assert (ran.code, ran.out) == (2, "")
    name = tmp_path / "sea_star.packing.png"
    assert ran.err == (
        f"{name}: it exists already; write elsewhere with --out or over it with --force\n"
    )
    assert [path.name for path in tmp_path.iterdir()] == ["sea_star.packing.png"]


def test_the_same_seed_gives_the_same_file(packer_cli, tmp_path):
    # a figure whose gap stays open, so that the bound hangs on how much work its proof was given
    tree = "(a:1.1,b:2.3,c:1.6,(d:0.9,e:2.7,f:1.9)x:1.3,(g:1.4,h:0.8,i:1.2)y:0.5,j:1.7);"
    files = []
    for workers, name in ((1, "one"), (2, "two")):
        out = tmp_path / name
        ran = packer_cli(
            "pack", tree, "--starts", "2", "--seed", "7", "--workers", workers, "--quiet",
            "--out", out,
        )  # fmt: skip
        assert ran.code == 0, ran.err
        text = (out / "tree.packing.json").read_text(encoding="utf-8")
        assert json.loads(text)["bound_rule"].startswith("branch and bound")
        files.append(re.sub(r'"seconds": [0-9.e-]+', "", text))
    assert files[0] == files[1]
    assert 1e-6 < json.loads(text)["headroom"] < 0.3


@pytest.fixture
def mirrored(tmp_path):
    """A figure under book symmetry of two flaps and a pair."""
    path = tmp_path / "fish.toml"
    path.write_text(
        'symmetry = "book"\n[flaps]\nfin = { joint = "j", length = 1, pair = true }\n'
        'head = { joint = "j", length = 1.5 }\ntail = { joint = "j", length = 2 }\n'
    )
    return path


def test_symmetry_and_sheet_of_the_options_win(packer_cli, mirrored, tmp_path):
    pack(packer_cli, mirrored, tmp_path, "--sheet", "2x1", "--symmetry", "none")
    record = json.loads((tmp_path / "fish.packing.json").read_text(encoding="utf-8"))
    assert record["sheet"] == {"width": 2, "height": 1, "unit": ""}
    assert record["symmetry"] == "none"
    assert record["figure"]["symmetry"] == "book"  # the figure stays as read


def test_twins_are_one_row_under_a_symmetry(packer_cli, mirrored, tmp_path):
    ran = pack(packer_cli, mirrored, tmp_path)
    assert "\nfin x2 " in ran.out
    assert "fin.left" not in ran.out
    ran = pack(packer_cli, mirrored, tmp_path, "--symmetry", "none", "--force")
    assert "\nfin.left " in ran.out


def test_wild_names_are_escaped_in_table_and_files(packer_cli, tmp_path):
    file = tmp_path / "wild.toml"
    file.write_text(
        '[flaps]\n"\\u001b[2J" = { joint = "j", length = 1 }\n'
        '\'<script>"&\' = { joint = "j", length = 1 }\n'
    )
    ran = pack(packer_cli, file, tmp_path)
    assert "\x1b" not in ran.out
    assert "\\u001b[2J" in ran.out
    svg = (tmp_path / "wild.packing.svg").read_text(encoding="utf-8")
    assert "<script>" not in svg
    ET.fromstring(svg)
    assert '<script>"&' in read_packing(tmp_path / "wild.packing.json").tree.flaps


WIDE = {"cormorant", "thornback_ray"}
"""Samples with wide tips, which are for the grid."""
ROUND = [path for path in HANDY if path.stem not in WIDE]


@pytest.mark.parametrize("name", sorted(WIDE))
def test_a_sample_with_wide_tips_is_refused_and_told_what_to_do(name, packer_cli, tmp_path):
    ran = packer_cli("pack", SAMPLES / f"{name}.toml", "--out", tmp_path)
    assert ran.code == 2
    assert "width: circles are drawn about a point" in ran.err
    assert "packer grid" in ran.err
    assert list(tmp_path.iterdir()) == []


@pytest.mark.slow
@pytest.mark.parametrize("path", ROUND, ids=lambda p: p.stem)
def test_every_sample_packs_and_its_file_holds(path, packer_cli, tmp_path):
    pack(packer_cli, path, tmp_path, "--quiet", "--time", "1")
    record = json.loads((tmp_path / f"{path.stem}.packing.json").read_text(encoding="utf-8"))
    check_record(record)
    packing = read_packing(tmp_path / f"{path.stem}.packing.json")
    assert packing.violations() == []
    assert math.isclose(packing.scale, record["scale"], rel_tol=1e-12)


def test_a_gallery_is_several_packings_and_one_plate(packer_cli, tmp_path):
    tree = "(a:1,b:1,c:1,(d:1,e:1)x:1);"
    ran = packer_cli(
        "pack", tree, "--gallery", "3", "--starts", "1", "--workers", "1", "--json",
        "--out", tmp_path,
    )  # fmt: skip
    assert ran.code == 0, ran.err
    found = json.loads(ran.out)
    written = sorted(path.name for path in tmp_path.iterdir())
    assert "tree.gallery.png" in written
    assert len([name for name in written if name.endswith(".packing.json")]) == len(found)
    assert 1 < len(found) <= 3
    for record in found:
        check_record(record)
    scales = [record["scale"] for record in found]
    assert scales == sorted(scales, reverse=True)


def test_a_gallery_of_none_is_refused(packer_cli, tmp_path):
    ran = packer_cli("pack", "(a:1,b:1);", "--gallery", "0", "--out", tmp_path)
    assert ran.code == 2
    assert "--gallery" in ran.err
    assert not list(tmp_path.iterdir())


def test_the_files_of_a_gallery_are_of_its_packings_in_order(monkeypatch, tmp_path):
    """Pictures left out: what is looked at is which packing each record is of."""
    for picture in ("png.png_bytes", "svg.svg_text"):
        monkeypatch.setattr(f"packer.drawing.writers.{picture}", lambda _: "")
    for plate in ("packing_plate", "gallery_plate"):
        monkeypatch.setattr(f"packer.drawing.plates.packing_plate.{plate}", lambda _: None)
    problem = pose(Figure("two", (Flap("a", "hub", 1), Flap("b", "hub", 1))))
    found = [Packing(problem, ((0.0, 0.0), (side, side))) for side in (1.0, 0.9, 0.8)]
    contents = _Files(tmp_path, "two", 3).contents(found)
    for name, packing in zip(("two", "two.2", "two.3"), found, strict=True):
        record = json.loads(contents.pop(tmp_path / f"{name}.packing.json"))
        assert record["scale"] == pytest.approx(packing.scale)
    assert {path.name for path in contents} == {
        "two.packing.svg",
        "two.packing.png",
        "two.gallery.png",
    }
