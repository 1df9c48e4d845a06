"""``packer plan``: from a sheet or backwards, with a paper; wrong input."""

from __future__ import annotations

import json
import math
import re

import numpy as np
import pytest

from packer.cli.groups import PaperArguments
from packer.cli.plan import SizeArguments
from packer.files.grid_json import grid_text, read_grid
from packer.files.packing_json import packing_text
from packer.folded.form import fold
from packer.grid.grid_creases import grid_creases
from packer.grid.grid_packing import GridPacking
from packer.model.figure import Figure, Flap
from packer.model.packing import Packing
from packer.model.problem import pose
from packer.model.sheet import Sheet
from packer.planning.paper import BULK
from packer.planning.plan import ALLOWANCE
from tests.conftest import run

STAR = Figure(
    "crab <b>", (Flap("front leg", "j", 1, pair=True), Flap("hind leg", "j", 1, pair=True))
)
CORNERS = ((0.0, 0.0), (1.0, 0.0), (0.0, 1.0), (1.0, 1.0))


@pytest.fixture
def file(tmp_path):
    path = tmp_path / "crab.packing.json"
    path.write_text(packing_text(Packing(pose(STAR, Sheet(), "book"), CORNERS)))
    return path


def test_a_sheet_gives_sizes(file, capsys):
    assert run("plan", file, "--sheet", "200mm", "--paper", "kami", "--json") == 0
    record = json.loads(capsys.readouterr().out)
    assert record["sheet_mm"] == [200, 200]
    assert record["parts"][0]["on_sheet_mm"] == pytest.approx(100)
    assert record["figure_mm"] == pytest.approx(190)
    assert record["paper"]["caliper_um"] == 80
    assert record["layers"] == pytest.approx(2 * math.pi / math.tan(math.pi / 8), rel=1e-3)
    assert len(record["models"]) == 3


def test_wishes_give_the_sheet_and_what_to_cut_it_from(file, capsys):
    words = ["--at-least", "*leg=60", "--figure", "150", "--allowance", "0"]
    assert run("plan", file, *words, "--json") == 0
    record = json.loads(capsys.readouterr().out)
    assert record["sheet_mm"] == [150, 150]
    assert record["stock"][0] == {"name": "square 150", "waste": 0}


def test_the_table_holds_twins_once_and_says_its_models(file, capsys):
    assert run("plan", file, "--sheet", "200mm", "--caliper", "100") == 0
    out, err = capsys.readouterr()
    assert err == ""
    assert re.search(r"^front leg x2 +100\.0 +95\.0 +41\.4  corner$", out, re.MULTILINE)
    assert "estimated as length of the hinge curve" in out
    assert "common practice" in out
    assert run("plan", file, "--sheet", "20mm", "--weight", "200", "--bulk", "1.5") == 0
    assert "warning: " in capsys.readouterr().out


def test_what_is_assumed_is_the_same_from_python():
    assert SizeArguments().allowance == ALLOWANCE
    assert PaperArguments().bulk == BULK


def test_papers_are_listed_with_their_sources(capsys):
    assert run("plan", "--papers") == 0
    out = capsys.readouterr().out
    assert re.search(r"^glassine +31 +40  measured in", out, re.MULTILINE)


def test_the_plan_is_saved_on_request(file, capsys):
    out = file.parent / "out"
    assert run("plan", file, "--sheet", "200mm", "--out", out, "--quiet") == 0
    assert capsys.readouterr() == ("", "")
    assert json.loads((out / "crab.plan.json").read_text())["sheet_mm"] == [200, 200]
    assert run("plan", file, "--sheet", "300mm", "--out", out) == 2
    assert json.loads((out / "crab.plan.json").read_text())["sheet_mm"] == [200, 200]


@pytest.mark.parametrize("wish", ["*leg=60", "*leg=60mm", "*leg=6cm", "*leg = 60 mm"])
def test_a_wish_may_say_its_unit(file, wish, capsys):
    assert run("plan", file, "--at-least", wish, "--json") == 0
    assert json.loads(capsys.readouterr().out)["sheet_mm"] == [127, 127]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([], "--sheet: .*only a ratio"),
        (["--sheet", "2x1"], "--sheet: "),
        (["--sheet", "huge"], "--sheet: .*no sheet"),
        (["--sheet", "200x300mm"], "another shape"),
        (["--sheet", "200mm", "--figure", "9"], "leave one out"),
        (["--at-least", "leg"], "names no part with its length; .*such as leg=60"),
        (["--at-least", "leg=long"], '"long" in "leg=long" is not a unit of length'),
        (["--at-least", "leg=6x0mm"], "is not a length; write a number of mm"),
        (["--at-least", "fin=60"], '--at-least: no part is called "fin"'),
        (["--at-least", "*leg=0"], "--at-least: a length of 0 mm cannot"),
        (["--figure", "nan"], "--figure: nan is out of range"),
        (["--sheet", "9mm", "--paper", "kame"], '--paper: .*"kami"'),
        (["--sheet", "9mm", "--paper", "kami", "--caliper", "9"], "leave one out"),
        (["--sheet", "9mm", "--caliper", "-9"], "--caliper: "),
        (["--sheet", "9mm", "--weight", "9", "--bulk", "0"], "--bulk: "),
        (["--sheet", "9mm", "--allowance", "1"], "--allowance: "),
        (["--sheet", "9mm", "--width", "0"], "--width: "),
    ],
)
def test_wrong_input_is_one_sentence_and_nothing_is_written(file, words, said, capsys):
    out = file.parent / "out"
    assert run("plan", file, "--out", out, *words) == 2
    printed, told = capsys.readouterr()
    assert printed == ""
    assert told.count("\n") == 1
    assert re.search(said, told)
    assert not out.exists()


def test_a_wrong_file_is_told(tmp_path, capsys):
    assert run("plan", tmp_path / "no.packing.json", "--sheet", "9mm") == 2
    assert "no.packing.json" in capsys.readouterr().err


@pytest.fixture(scope="module")
def grid_file(tmp_path_factory):
    """A star of four flaps, placed by hand on eight cells."""
    flaps = tuple(Flap(name, "j", 4.0) for name in "abcd")
    problem = pose(Figure("star", flaps), Sheet(1, 1))
    packing = GridPacking(problem, 1.0, (4, 4, 4, 4), (8, 8), ((0, 0), (8, 0), (0, 8), (8, 8)))
    path = tmp_path_factory.mktemp("grid") / "star.grid.json"
    path.write_text(grid_text(packing))
    return path


def test_a_grid_gives_sizes_in_mm_a_cell(grid_file, tmp_path, capsys):
    words = ("--sheet", "200mm", "--allowance", "0", "--out", tmp_path, "--json")
    assert run("plan", grid_file, *words) == 0
    record = json.loads(capsys.readouterr().out)
    assert (record["cells"], record["cell_mm"]) == ([8, 8], 25)
    assert [part["on_sheet_mm"] for part in record["parts"]] == [100] * 4
    assert record["figure_mm"] == 200
    # half a cell: the base reaches as far from the axis, recomputed from the folded form
    pattern = grid_creases(read_grid(grid_file))
    heights = fold(pattern).positions[:, 1] * 200
    assert [part["width_mm"] for part in record["parts"]] == pytest.approx(
        [float(np.ptp(heights))] * 4
    )
    assert record["layers"] == record["layers_counted"]["joints"]["j"]
    assert (tmp_path / "star.grid.plan.json").exists()


def test_a_grid_gives_the_sheet_to_cut(grid_file, capsys):
    assert run("plan", grid_file, "--at-least", "a=60", "--allowance", "0") == 0
    out = capsys.readouterr().out.splitlines()
    assert out[0].startswith("star: sheet 120 x 120 mm")  # 60 mm are 4 of 8 cells
    assert out[1] == "8 x 8 cells of 15 mm"


def test_a_grid_takes_no_other_creases(grid_file, capsys):
    assert run("plan", grid_file, "--sheet", "200mm", "--creases", "other.fold") == 2
    told = "--creases: the creases of a grid follow from it; leave this out\n"
    assert capsys.readouterr().err == told
