"""``packer print`` of crease patterns and grids: looks, the back of the paper, every format."""

from __future__ import annotations

from dataclasses import replace
from math import dist

import ezdxf
import pytest
from shapely import Polygon

from packer.cli.printing import PictureArguments, fold_sheet
from packer.creases.completion.complete import crease_pattern
from packer.creases.pattern import ROLES
from packer.drawing.marks.key import MEANINGS, OPEN_FOLDS
from packer.drawing.marks.strokes import Area
from packer.files.fold_json import fold_text
from packer.files.grid_json import grid_text
from packer.files.packing_json import packing_text
from packer.folded.form import fold as folded
from packer.folded.layers import FlatBase, flat_base
from packer.grid.grid_problem import GridRequest
from packer.grid.pack_grid import pack_grid
from packer.search.options import SearchOptions
from packer.search.stopping import MaxEffort
from tests.drawing import pdf
from tests.drawing.desk import groups, numbers, preliminary
from tests.folded.textbook import bird, waterbomb


@pytest.fixture(scope="module")
def file(tmp_path_factory):
    """The bird base with its mountains and valleys."""
    path = tmp_path_factory.mktemp("creases") / "bird.creases.fold"
    path.write_text(fold_text(flat_base(replace(bird(), title="bird"))), encoding="utf-8")
    return path


def creases(svg, fold, width=None):
    """Ends of the creases of a fold in mm, to a micrometre; mirrored where a width is given."""
    found = set()
    for name, group in groups(svg).items():
        if name.endswith(fold):
            for path in group:
                (x0, y0, x1, y1) = numbers(path.get("d"))
                ends = [(x if width is None else width - x, y) for x, y in ((x0, y0), (x1, y1))]
                found.add(tuple(sorted((round(x, 3), round(y, 3)) for x, y in ends)))
    return found


def printed(packer_cli, file, out, *words):
    ran = packer_cli("print", file, "--sheet", "150mm", "--out", out, *words)
    assert ran.code == 0, ran.err
    return ran


def test_from_the_back_mountains_are_valleys(packer_cli, file, tmp_path):
    front, back = (tmp_path / side for side in ("front", "back"))
    printed(packer_cli, file, front, "--as", "svg")
    printed(packer_cli, file, back, "--as", "svg", "--mirror")
    seen, turned = (
        (out / "bird.creases.print.svg").read_text("utf-8") for out in (front, back)
    )
    for fold, other in (("mountain", "valley"), ("valley", "mountain")):
        assert creases(turned, fold) == creases(seen, other, 150.0) != set()


def test_creases_come_in_every_format_and_look(packer_cli, file, tmp_path):
    for look in ("fold", "role"):
        out = tmp_path / look
        words = ("--as", "pages,one-page,svg,plotter,dxf", "--look", look)
        printed(packer_cli, file, out, *words)
        (page,) = pdf.pages((out / "bird.creases.page.pdf").read_bytes())
        # the whole sheet to scale: its four sides are 150 mm long
        assert sum(abs(n - 150) < 0.01 for n in pdf.lengths(pdf.lines(page))) >= 4
        pages = pdf.pages((out / "bird.creases.print.pdf").read_bytes())
        key = pages[0].extract_text()
        assert ("ridge valley" in key) == (look == "role")
        assert "valley" in key
        layers = {
            entity.dxf.layer
            for entity in ezdxf.readfile(out / "bird.creases.plotter.dxf").modelspace()
        }
        assert {"border", "valley" if look == "fold" else "ridge valley"} <= layers
        assert set(groups((out / "bird.creases.plotter.svg").read_text("utf-8"))) == {
            name.replace(" ", "-") for name in layers
        }


def test_a_pattern_is_named_by_its_title_or_else_by_its_file(packer_cli, tmp_path):
    for title, name in (("a bird, on a grid", "a bird, on a grid: "), ("", "wader: ")):
        path = tmp_path / "wader.creases.fold"
        path.write_text(fold_text(flat_base(replace(bird(), title=title))), encoding="utf-8")
        assert printed(packer_cli, path, tmp_path / title).out.startswith(name)


def test_undecided_creases_are_printed_by_their_roles(packer_cli, tmp_path):
    """In one style they would say nothing; what was asked for is still given."""
    pattern = replace(bird(), title="bird")
    path = tmp_path / "bird.creases.fold"
    path.write_text(fold_text(FlatBase(pattern, folded(pattern), None)), encoding="utf-8")
    words = ("--as", "pages,plotter")
    assert OPEN_FOLDS in printed(packer_cli, path, tmp_path, *words).out
    roles = set(pattern.roles) - {"border"}
    assert len(roles) > 1
    key = pdf.pages((tmp_path / "bird.creases.print.pdf").read_bytes())[0].extract_text()
    assert OPEN_FOLDS in key
    assert {line for line in key.splitlines() if line in ROLES} == roles
    layers = set(groups((tmp_path / "bird.creases.plotter.svg").read_text("utf-8")))
    assert layers == {"border", "tip"} | roles
    plain = printed(packer_cli, path, tmp_path, *words, "--look", "fold", "--force").out
    assert OPEN_FOLDS not in plain
    layers = set(groups((tmp_path / "bird.creases.plotter.svg").read_text("utf-8")))
    assert layers == {"border", "tip", "undecided"}


def test_creases_can_be_chosen_by_role_and_fold(packer_cli, file, tmp_path):
    printed(packer_cli, file, tmp_path, "--as", "svg", "--show", "border,ridge-valley")
    text = (tmp_path / "bird.creases.print.svg").read_text(encoding="utf-8")
    assert list(groups(text)) == ["ridge-valley", "border", "side"]


def test_a_grid_prints_its_lines_with_a_key(packer_cli, tmp_path):
    packing = preliminary(1.0, "")
    path = tmp_path / "four.grid.json"
    path.write_text(
        grid_text(
            pack_grid(
                packing.problem,
                grid=GridRequest(cells=(12, 12)),
                options=SearchOptions(stop=MaxEffort(1)),
            )
        ),
        "utf-8",
    )
    printed(packer_cli, path, tmp_path)
    key = pdf.pages((tmp_path / "four.grid.print.pdf").read_bytes())[0].extract_text()
    assert MEANINGS["grid step"] in key


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--look", "rule"), '--look: unknown look "rule"; did you mean "role"?'),
        (("--show", "ridge"), '--show: unknown choice "ridge"; '),
    ],
)
def test_a_wrong_choice_is_told(packer_cli, file, tmp_path, words, said):
    ran = packer_cli("print", file, "--sheet", "150mm", *words, "--out", tmp_path / "out")
    assert (ran.code, ran.out) == (2, "")
    assert ran.err.startswith(said)
    assert not (tmp_path / "out").exists()


def test_sides_shows_what_shows_of_the_sheet(packer_cli, tmp_path):
    """A waterbomb has eight layers of one shape: two show, and its whole border is raw edge."""
    path = tmp_path / "bomb.creases.fold"
    path.write_text(fold_text(flat_base(waterbomb())), encoding="utf-8")
    printed(packer_cli, path, tmp_path, "--as", "svg", "--look", "sides")
    assert "shown-paper" in groups((tmp_path / "bomb.creases.print.svg").read_text("utf-8"))
    drawing = fold_sheet(path, "150mm", PictureArguments(look="sides"))
    shown = [mark for mark in drawing.marks if isinstance(mark, Area)]
    assert sum(Polygon(*mark.rings).area for mark in shown) == pytest.approx(150**2 * 2 / 8)
    assert len({mark.kind for mark in shown}) == 1  # both its outer layers show one side
    edges = [mark.points for mark in drawing.marks if mark.kind == "raw edge"]
    assert sum(dist(*ends) for ends in edges) == pytest.approx(4 * 150)


def test_without_a_layer_order_nothing_is_known_of_sides(packer_cli, tmp_path):
    path = tmp_path / "bomb.creases.fold"
    pattern = waterbomb()
    path.write_text(fold_text(FlatBase(pattern, folded(pattern), None)), encoding="utf-8")
    words = ("--sheet", "150mm", "--look", "sides")
    ran = packer_cli("print", path, *words, "--out", tmp_path / "out")
    assert (ran.code, ran.out) == (2, "")
    assert "bomb.creases.fold has no layer order" in ran.err


def test_a_packing_is_printed_over_the_sides_that_its_creases_show(packer_cli, tmp_path):
    """The preliminary base: its four flaps show one side of the paper, and have only raw edges."""
    packing = preliminary(100.0, "mm")
    path = tmp_path / "four.packing.json"
    path.write_text(packing_text(packing), encoding="utf-8")
    words = ("--look", "sides", "--as", "svg", "--out", tmp_path)
    missing = packer_cli("print", path, *words)
    assert missing.code == 2
    assert missing.err.startswith(
        "--look: creases tell what shows of the paper, and there is no "
    )
    file = tmp_path / "four.creases.fold"
    file.write_text(fold_text(flat_base(crease_pattern(packing))), encoding="utf-8")
    assert packer_cli("print", path, *words).code == 0
    drawing = fold_sheet(path, None, PictureArguments(look="sides"))
    kinds = {mark.kind for mark in drawing.marks}
    assert {"disc line", "tip", "name", "raw edge"} <= kinds
    assert "disc" not in kinds
    shown = [mark for mark in drawing.marks if mark.kind in {"front shows", "back shows"}]
    assert sum(Polygon(*mark.rings).area for mark in shown) == pytest.approx(100**2 * 2 / 8)
    edges = [mark.points for mark in drawing.marks if mark.kind == "raw edge"]
    assert sum(dist(*ends) for ends in edges) == pytest.approx(4 * 100)
    other = replace(packing, tips=((0.0, 0.0), (99.0, 0.0), (100.0, 100.0), (0.0, 100.0)))
    path.write_text(packing_text(other), encoding="utf-8")
    moved = packer_cli("print", path, *words, "--force")
    assert moved.code == 2
    assert "print four.settled.packing.json" in moved.err


def test_only_crease_patterns_have_looks(packer_cli, tmp_path):
    path = tmp_path / "four.packing.json"
    path.write_text(packing_text(preliminary(100.0)), encoding="utf-8")
    ran = packer_cli("print", path, "--look", "role", "--out", tmp_path / "out")
    assert (ran.code, ran.err) == (
        2,
        "--look: only a crease pattern has looks, and a packing the look sides; leave it out\n",
    )


@pytest.mark.parametrize("mirror", [False, True])
def test_every_print_says_which_side_faces_the_reader(packer_cli, file, tmp_path, mirror):
    """A pattern traced from the wrong side reverses every fold."""
    words = ["--as", "pages,one-page,svg", *(["--mirror"] if mirror else [])]
    told = printed(packer_cli, file, tmp_path, *words).out
    side = "Mirrored: the back of the sheet faces you" if mirror else "Not mirrored: the front"
    assert side in told
    assert side in (tmp_path / "bird.creases.print.svg").read_text("utf-8")
    for page in pdf.pages((tmp_path / "bird.creases.print.pdf").read_bytes()):
        assert side in " ".join(page.extract_text().split())
    (whole,) = pdf.pages((tmp_path / "bird.creases.page.pdf").read_bytes())
    words = whole.extract_text()
    assert side in words
    assert ("bird: creases, mirrored" if mirror else "bird: creases") in words
    assert {"mountain", "valley", "tip of a flap"} <= set(words.splitlines())
