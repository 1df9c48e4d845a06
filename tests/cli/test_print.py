"""``packer print``: the files it writes, what they measure, and what it refuses."""

import json
import xml.etree.ElementTree as ET

import ezdxf
import numpy as np
import pytest

from packer.files.packing_json import packing_text
from tests.drawing import pdf
from tests.drawing.desk import fish, groups, numbers, preliminary

NAMES = {
    "pages": "fish.print.pdf",
    "one-page": "fish.page.pdf",
    "svg": "fish.print.svg",
    "plotter": "fish.plotter.svg",
    "dxf": "fish.plotter.dxf",
}


@pytest.fixture
def saved(tmp_path):
    path = tmp_path / "fish.packing.json"
    path.write_text(packing_text(fish(1.0, "")), encoding="utf-8")
    return path


def test_pages_of_a_sheet_of_350_mm_on_a4(packer_cli, saved, tmp_path):
    ran = packer_cli(
        "print", saved, "--sheet", "350mm", "--on", "A4", "--out", tmp_path / "out"
    )
    assert ran.code == 0, ran.err
    assert "350 x 350 mm, true size" in ran.out
    assert "4 pages of 210 x 297 mm and a map: A1 A2 B1 B2" in ran.out
    found = pdf.pages((tmp_path / "out" / NAMES["pages"]).read_bytes())
    assert len(found) == 5
    for page in found:
        assert pdf.size(page) == pytest.approx((210, 297), abs=0.01)
    assert "fish.print.pdf" in found[1].extract_text()


def test_every_format_at_once(packer_cli, saved, tmp_path):
    words = ("--sheet", "300mm", "--as", "pages,one-page,svg", "--as", "plotter,dxf", "--json")
    ran = packer_cli("print", saved, *words, "--out", tmp_path)
    assert ran.code == 0, ran.err
    record = json.loads(ran.out)
    assert record["sheet"] == [300, 300]
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(
        ["fish.packing.json", *NAMES.values()]
    )
    for name, width in ((NAMES["svg"], "314mm"), (NAMES["plotter"], "304mm")):
        root = ET.parse(tmp_path / name).getroot()
        assert root.get("width") == width
    document = ezdxf.readfile(tmp_path / NAMES["dxf"])
    layers = {entity.dxf.layer for entity in document.modelspace()}
    assert layers == set(record["plotter"]["layers"])
    assert "common practice" in ran.err


def test_what_is_drawn_can_be_chosen(packer_cli, saved, tmp_path):
    words = ("--sheet", "300mm", "--as", "svg", "--show", "sheet", "--show", "active-paths")
    assert packer_cli("print", saved, *words, "--out", tmp_path).code == 0
    text = (tmp_path / NAMES["svg"]).read_text(encoding="utf-8")
    assert list(groups(text)) == ["sheet", "active-paths", "side"]


def test_mirror_turns_the_sheet_over(packer_cli, tmp_path):
    path = tmp_path / "four.packing.json"
    path.write_text(packing_text(preliminary(100.0)), encoding="utf-8")
    places = {}
    for name, words in {"front": (), "back": ("--mirror",)}.items():
        out = tmp_path / name
        ran = packer_cli("print", path, "--as", "svg", "--show", "tips", "--out", out, *words)
        assert ran.code == 0, ran.err
        text = (out / "four.print.svg").read_text(encoding="utf-8")
        tips = groups(text)["tips"]
        places[name] = [[float(tip.get(key)) for key in ("cx", "cy")] for tip in tips]
    front, back = np.array(places["front"]), np.array(places["back"])
    assert back == pytest.approx(front * [-1, 1] + [100, 0])


def test_a_sheet_with_a_unit_needs_no_size(packer_cli, tmp_path):
    path = tmp_path / "four.packing.json"
    path.write_text(packing_text(preliminary(8.0, "in")), encoding="utf-8")
    assert packer_cli("print", path, "--as", "svg", "--out", tmp_path).code == 0
    root = ET.parse(tmp_path / "four.print.svg").getroot()
    assert numbers(root.get("width")) == [217.2]


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ((), "--sheet: the packing's sheet has no unit"),
        (("--sheet", "1x1"), "--sheet: the sheet has no unit"),
        (("--sheet", "big"), '--sheet: "big" is no sheet'),
        (("--sheet", "200x100mm"), "--sheet: 200 x 100 mm is not of the shape"),
        (("--sheet", "350mm", "--on", "A9"), '--on: "A9" is no sheet'),
        (("--sheet", "350mm", "--on", "2x1"), '--on: "2x1" has no unit'),
        (("--sheet", "350mm", "--on", "30x30mm"), "--on: a page of 30 x 30 mm has no room"),
        (("--sheet", "90m"), "--on: "),
        (("--sheet", "350mm", "--margin", "-1"), "--margin: -1 is out of range"),
        (("--sheet", "350mm", "--overlap", "nan"), "--overlap: nan is out of range"),
        (("--sheet", "350mm", "--as", "pdf"), '--as: unknown choice "pdf"'),
        (("--sheet", "350mm", "--show", "paths"), '--show: unknown choice "paths"'),
    ],
)
def test_wrong_input_is_one_sentence_and_writes_nothing(
    packer_cli, saved, tmp_path, words, message
):
    ran = packer_cli("print", saved, *words, "--out", tmp_path / "out")
    assert ran.code == 2
    assert ran.err.startswith(message)
    assert len(ran.err.splitlines()) == 1
    assert ran.out == ""
    assert not (tmp_path / "out").exists()


def test_existing_files_are_kept(packer_cli, saved, tmp_path):
    kept = tmp_path / NAMES["pages"]
    kept.write_text("mine")
    ran = packer_cli("print", saved, "--sheet", "200mm", "--out", tmp_path)
    assert ran.code == 2
    assert "it exists already" in ran.err
    assert kept.read_text() == "mine"
    assert (
        packer_cli("print", saved, "--sheet", "200mm", "--out", tmp_path, "--force").code == 0
    )
    assert kept.read_bytes().startswith(b"%PDF")


def test_dxf_without_its_library_is_said_so(packer_cli, saved, tmp_path, monkeypatch):
    monkeypatch.setitem(__import__("sys").modules, "ezdxf", None)
    ran = packer_cli(
        "print", saved, "--sheet", "200mm", "--as", "dxf", "--out", tmp_path / "out"
    )
    assert ran.code == 2
    assert "pip install 'packer[dxf]'" in ran.err
    assert not (tmp_path / "out").exists()
