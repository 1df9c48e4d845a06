"""``packer grid``: the files it writes, the tables it prints, and bad input."""

from __future__ import annotations

import json
import math
import re
import xml.etree.ElementTree as ET

import pytest

from packer.files.grid_json import grid_text, parse_grid, read_grid
from packer.grid import cp_sat as exact
from packer.grid.board import board_of
from packer.grid.grid_packing import GridPacking
from tests.recomputed import tip_distances

NAMES = ["goby.grid.creases.fold", "goby.grid.creases.svg", "goby.grid.json", "goby.grid.png",
         "goby.grid.svg"]  # fmt: skip


def grid(packer_cli, figure, out, *words):
    ran = packer_cli("grid", figure, "--out", out, *words)
    assert ran.code == 0, ran.err
    return ran


def test_five_files_are_written_and_named(packer_cli, samples, tmp_path):
    ran = grid(packer_cli, samples / "goby.toml", tmp_path / "out", "--sheet", "300mm")
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == NAMES
    record = json.loads((tmp_path / "out" / "goby.grid.json").read_text(encoding="utf-8"))
    across, up = record["cells"]
    assert record["bound"] == record["cells"]
    assert record["status"] == "proven least"
    assert record["cell_mm"] == pytest.approx(300 / across)
    assert across == up
    check_plainly(record)
    assert (tmp_path / "out" / "goby.grid.png").read_bytes().startswith(b"\x89PNG")
    for name in ("goby.grid.svg", "goby.grid.creases.svg"):
        assert ET.parse(tmp_path / "out" / name).getroot().tag.endswith("svg")
    fold = json.loads((tmp_path / "out" / "goby.grid.creases.fold").read_text(encoding="utf-8"))
    assert fold["file_title"] == "Goby, on a grid"
    assert fold["file_spec"] == 1.2
    assert f"{across} x {up} cells of {300 / across:.4g} mm, proven least" in ran.out


def check_plainly(record):
    """Recompute max-metric distances and path lengths from the file alone."""
    distances = tip_distances(record)
    for (a, b), need in distances.items():
        (x, y), (u, v) = record["tips"][a], record["tips"][b]
        assert max(abs(x - u), abs(y - v)) >= need
    assert len(distances) >= len(record["tips"]) * (len(record["tips"]) - 1) / 2


def test_json_is_the_file_and_reads_back(packer_cli, tmp_path):
    ran = grid(packer_cli, "(a:1,b:2,c:1,d:3);", tmp_path, "--json", "--unit", "1")
    assert ran.out == (tmp_path / "tree.grid.json").read_text(encoding="utf-8")
    again = grid_text(read_grid(tmp_path / "tree.grid.json"))
    line = json.loads(ran.out).pop("command")
    assert line == "packer grid '(a:1,b:2,c:1,d:3);' --unit 1"
    assert json.loads(again) == {k: v for k, v in json.loads(ran.out).items() if k != "command"}


def test_a_grid_larger_than_usual_is_told(packer_cli, tmp_path):
    """Five tips 13 cells from the joint need 2 x 13 x (ceil(sqrt 5) - 1) = 52 cells."""
    figure = "(a:1,b:13,c:13,d:13,e:13,f:13);"
    ran = grid(packer_cli, figure, tmp_path, "--effort", "1")
    row = next(row for row in ran.out.splitlines() if "taken" in row)
    assert "52 x 52" in row
    assert row.endswith("taken: none found in 48 cells within 25%")


def test_units_and_rounded_lengths_are_told(packer_cli, tmp_path):
    ran = grid(packer_cli, "(a:1,b:2.1,c:1,d:3.3);", tmp_path, "--unit", "1")
    lengths, _, layers = ran.out.partition(" creases: ")
    assert "thickest at" in layers
    rows = {row.split()[0]: row.split() for row in lengths.splitlines() if row}
    assert rows["b"][1:5] == ["2.1", "2.10", "2", "-4.8%"]
    assert rows["d"][1:5] == ["3.3", "3.30", "3", "-9.1%"]


def test_a_small_pattern_gets_a_layer_order(packer_cli, tmp_path):
    """Four equal flaps in the corners: 2 x 2 cells."""
    ran = grid(packer_cli, "(a:1,b:1,c:1,d:1);", tmp_path)
    assert "2 x 2 cells" in ran.out
    assert "valid layer order" in ran.out


def test_a_side_or_a_grid_can_be_given(packer_cli, tmp_path):
    grid(packer_cli, "(a:1,b:1,c:1,d:1,e:1,f:1);", tmp_path / "1", "--side", "4")
    assert read_grid(tmp_path / "1" / "tree.grid.json").cells == (4, 2)
    ran = grid(packer_cli, "(a:1,b:1,c:1);", tmp_path / "2", "--cells", "5x3")
    assert read_grid(tmp_path / "2" / "tree.grid.json").cells == (5, 3)
    assert "fits the grid asked for" in ran.out


def test_loose_flaps_grow_where_asked(packer_cli, tmp_path):
    words = ("--cells", "12", "--unit", "1", "--lengthen", "0.5")
    grid(packer_cli, "(a:2,b:2,c:2,d:2);", tmp_path, *words)
    packing = read_grid(tmp_path / "tree.grid.json")
    assert packing.rounded == (2, 2, 2, 2)
    assert 3 in packing.lengths
    assert max(packing.lengths) == 3  # a half more than 2 cells
    assert packing.violations() == []
    for k, length in enumerate(packing.lengths):
        longer = [n + (j == k) for j, n in enumerate(packing.lengths)]
        board = board_of(packing.problem, longer, packing.cells)
        assert length == 3 or board.violations(packing.places)


BAD = [
    (
        ("--cells", "2"),
        r"--cells: 2 x 2 cells are proven too small \(counting: .*\); write more",
    ),
    (("--cells", "two"), r'--cells: "two" is no grid; write cells such as 24 or 24x32'),
    (("--cells", "0"), r"--cells: 0 cells are no grid"),
    (("--side", "-3"), r"--side: -3 is out of range; write a number from 1 to 640"),
    (("--side", "4", "--cells", "4"), r"--side: give either one side or both"),
    (("--unit", "0"), r"--unit: 0 is out of range; write a number from"),
    (("--unit", "0.0001"), r"--unit: a unit of 0.0001 makes the longest path"),
    (("--error", "-1"), r"--error: -1 is out of range; write a number from 0 to 10"),
    (("--error", "0.000001"), r"--error: no grid keeps every length within 0.0%"),
    (("--unit", "1", "--error", "0.01"), r"--unit: a unit of 1 makes a length"),
    (("--lengthen", "-1"), r"--lengthen: -1 is out of range; write a number from 0 to"),
    (("--effort", "0"), r"--effort: 0 is out of range; write a number from 0.01"),
]


@pytest.mark.parametrize(("words", "sentence"), BAD)
def test_bad_options_say_so_and_write_nothing(packer_cli, tmp_path, words, sentence):
    out = tmp_path / "out"
    ran = packer_cli("grid", "(a:1,b:2.61803,c:1.41421,d:3.14159,e:1.1);", "--out", out, *words)
    assert ran.code == 2
    assert len(ran.err.splitlines()) == 1
    import re  # noqa: PLC0415

    assert re.match(sentence, ran.err), ran.err
    assert not out.exists()


def test_contradictory_places_say_so(packer_cli, tmp_path):
    figure = tmp_path / "five.toml"
    flaps = "\n".join(
        f'f{k} = {{ joint = "hub", length = 1, place = ["corner"] }}' for k in range(5)
    )
    figure.write_text(f'name = "five"\n[flaps]\n{flaps}\n', encoding="utf-8")
    ran = packer_cli("grid", figure, "--out", tmp_path / "out")
    assert ran.code == 2
    assert "too many tips for too few points" in ran.err
    assert not (tmp_path / "out").exists()


def test_nothing_is_written_over(packer_cli, tmp_path):
    grid(packer_cli, "(a:1,b:1,c:1);", tmp_path)
    ran = packer_cli("grid", "(a:1,b:1,c:1);", "--out", tmp_path)
    assert ran.code == 2
    assert "--force" in ran.err


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"cells": [3]}, r"cells: \[3\] is no grid"),
        ({"unit": -1}, "unit: -1 is not above zero"),
        ({"root": "nowhere"}, 'root: "nowhere" is no joint'),
        ({"scale": 9}, "scale: it says 9, and cells and unit give"),
        ({"split_rivers": ["x"]}, "split_rivers: .* is no river"),
        ({"tips": {"a": [0, 0], "b": [0, 0], "c": [0, 2]}}, "tips: .* cells apart and need 2"),
    ],
)
def test_a_file_that_does_not_hold_is_refused(packer_cli, tmp_path, change, sentence):
    grid(packer_cli, "(a:1,b:1,c:1);", tmp_path)
    record = json.loads((tmp_path / "tree.grid.json").read_text(encoding="utf-8"))
    with pytest.raises(ValueError, match=sentence):
        parse_grid(json.dumps(record | change))


def test_grid_and_creases_print_at_true_size(packer_cli, tmp_path):
    """A 100 mm sheet of 2 x 2 cells: one inner line each way, 50 mm from the edges.

    Both are edges of flaps, which are drawn in place of the grid's own lines.
    """
    grid(packer_cli, "(a:1,b:1,c:1,d:1);", tmp_path, "--sheet", "100mm")
    for name in ("tree.grid.json", "tree.grid.creases.fold"):
        ran = packer_cli("print", tmp_path / name, "--out", tmp_path, "--as", "svg")
        assert ran.code == 0, ran.err
        assert "100 x 100 mm, true size" in ran.out
    assert (tmp_path / "tree.grid.creases.print.svg").exists()
    root = ET.parse(tmp_path / "tree.grid.print.svg").getroot()
    ends = [
        tuple(map(float, re.findall(r"[\d.]+", path.get("d", ""))))
        for g in root
        if g.get("id") in {"flaps", "grid"}
        for path in g
    ]
    assert {number for line in ends for number in line} == {0, 50, 100}
    assert all(x == u == 50 or y == v == 50 for x, y, u, v in ends)
    assert sum(math.dist((x, y), (u, v)) for x, y, u, v in ends) == pytest.approx(200)


def test_the_unit_taken_is_marked(packer_cli, samples, tmp_path):
    ran = grid(packer_cli, samples / "goby.toml", tmp_path, "--unit", "0.3")
    taken = [row for row in ran.out.splitlines() if row.endswith("taken")]
    assert [row.split()[0] for row in taken] == ["0.3"]


def test_without_or_tools_it_says_what_it_can_do(packer_cli, tmp_path, monkeypatch):
    """scipy's HiGHS in its place: small figures are still proven, rivers are not joined."""
    monkeypatch.setattr(exact, "available", lambda: False)
    ran = grid(packer_cli, "(a:1,b:1,c:1,d:1);", tmp_path)
    assert ran.err.startswith("OR-tools is missing, so only figures of about 12 flaps")
    assert "proven least" in ran.out
    ran = packer_cli(
        "grid", "((a:1,b:2)neck:1,c:1,d:2);", "--whole-rivers", "--out", tmp_path / "2"
    )
    assert ran.code == 1
    assert (
        'joining rivers needs OR-tools; install it with pip install "packer[grid]"' in ran.err
    )
    assert not (tmp_path / "2").exists()


def test_split_rivers_are_told_where_whole_ones_were_asked_for(
    packer_cli, tmp_path, monkeypatch
):
    """Rivers that are in strands are no fault of a grid that need not keep them whole."""
    asked = ("((a:1,b:2)neck:1,c:1,d:2);", tmp_path, "--whole-rivers")
    assert "whole rivers" not in grid(packer_cli, *asked).err
    monkeypatch.setattr(GridPacking, "rivers_whole", property(lambda _: False))
    assert "no grid with whole rivers found" in grid(packer_cli, *asked, "--force").err
    assert "whole rivers" not in grid(packer_cli, *asked[:-1], "--force").err


MANY = "(" + ",".join(f"f{k}:{1 + k % 7}" for k in range(16)) + ");"


@pytest.mark.parametrize("with_or_tools", [True, False])
def test_ctrl_c_keeps_the_best(packer_cli, tmp_path, monkeypatch, with_or_tools):
    """Interrupted as soon as something was found."""
    from packer.cli import grid as module  # noqa: PLC0415

    def pressed(now):
        if now.best is not None:
            raise KeyboardInterrupt
        return ""

    monkeypatch.setattr(module, "progress_text", pressed)
    if not with_or_tools:
        monkeypatch.setattr(exact, "available", lambda: False)
    ran = grid(packer_cli, MANY, tmp_path, "--unit", "1")
    assert "interrupted: this is the best grid found until then" in ran.err
    packing = read_grid(tmp_path / "tree.grid.json")
    assert packing.search.stopped == "interrupted"
    assert packing.status == "best found"
    assert packing.bound.cells[0] < packing.cells[0]


def test_time_ends_the_search(packer_cli, tmp_path):
    grid(packer_cli, MANY, tmp_path, "--unit", "1", "--time", "0.1")
    packing = read_grid(tmp_path / "tree.grid.json")
    assert packing.search.stopped == "time"
    assert packing.bound.cells[0] < packing.cells[0]
