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
from packer.files.guide_json import guide_text
from packer.files.packing_json import packing_text, read_packing
from packer.folded.difficulty import difficulty
from packer.folded.form import fold
from packer.folded.layers import FlatBase, flat_base
from packer.grid.grid_creases import grid_creases
from packer.grid.pack_grid import pack_grid
from packer.landmarks.fold_guide import fold_guide
from packer.model.figure import Figure, Flap, River
from packer.model.packing import Packing, SearchRecord
from packer.model.problem import pose
from packer.model.sheet import Sheet
from packer.report.packing_table import summary
from packer.report.report_page import Provenance
from packer.search.options import SearchOptions
from packer.search.stopping import MaxEffort
from tests.conftest import run
from tests.creases.molecules import test_classic_bases as bases

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


@pytest.fixture(scope="module")
def bird_files():
    """The packing of the textbook bird base, its creases and their guide as texts."""
    lengths, tips = bases.BIRD
    figure = Figure("Bird", tuple(Flap(f"f{k}", "hub", x) for k, x in enumerate(lengths)))
    packing = Packing(pose(figure), tuple(tips))
    base = flat_base(crease_pattern(packing))
    line = "packer guide bird.creases.fold --sheet 350mm"
    return {
        "packing.json": packing_text(packing),
        "creases.fold": fold_text(base),
        "guide.json": guide_text(fold_guide(base, 350.0, 0.5), line),
    }


@pytest.fixture
def bird(bird_files, tmp_path):
    for ending, text in bird_files.items():
        (tmp_path / f"bird.{ending}").write_text(text)
    return tmp_path / "bird.packing.json"


def test_a_guide_beside_the_creases_is_told_in_short(bird, packer_cli):
    packer_cli("report", bird, "--out", bird.parent, "--quiet")
    page = bird.with_name("bird.report.html").read_text()
    record = json.loads(bird.with_name("bird.guide.json").read_text())
    cells = dict(re.findall(r"<bdi>([^<]*)</bdi></th><td>([^<]*)</td>", page))
    # textbook (S. Randlett, The Art of Origami, 1961): a fold and its mirror image find the centre
    assert "The fold guide in short, for a sheet of 350 x 350 mm" in page
    assert cells["landmark steps"] == "1, 2 creases with mirror images"
    steps = re.search(r"<ol>(.*?)</ol>", page, re.DOTALL)[1]
    told = [unescape(words) for words in re.findall("<li>(.*?)</li>", steps)]
    assert told == [step["text"] for step in record["steps"]]
    assert "the tip of f4" in told[1]
    assert cells["stages"] == str(len(record["stages"]))
    most = max(stage["together"] for stage in record["stages"])
    assert cells["the same in stages"] == str(most)
    before = re.search(r"come together at once</bdi></th><td>(\d+, \d+ without stages)<", page)
    assert before[1] == f"{most}, {record['togetherBefore']} without stages"
    assert "packer guide bird.creases.fold --sheet 350mm\n" in page


def test_a_guide_of_the_grid_is_told_with_it(file):
    found = read_packing(file)
    packing = pack_grid(found.problem, options=SearchOptions(stop=MaxEffort(1)))
    base = flat_base(grid_creases(packing))
    line = "packer guide crab.grid.creases.fold --sheet 200mm"
    guide = fold_guide(base, 200.0 / packing.problem.sheet.width, 0.5)
    for ending, text in {
        "grid.json": grid_text(packing),
        "grid.creases.fold": fold_text(base),
        "grid.guide.json": guide_text(guide, line),
    }.items():
        file.with_name(f"crab.{ending}").write_text(text)
    assert run("report", file, "--out", file.parent, "--quiet") == 0
    page = file.with_name("crab.report.html").read_text()
    on_grid = page[page.index('id="on-a-grid"') :]
    assert "The fold guide in short, for a sheet of 200 x 200 mm" in on_grid
    assert f"{line}\n" in page


def test_a_guide_of_other_creases_is_left_out_or_refused(bird, packer_cli):
    guide = bird.with_name("bird.guide.json")
    record = json.loads(guide.read_text())
    record["tips"]["f4"]["at"][0] += 1e-3
    guide.write_text(json.dumps(record))
    words = ("report", bird, "--force", "--out", bird.parent)
    ran = packer_cli(*words)
    assert ran.code == 0
    assert "bird.guide.json is of other creases and left out" in ran.err
    page = bird.with_name("bird.report.html").read_text()
    assert "The fold guide" not in page
    assert "packer guide bird" not in page
    ran = packer_cli(*words, "--guide", guide)
    assert (ran.code, ran.err.count("\n")) == (2, 1)
    assert ran.err.startswith(f"{guide}: this guide is of other creases")
    bird.with_name("bird.creases.fold").unlink()
    ran = packer_cli(*words, "--guide", guide)
    assert (ran.code, "--guide: no creases" in ran.err) == (2, True)


@pytest.mark.parametrize(
    ("key", "value", "said"),
    [
        ("version", 7, "version: version 7"),
        ("together", "many", 'together: "many" is no number of creases'),
        ("steps", [{"text": 3}], "steps.text: 3 is no text"),
        ("tips", {"f0": {"at": [0]}}, r"tips.f0: \[0\] is no point"),
        ("stages", None, "stages: nothing is no list"),
        ("pleats", [{}], "pleats.folds: nothing is no list"),
    ],
)
def test_a_wrong_guide_is_told(bird, packer_cli, key, value, said):
    guide = bird.with_name("bird.guide.json")
    record = json.loads(guide.read_text())
    guide.write_text(json.dumps({**record, key: value}))
    ran = packer_cli("report", bird, "--out", bird.parent / "out")
    assert (ran.code, ran.err.count("\n")) == (2, 1)
    assert re.match(rf"{re.escape(str(guide))}, {said}", ran.err)
    assert not (bird.parent / "out").exists()


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
