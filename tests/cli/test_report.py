"""``packer report``: what it picks up beside the packing, and wrong input."""

from __future__ import annotations

import json
import re
from collections import Counter
from dataclasses import replace
from html import escape, unescape

import pytest

from packer import plan, report_page
from packer.creases.completion.complete import crease_pattern
from packer.drawing.packing_drawing import packing_drawing
from packer.files.figure_toml import figure_text
from packer.files.fold_json import fold_text
from packer.files.grid_json import grid_text
from packer.files.packing_json import packing_text, read_packing
from packer.folded.difficulty import difficulty
from packer.folded.form import fold
from packer.folded.layers import FlatBase
from packer.grid.pack_grid import pack_grid
from packer.model.figure import Figure, Flap, River
from packer.model.packing import Packing, SearchRecord
from packer.model.problem import pose
from packer.model.sheet import Sheet
from packer.report.packing_table import summary
from packer.report.report_page import Provenance
from packer.search.options import SearchOptions
from packer.search.stopping import MaxEffort
from tests.conftest import run

STAR = Figure(
    "crab", (Flap("front leg", "j", 1, pair=True), Flap("hind leg", "j", 1, pair=True))
)
CORNERS = ((0.0, 0.0), (1.0, 0.0), (0.0, 1.0), (1.0, 1.0))


@pytest.fixture
def file(tmp_path):
    path = tmp_path / "crab.packing.json"
    record = SearchRecord(seed=4, starts=6, hits=3, seconds=2.5, stopped="starts")
    packing = Packing(pose(STAR, Sheet(), "book"), CORNERS, search=record)
    path.write_text(packing_text(packing))
    return path


def test_the_page_says_how_to_make_it_again(file):
    assert run("report", file, "--out", file.parent, "--quiet") == 0
    page = (file.parent / "crab.report.html").read_text()
    assert "packer pack crab.toml --seed 4 --symmetry book --starts 6\n" in page
    assert "packer report crab.packing.json" in page
    assert "6 starts with seed 4 took 2.5 s" in page
    assert 'id="paper"' not in page  # a sheet that is only a ratio has no sizes
    assert 'id="sheets-compared"' not in page


def test_one_of_a_kind_is_told_in_the_singular(tmp_path, packer_cli):
    figure = Figure(
        "line",
        (Flap("a", "j", 1), Flap("b", "j", 1), Flap("c", "k", 1), Flap("d", "k", 1)),
        (River("r", ("j", "k"), 1),),
    )
    record = SearchRecord(seed=0, starts=1, hits=1, seconds=1.0, stopped="starts")
    tips = ((0, 0), (0, 1), (2, 0), (2, 1))
    packing = Packing(pose(figure, Sheet(2, 1)), tips, search=record)
    file = tmp_path / "line.packing.json"
    file.write_text(packing_text(packing))
    assert summary(packing)[-1].startswith("1 start in ")
    print_ = packer_cli("print", file, "--sheet", "180x90mm", "--out", tmp_path)
    assert "1 page of" in print_.out
    said = [
        report_page(packing),
        packing_drawing(packing).description,
        print_.out,
        *summary(packing),
    ]
    assert "1 river" in said[1]
    plurals = r"(?<![\d.])1 (?:start|river|page|loose flap|active path|middle flap)s"
    assert not re.findall(plurals, "".join(said))


def test_python_makes_the_same_page(file):
    assert run("report", file, "--sheet", "200mm", "--out", file.parent, "--quiet") == 0
    found = read_packing(file)
    made = plan(found, Sheet(200, 200, "mm"))
    page = report_page(
        found, "crab", plan=made, provenance=Provenance(options=["--sheet", "200mm"])
    )
    assert page == (file.parent / "crab.report.html").read_text(encoding="utf-8")


def test_paper_is_planned_for_a_sheet_of_true_size(file):
    assert run("report", file, "--sheet", "200mm", "--paper", "kami", "--out", file.parent) == 0
    page = (file.parent / "crab.report.html").read_text()
    assert 'id="paper"' in page
    assert "packer report crab.packing.json --sheet 200mm --paper kami</code>" in page
    assert re.search(r"front leg x2</bdi></th><td class=\"number\">100\.0</td>", page)


def test_a_comparison_beside_the_packing_is_shown(file, tmp_path):
    figure = tmp_path / "crab.toml"
    figure.write_text(figure_text(STAR))
    words = ["--sheet", "1x1", "--starts", "1", "--workers", "1", "--quiet", "--out", tmp_path]
    assert run("compare", figure, *words) == 0
    assert run("report", file, "--out", tmp_path, "--quiet") == 0
    assert 'id="sheets-compared"' in (tmp_path / "crab.report.html").read_text()


def test_creases_and_grid_beside_the_packing_are_shown(file):
    found = read_packing(file)
    pattern = crease_pattern(found)
    beside = file.with_name("crab.creases.fold")
    beside.write_text(fold_text(FlatBase(pattern, fold(pattern), None)))
    file.with_name("crab.grid.json").write_text(
        grid_text(pack_grid(found.problem, options=SearchOptions(stop=MaxEffort(1))))
    )
    words = ["--sheet", "200mm", "--out", file.parent, "--quiet"]
    assert run("report", file, *words) == 0
    page = (file.parent / "crab.report.html").read_text()
    hard = difficulty(pattern, fold(pattern))
    told = re.findall(r"straight creases</bdi></th><td>(\d+)</td>", page)
    assert told == [str(hard.creases)]
    assert f"{200 * hard.feature:.3g} mm, {100 * hard.feature:.2f} % of the side" in page
    assert "scale given up</bdi></th><td>0.0%</td>" in page  # it was not settled
    # 65 um a layer: the paper planned with by default
    assert f"{hard.layers}, {0.065 * hard.layers:.1f} mm of hand-made blend" in page
    assert "No layer order was found" in page  # none was looked for
    assert "folds flat at every vertex" in page
    # four equal flaps in the corners: two cells keep all that circles have
    assert "2 x 2 cells of 0.5 of the sheet, proven least." in page
    assert "The grid&#x27;s scale is 100.0 % of the circles&#x27;" in page


def test_what_belongs_to_another_figure_is_not_shown(file, capsys):
    other = Packing(pose(replace(STAR, flaps=STAR.flaps[:1]), Sheet(), "book"), CORNERS[:2])
    pattern = crease_pattern(other)
    creases = file.with_name("other.creases.fold")
    creases.write_text(fold_text(FlatBase(pattern, fold(pattern), None)))
    grid = file.with_name("other.grid.json")
    grid.write_text(
        grid_text(pack_grid(other.problem, options=SearchOptions(stop=MaxEffort(1))))
    )
    out = file.parent / "out"
    for words in (["--creases", creases], ["--grid", grid]):
        assert run("report", file, "--out", out, *words) == 2
        told = capsys.readouterr().err
        assert told.startswith(f"{words[1]}: this is not of the packing's figure")
    assert not out.exists()


@pytest.mark.parametrize("option", ["--creases", "--grid"])
@pytest.mark.parametrize("content", ["hello", "{}", '{"file_spec": 1.2', "[]", "null"])
def test_a_wrong_file_is_told(file, option, content, capsys):
    wrong = file.parent / "x.json"
    wrong.write_text(content)
    out = file.parent / "out"
    assert run("report", file, option, wrong, "--out", out) == 2
    told = capsys.readouterr().err
    assert told.startswith(str(wrong))
    assert told.count("\n") == 1
    assert not out.exists()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--sheet", "2x1"], "--sheet: "),
        (["--sheet", "200x300mm"], "another shape"),
        (["--sheet", "200mm", "--paper", "kame"], '--paper: .*"kami"'),
        (["--compare", "no.compare.json"], r"no\.compare\.json"),
    ],
)
def test_wrong_input_is_one_sentence_and_nothing_is_written(file, words, said, capsys):
    out = file.parent / "out"
    assert run("report", file, "--out", out, *words) == 2
    printed, told = capsys.readouterr()
    assert printed == ""
    assert told.count("\n") == 1
    assert re.search(said, told)
    assert not out.exists()


@pytest.mark.parametrize(
    "content",
    [
        "hello",
        "{}",
        json.dumps({"format": "packer.comparison", "version": 1}),
        json.dumps(
            {"format": "packer.comparison", "version": 1, "rows": [{}], "packings": [3]}
        ),
    ],
)
def test_a_wrong_comparison_is_told(file, content, capsys):
    wrong = file.parent / "x.compare.json"
    wrong.write_text(content)
    out = file.parent / "out"
    assert run("report", file, "--compare", wrong, "--out", out) == 2
    assert "x.compare.json" in capsys.readouterr().err
    assert not out.exists()


def test_an_existing_page_is_not_written_over(file, capsys):
    target = file.parent / "crab.report.html"
    target.write_text("mine")
    assert run("report", file, "--out", file.parent) == 2
    assert target.read_text() == "mine"


def test_one_page_speaks_of_one_packing(tmp_path, packer_cli):
    """After creasing, kinds, lengths and plan are those of the settled packing."""
    figure = tmp_path / "star.toml"
    figure.write_text(
        "[flaps]\n"
        + "".join(f'f{k} = {{ joint = "j", length = {0.6 + 0.1 * k:g} }}\n' for k in range(6)),
        encoding="utf-8",
    )
    quick = ["--out", tmp_path, "--quiet"]
    packing = tmp_path / "star.packing.json"
    assert (
        packer_cli("pack", figure, "--starts", "1", "--workers", "1", "--out", tmp_path).code
        == 0
    )
    assert packer_cli("crease", packing, "--time", "2", "--give", "5", *quick).code == 0
    assert packer_cli("grid", figure, *quick).code == 0
    assert packer_cli("report", packing, "--sheet", "200mm", *quick).code == 0
    page = (tmp_path / "star.report.html").read_text(encoding="utf-8")
    searched = read_packing(packing)
    settled = read_packing(tmp_path / "star.settled.packing.json")
    assert settled.scale < searched.scale
    kinds = Counter(settled.kinds.values())
    assert ", ".join(f"{kinds[kind]} {kind}" for kind in ("corner", "edge", "middle")) in page
    changes = page[page.index("What settling changed") :].partition("</table>")[0]
    rows = {
        cells[0]: cells
        for row in re.findall("<tr.*?</tr>", changes, re.DOTALL)
        if (
            cells := [
                unescape(re.sub("<.*?>", "", c)) for c in re.findall("<t[hd].*?</t[hd]>", row)
            ]
        )
    }
    assert rows["part"][1:4] == ["searched, mm", "settled, mm", "change, mm"]
    for name, length in settled.sheet_lengths.items():
        before = 200 * searched.sheet_lengths[name]
        told = [float(cell) for cell in rows[name][1:4]]
        assert told == pytest.approx([before, 200 * length, 200 * length - before], abs=0.051)
    again = page[page.index("Make it again") :]
    for line in (
        "packer pack star.toml --starts 1",
        "packer crease star.packing.json --time 2 --give 5",
        "packer grid star.toml",
        "packer report star.packing.json --sheet 200mm",
    ):
        assert line in again
    assert "grid-creases-border" in page
    for sentence in json.loads(packing.read_text(encoding="utf-8")).get("advice", []):
        assert escape(sentence) in page
    planned = packer_cli("plan", packing, "--sheet", "200mm", "--json")
    sizes = {part["name"]: part["on_sheet_mm"] for part in json.loads(planned.out)["parts"]}
    assert sizes["f0"] == pytest.approx(200 * settled.sheet_lengths["f0"])
    assert "as settled" in planned.err


def test_creases_of_another_packing_are_refused(file, capsys):
    """A packing made anew and its old settled one would contradict each other on the page."""
    found = read_packing(file)
    other = replace(found, search=replace(found.search, seconds=99.0))
    pattern = crease_pattern(found)
    file.with_name("crab.creases.fold").write_text(
        fold_text(FlatBase(pattern, fold(pattern), None))
    )
    file.with_name("crab.settled.packing.json").write_text(packing_text(other))
    for command in ("report", "plan"):
        assert run(command, file, "--sheet", "200mm") == 2
        assert "it was settled from another packing" in capsys.readouterr().err
