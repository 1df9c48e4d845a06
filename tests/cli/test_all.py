"""``packer all``: the whole road by one command, each step only where its input has changed."""

from __future__ import annotations

import pytest

from packer.limits import MOST_FOLDED
from tests.benchmarks.large_figures import star

SQUARE = "".join(f'f{k} = {{ joint = "j", length = 1 }}\n' for k in range(4))


@pytest.fixture
def figure(tmp_path):
    path = tmp_path / "square.toml"
    path.write_text(f"[flaps]\n{SQUARE}", encoding="utf-8")
    return path


def steps(told, word=""):
    """The commands told, those after a word where one is given."""
    head = f"{word}packer "
    return [
        line.removeprefix(head).split()[0]
        for line in told.splitlines()
        if line.startswith(head)
    ]


ALL = ["pack", "crease", "print", "print", "plan", "report"]


def test_the_whole_road_and_only_what_has_changed(packer_cli, figure, tmp_path):
    out = tmp_path / "out"
    words = ("all", figure, "--sheet", "150mm", "--time", "5", "--out", out)
    ran = packer_cli(*words)
    assert ran.code == 0, ran.err
    assert steps(ran.err) == ALL
    made = {path.name for path in out.iterdir()}
    assert {
        *("square.packing.json", "square.packing.svg", "square.packing.png"),
        *("square.creases.fold", "square.settled.packing.json"),
        *(
            "square.settled.print.pdf",
            "square.creases.print.pdf",
            "square.plan.json",
            "square.report.html",
        ),
    } <= made
    told = packer_cli("print", out / "square.packing.json", "--out", tmp_path / "searched")
    assert "square.settled.packing.json" in told.err

    page = (out / "square.report.html").read_text(encoding="utf-8")
    assert "packer crease square.packing.json" in page

    again = packer_cli(*words)
    assert (again.code, again.out) == (0, "")
    assert steps(again.err, "unchanged: ") == ALL

    (out / "square.plan.json").unlink()
    assert steps(packer_cli(*words).err) == ["plan"]

    figure.write_text(
        f"[flaps]\n{SQUARE}f4 = {{ joint = 'j', length = 0.5 }}\n", encoding="utf-8"
    )
    assert steps(packer_cli(*words).err)[:2] == ["pack", "crease"]


def test_a_sheet_without_a_size_is_refused(packer_cli, figure, tmp_path):
    out = tmp_path / "out"
    ran = packer_cli("all", figure, "--out", out)
    assert (ran.code, ran.out) == (2, "")
    assert "--sheet" in ran.err
    assert not out.exists()


def test_files_of_others_are_not_written_over(packer_cli, figure, tmp_path):
    out = tmp_path / "out"
    out.mkdir()
    (out / "square.packing.json").write_text("mine", encoding="utf-8")
    ran = packer_cli("all", figure, "--sheet", "150mm", "--out", out)
    assert ran.code == 2
    assert "exists already" in ran.err
    assert (out / "square.packing.json").read_text(encoding="utf-8") == "mine"


@pytest.mark.slow
def test_the_road_goes_on_without_creases_where_there_are_too_many_flaps(packer_cli, tmp_path):
    """It ended after packing, with the refusal of its creases and exit code 2."""
    many = tmp_path / "many.toml"
    many.write_text(star(MOST_FOLDED + 1), encoding="utf-8")
    out = tmp_path / "out"
    words = ("all", many, "--sheet", "150mm", "--time", "2", "--out", out)
    ran = packer_cli(*words)
    assert ran.code == 0, ran.err
    assert steps(ran.err) == ["pack", "print", "plan", "report"]
    told = [line for line in ran.err.splitlines() if "left out" in line]
    assert len(told) == 1
    assert (
        f"{MOST_FOLDED + 1} flaps are more than the {MOST_FOLDED} that can be creased"
        in told[0]
    )
    for end in ("packing.json", "print.pdf", "plan.json", "report.html"):
        assert (out / f"many.{end}").exists()
    assert steps(packer_cli(*words).err, "unchanged: ") == ["pack", "print", "plan", "report"]
