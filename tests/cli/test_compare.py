"""``packer compare``: table, files and sweep; the same seed; wrong input."""

from __future__ import annotations

import csv
import io
import json
import re

import pytest

from packer.cli.command_line import command_in
from packer.cli.tables import progress_text
from packer.errors import ReadError
from packer.files.compare_files import comparison_text, read_comparison
from packer.planning.timed_searches import searching
from packer.search.pack import Progress
from tests.conftest import run

STAR = "(a:1,b:1,c:1,d:1);"
FAST = ["--starts", "1", "--workers", "1"]


def test_sheets_are_compared_in_a_table_and_in_three_files(tmp_path, capsys):
    words = ["--sheet", "1x1", "--sheet", "4x1", *FAST, "--out", tmp_path]
    assert run("compare", STAR, *words) == 0
    out = capsys.readouterr().out
    assert re.search(r"^1 x 1 +none +0\.5 +100\.0 %", out, re.MULTILINE)  # four corners
    assert re.search(r"^4 x 1 +none +0\.416667 +83\.3 %", out, re.MULTILINE)  # zigzag: 5/12
    rows = list(csv.DictReader(io.StringIO((tmp_path / "tree.compare.csv").read_text())))
    assert [row["sheet"] for row in rows] == ["1 x 1", "4 x 1"]
    assert float(rows[1]["scale"]) == pytest.approx(5 / 12)
    record = json.loads((tmp_path / "tree.compare.json").read_text())
    assert record["best"] == "1 x 1"
    assert record["rows"][0]["scale"] == float(rows[0]["scale"])
    assert (tmp_path / "tree.compare.png").read_bytes().startswith(b"\x89PNG")


def test_a_comparison_that_was_written_is_read_back_equal(tmp_path):
    words = ["--sheet", "1x1", "--sheet", "3x2", "--stock", "A3", *FAST, "--out", tmp_path]
    assert run("compare", STAR, "--quiet", *words) == 0
    path = tmp_path / "tree.compare.json"
    found = read_comparison(path)
    assert comparison_text(found, command_in(path)) == path.read_text()
    assert found.stock.name == "A3"
    assert found.entries[0].waste == pytest.approx(1 - 297 / 420)
    record = json.loads(path.read_text())
    for rows, packings in (([], []), (record["rows"], []), ([], record["packings"])):
        path.write_text(json.dumps(record | {"rows": rows, "packings": packings}))
        with pytest.raises(ReadError, match="rows and packings are not alike"):
            read_comparison(path)


def test_the_same_seed_gives_the_same_table(tmp_path):
    tables = []
    for name, workers in (("one", 1), ("two", 2)):
        words = ["--sheet", "3x2", "--seed", 7, "--starts", 2, "--creases", 2, "--grid", 1]
        out = tmp_path / name
        assert run("compare", STAR, *words, "--workers", workers, "--quiet", "--out", out) == 0
        tables.append((out / "tree.compare.csv").read_bytes())
    assert tables[0] == tables[1]


def test_difficulty_and_grid_stand_in_the_tables_and_are_read_back(tmp_path, capsys):
    # four equal flaps on the square: two cells keep all that circles have
    words = ["--sheet", "1x1", "--creases", 1, "--grid", 1, *FAST, "--out", tmp_path]
    assert run("compare", STAR, *words) == 0
    out = capsys.readouterr().out
    assert re.search(r"^1 x 1 +none +0\.5 .* 2 x 2 +100\.0 % +100\.0 %$", out, re.MULTILINE)
    assert re.search(r"^sheet +symmetry +rank +creases +at once", out, re.MULTILINE)
    path = tmp_path / "tree.compare.json"
    found = read_comparison(path)
    assert comparison_text(found, command_in(path)) == path.read_text()
    (entry,) = found.entries
    assert entry.grid.cells == (2, 2)
    row = next(csv.DictReader(io.StringIO((tmp_path / "tree.compare.csv").read_text())))
    assert row["fold_rank"] == "1"
    assert int(row["fold_creases"]) == entry.folding.difficulty.creases > 0
    assert float(row["grid_share"]) == pytest.approx(1)


def test_a_sweep_takes_a_time_for_each_search(tmp_path):
    words = ["--sweep", "--up-to", 2, "--steps", 2, "--time", 0.2, "--workers", 1]
    assert run("compare", "(a:1,b:1,c:1,d:1,e:1,f:1,g:1);", *words, "--out", tmp_path) == 0
    record = json.loads((tmp_path / "tree.sweep.json").read_text())
    assert all(row["direct"] > 0 for row in record["rows"])


def test_a_sweep_marks_the_best_ratio(tmp_path, capsys):
    words = ["--sweep", "--up-to", 4, "--steps", 3, *FAST, "--out", tmp_path]
    assert run("compare", STAR, *words, "--json") == 0
    record = json.loads(capsys.readouterr().out)
    assert record["best"] == {"ratio": 1.0, "standing": False}
    assert [row["ratio"] for row in record["rows"]] == pytest.approx([1, 2, 4])
    assert record["rows"][2]["scale"] == pytest.approx(5 / 12)
    assert sorted(p.name for p in tmp_path.iterdir()) == [
        "tree.sweep.csv",
        "tree.sweep.json",
        "tree.sweep.png",
    ]


def test_one_bar_counts_all_steps():
    doing = searching(Progress(1.0, 3, 0.25, 2, tried=30))
    assert progress_text(0, 4, "") == "[....................] 0 of 4"
    assert (
        progress_text(2, 4, doing)
        == "[##########..........] 2 of 4, 30 packings tried, scale 0.25"
    )


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--sheet", "huge"], "--sheet: .*no sheet"),
        (["--symmetry", "bock"], '--symmetry: .*"book"'),
        (["--symmetry", "diagonal", "--sheet", "2x1"], "--symmetry: .*needs a square"),
        (["--equal", "weight"], "--equal: "),
        (["--stock", "2x1"], "--stock: .*no unit"),
        (["--starts", "0"], "--starts: "),
        (["--time", "nan"], "--time: "),
        (["--creases", "0"], "--creases: "),
        (["--grid", "-1"], "--grid: "),
        (["--sheet", "nanx1"], "--sheet: "),
        (["--sheet", "-2x1"], "--sheet: .*above zero"),
        (["--stock", "A4", "--equal", "area"], "--equal: "),
        (["--sweep", "--sheet", "2x1"], "--sheet: .*--sweep"),
        (["--sweep", "--grid", "2"], "--grid: .*--sweep"),
        (["--sweep", "--up-to", "nan"], "--up-to: "),
        (["--up-to", "3"], "--up-to: .*--sweep"),
        (["--sweep", "--up-to", "1"], "--up-to: "),
        (["--sweep", "--steps", "1"], "--steps: "),
        (["--sweep", "--symmetry", "diagonal"], "--symmetry: .*needs a square"),
        (["--sweep", "--symmetry", "none", "--symmetry", "book"], "--symmetry: .*name one"),
    ],
)
def test_wrong_input_is_one_sentence_and_nothing_is_written(words, said, tmp_path, capsys):
    out = tmp_path / "out"
    assert run("compare", STAR, "--out", out, *words) == 2
    printed, told = capsys.readouterr()
    assert printed == ""
    assert told.count("\n") == 1
    assert re.search(said, told)
    assert not out.exists()


def test_an_existing_comparison_is_not_written_over(tmp_path):
    target = tmp_path / "tree.compare.csv"
    target.write_text("mine")
    assert run("compare", STAR, "--out", tmp_path, *FAST) == 2
    assert [p.name for p in tmp_path.iterdir()] == ["tree.compare.csv"]
    assert target.read_text() == "mine"
