"""To 1000 flaps all that is no search ends soon, by calls counted; beyond, in one sentence."""

from __future__ import annotations

import pytest

from packer.files.figure_toml import parse_figure, read_figure
from packer.files.packing_json import packing_text
from packer.limits import MOST_FOLDED, MOST_FOLDED_RIVERS, MOST_RIVERS, MOST_TIPS
from tests.battery.test_battery import WHOLE, budget
from tests.benchmarks.large_figures import (
    caterpillar,
    chain,
    comb,
    figures,
    newick_chain,
    on_a_grid,
    star,
)
from tests.conftest import run

FIGURES = {
    "star": star(MOST_TIPS),
    "chain": chain(MOST_RIVERS),
    "caterpillar": caterpillar(900),
}


@pytest.mark.parametrize("kind", FIGURES)
def test_a_figure_of_the_largest_kind_is_checked_soon(kind, tmp_path, capsys):
    file = tmp_path / "large.toml"
    file.write_text(FIGURES[kind])
    subject = FIGURES[kind] if kind == "caterpillar" else file
    with budget(10_000_000):
        assert run("check", subject) == 0
    assert " flaps" in capsys.readouterr().out


@pytest.mark.slow
@pytest.mark.parametrize("kind", FIGURES if WHOLE else ["star"])
def test_a_figure_of_the_largest_kind_is_drawn_soon(kind, tmp_path):
    file = tmp_path / "large.toml"
    file.write_text(FIGURES[kind])
    subject = FIGURES[kind] if kind == "caterpillar" else file
    with budget(20_000_000):
        assert run("check", subject, "--quiet", "--out", tmp_path) == 0


WAYS = [
    (command, kind)
    for command in ("plan", "print", "report")
    for kind in ("star", "chain", "caterpillar", "random")
]


@pytest.mark.slow
@pytest.mark.parametrize(("command", "kind"), WAYS if WHOLE else [("plan", "caterpillar")])
def test_a_packing_of_the_largest_kind_is_planned_and_drawn(command, kind, tmp_path):
    """That it ends: outlines drawn from all discs beyond each river took minutes."""
    file = tmp_path / "large.packing.json"
    file.write_text(packing_text(on_a_grid(figures(MOST_TIPS)[kind])))
    assert run(command, file, "--quiet", "--out", tmp_path) == 0
    assert len(list(tmp_path.glob(f"large*{command}*"))) == 1


@pytest.mark.slow
@pytest.mark.skipif(not WHOLE, reason="some ten seconds")
def test_a_drawing_of_the_most_strokes_is_read(tmp_path):
    file = tmp_path / "large.svg"
    file.write_text(comb(MOST_TIPS))
    assert run("sketch", file, "--quiet", "--out", tmp_path) == 0
    assert len(read_figure(tmp_path / "large.toml").flaps) == MOST_TIPS


def test_one_flap_or_river_more_is_one_sentence(tmp_path, packer_cli):
    file = tmp_path / "large.toml"
    for text, says in (
        (star(MOST_TIPS + 1), f"{MOST_TIPS + 1} flaps are more than the {MOST_TIPS}"),
        (chain(MOST_RIVERS + 1), f"{MOST_RIVERS + 1} rivers are more than the {MOST_RIVERS}"),
        (chain(3000), f"3000 rivers are more than the {MOST_RIVERS}"),
    ):
        file.write_text(text)
        ran = packer_cli("check", file)
        assert (ran.code, ran.out) == (2, "")
        assert says in ran.err


@pytest.mark.parametrize(
    ("tree", "rivers"), [(newick_chain(3000), 3001), (caterpillar(3000), 2998)]
)
def test_a_newick_tree_of_too_many_rivers_is_one_sentence(tree, rivers, packer_cli):
    """Thousands of brackets within each other; 900 of them are checked above."""
    ran = packer_cli("check", tree)
    assert (ran.code, ran.out) == (2, "")
    assert f"{rivers} rivers are more than the {MOST_RIVERS}" in ran.err


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("crease", "large.packing.json"), f"{MOST_FOLDED + 1} flaps are more than"),
        (("landmarks", "large.packing.json"), f"{MOST_FOLDED + 1} flaps are more than"),
        (("grid", "large.toml"), f"{MOST_FOLDED + 1} flaps are more than"),
        (("compare", "large.toml", "--grid", "1"), f"{MOST_FOLDED + 1} flaps are more than"),
        (("compare", "large.toml", "--creases", "1"), f"{MOST_FOLDED + 1} flaps are more than"),
        (("grid", "chain.toml"), f"{MOST_FOLDED_RIVERS + 1} rivers are more than"),
        (("pack", "flexible.toml", "--flex", "0.1"), "600 flaps at most 556 can"),
    ],
)
def test_what_is_too_large_to_fold_is_one_sentence(
    words, says, tmp_path, packer_cli, monkeypatch
):
    """Creases of 150 flaps took 7 GB, and a grid or landmarks of 1000 minutes without a word."""
    monkeypatch.chdir(tmp_path)
    figure = parse_figure(star(MOST_FOLDED + 1), "large")
    (tmp_path / "large.toml").write_text(star(MOST_FOLDED + 1))
    (tmp_path / "large.packing.json").write_text(packing_text(on_a_grid(figure)))
    (tmp_path / "chain.toml").write_text(chain(MOST_FOLDED_RIVERS + 1))
    (tmp_path / "flexible.toml").write_text(star(600))
    ran = packer_cli(*words)
    assert (ran.code, ran.out) == (2, "")
    assert says in ran.err
