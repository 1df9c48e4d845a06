"""Advice: what it says follows from the numbers, and repacking confirms it."""

from __future__ import annotations

import math

import pytest

from packer.files.figure_toml import read_figure
from packer.model.figure import Figure, Flap, River
from packer.model.packing import Packing
from packer.model.problem import pose
from packer.model.sheet import Sheet
from packer.planning.advice import WORTH, advice, savings, shortened
from packer.search.options import SearchOptions
from packer.search.pack import pack
from packer.search.stopping import MaxStarts
from tests.conftest import SAMPLES


def two_flaps():
    """On the diagonal of the unit square: m = sqrt(2) / (a + b)."""
    figure = Figure("two", (Flap("long", "j", 2), Flap("short", "j", 1)))
    return Packing(pose(figure), ((0, 0), (1, 1)), stress=((0, 1, 1 / 3),))


def repack(problem):
    return pack(problem, options=SearchOptions(stop=MaxStarts(1), workers=1))


def test_a_saving_is_exact_where_one_path_decides():
    best, second = savings(two_flaps())
    assert (best.part, best.gain) == ("long", pytest.approx(3 / 2.8 - 1))
    assert (second.part, second.gain) == ("short", pytest.approx(3 / 2.9 - 1))
    assert repack(pose(shortened(two_flaps().figure, "long"))).scale == pytest.approx(
        two_flaps().scale * (1 + best.gain), rel=1e-9
    )


def test_the_shares_of_all_parts_make_the_whole():
    """Everything a tenth shorter is 1 / 0.9 as large: the shares behind the gains sum to one."""
    packing = pack(
        read_figure(SAMPLES / "goby.toml"), options=SearchOptions(stop=MaxStarts(1), workers=1)
    )
    shares = [(1 - 1 / (1 + saving.gain)) / 0.1 for saving in savings(packing)]
    assert math.fsum(shares) == pytest.approx(1, rel=1e-6)


def test_twins_are_one_part():
    figure = Figure("crab", (Flap("claw", "j", 1, pair=True), Flap("tail", "j", 1)), (), "book")
    packing = pack(figure, options=SearchOptions(stop=MaxStarts(1), workers=1))
    assert {saving.part: len(saving.names) for saving in savings(packing)} == {
        "claw": 2,
        "tail": 1,
    }
    assert [flap.length for flap in shortened(figure, "claw").flaps] == [0.9, 1]


@pytest.mark.slow
@pytest.mark.parametrize("name", ["goby", "sea_spider"])
def test_advice_is_confirmed_by_packing_the_shorter_figure(name):
    packing = repack(pose(read_figure(SAMPLES / f"{name}.toml")))
    best = savings(packing)[0]
    again = repack(pose(shortened(packing.figure, best.part)))
    assert again.scale / packing.scale - 1 >= 0.8 * best.gain


def test_a_gain_that_repacking_does_not_reach_is_not_told():
    packing = two_flaps()
    both = "7.1 % packed again (7.1 % to first order)"
    assert advice(packing, repack) == [
        f'Shortening "long" by a tenth would gain scale: {both}.'
    ]
    (alone,) = advice(packing)
    assert alone == 'Shortening "long" by a tenth would gain scale: 7.1 % to first order.'
    assert advice(packing, lambda problem: packing) == []


def test_a_part_that_gains_more_once_packed_again_is_told():
    """To first order "long" comes first; a search that finds more room without "short" wins."""
    packing = two_flaps()

    def searched(problem):
        short = problem.figure.flaps[1].length < 1
        return (
            pack(
                problem.figure, Sheet(2, 2), options=SearchOptions(stop=MaxStarts(1), workers=1)
            )
            if short
            else packing
        )

    (said,) = advice(packing, searched)
    assert said.startswith('Shortening "short" by a tenth')
    assert f"({100 * (3 / 2.9 - 1):.1f} % to first order)" in said


def test_a_small_gain_is_not_worth_a_sentence():
    names = tuple(Flap(f"f{k}", "j", 1) for k in range(30))
    ring = [(1 / 60, i, (i + 1) % 30) for i in range(30)]
    tips = tuple(
        (0.5 + math.cos(k / 15 * math.pi) / 2, 0.5 + math.sin(k / 15 * math.pi) / 2)
        for k in range(30)
    )
    stress = tuple((min(i, j), max(i, j), value) for value, i, j in ring)
    packing = Packing(pose(Figure("ring", names)), tips, stress=stress)
    assert savings(packing)[0].gain < WORTH
    assert advice(packing) == []


def test_a_loose_flap_and_a_split_river_are_named():
    figure = Figure(
        "line",
        (Flap("a", "j", 1, pair=True), Flap("b", "k", 2), Flap("c", "k", 0.1)),
        (River("neck", ("j", "k"), 0.5),),
    )
    packing = Packing(
        pose(figure), ((0, 0), (1, 0), (1, 1), (0.3, 0.9)),
        slack=((0, 0.05), (3, 0.2)), split_rivers=("neck",), stress=((1, 2, 1 / 3.5),),
    )  # fmt: skip
    said = advice(packing)
    assert said[1] == '"c" could be 0.2 longer (200 %) at no cost.'
    assert said[2] == (
        'The paper would hold "neck" in strands; --whole-rivers looks for a packing without.'
    )
