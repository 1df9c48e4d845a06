"""To 1000 flaps all that is no search ends soon, by calls counted; beyond, in one sentence."""

from __future__ import annotations

import pytest

from packer.limits import MOST_RIVERS, MOST_TIPS
from tests.battery.test_battery import WHOLE, budget
from tests.conftest import run


def star(n):
    return "[flaps]\n" + "".join(f'f{k} = {{ joint = "j", length = 1 }}\n' for k in range(n))


def chain(n):
    ends = "".join(
        f'{name} = {{ joint = "j{k}", length = 1 }}\n'
        for name, k in (("a", 0), ("b", 0), ("c", n), ("d", n))
    )
    rivers = "".join(
        f'r{k} = {{ joints = ["j{k}", "j{k + 1}"], length = 1 }}\n' for k in range(n)
    )
    return f"[flaps]\n{ends}[rivers]\n{rivers}"


def caterpillar(n):
    tree = "(a:1,b:1):1"
    for k in range(n - 3):
        tree = f"(f{k}:1,{tree}):1"
    return f"(z:1,{tree.removesuffix(':1')}:1);"


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
