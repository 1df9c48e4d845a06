"""How hard packings are to fold, and layouts ranked by scale against it."""

from __future__ import annotations

import math

import pytest

from packer.folded.difficulty import Difficulty
from packer.model.figure import Figure, Flap
from packer.model.packing import Packing
from packer.model.problem import pose
from packer.model.sheet import Sheet
from packer.planning.comparison import FOLDING_KEYS, Comparison, Entry, row
from packer.planning.fold_ranking import folding
from packer.planning.ranking import FoldingDemand, ranks


def hard(together=10, layers=20, feature=0.1):
    return Difficulty(50, 30, together, 0, feature, layers, 8)


def four(side=1.0):
    figure = Figure("star", tuple(Flap(name, "hub", 1) for name in "abcd"))
    corners = ((0.0, 0.0), (side, 0.0), (side, side), (0.0, side))
    return Packing(pose(figure, Sheet(side, side)), corners)


@pytest.mark.parametrize(
    ("layouts", "expected"),
    [
        # larger and easier beats; larger but harder does not, and neither does its smaller rival
        ([(1.0, hard()), (0.9, hard(together=11))], [1, 2]),
        ([(1.0, hard(together=11)), (0.9, hard())], [1, 1]),
        ([(1.0, hard(layers=21)), (0.9, hard())], [1, 1]),
        ([(1.0, hard(feature=0.05)), (0.9, hard())], [1, 1]),
        # equals do not beat each other, nor does a difference in the last digits
        ([(1.0, hard()), (1.0, hard())], [1, 1]),
        ([(1.0, hard()), (1.0 - 1e-15, hard())], [1, 1]),
        # a chain counts everyone above
        ([(0.8, hard(12)), (0.9, hard(11)), (1.0, hard(10))], [3, 2, 1]),
        ([], []),
    ],
)
def test_a_rank_counts_who_is_larger_and_easier(layouts, expected):
    assert ranks(layouts) == expected


def test_what_is_measured_is_what_the_packing_is():
    # four flaps in the corners of the square; settling fills its middle from their joint
    found, complete = folding(four(), tries=1)
    assert complete
    assert found.given == pytest.approx(0, abs=1e-12)
    hard = found.difficulty
    assert hard.middle_flaps == 0  # fillers are not counted
    assert hard.together <= hard.creases
    assert 0 < hard.feature <= math.sqrt(0.5)
    # all are multiples of 22.5 degrees: the bird base and its like (common practice)
    assert hard.angles <= 8


def test_lengths_scale_with_the_sheet_and_counts_do_not():
    one, _ = folding(four(), tries=1)
    ten, _ = folding(four(10.0), tries=1)
    assert ten.difficulty.feature == pytest.approx(10 * one.difficulty.feature)
    assert ten.difficulty.creases == one.difficulty.creases
    assert ten.fillers == one.fillers


def test_the_same_seed_gives_the_same_answer():
    assert folding(four(), tries=2, seed=3) == folding(four(), tries=2, seed=3)


def test_a_table_ranks_by_the_scale_that_is_left_and_leaves_the_unknown_open():
    packing = four()
    easy, given = FoldingDemand(0.0, 0, hard()), FoldingDemand(0.02, 1, hard(together=11))
    found = Comparison(
        "star",
        "area",
        (
            Entry("a", packing, folding=given),
            Entry("b", packing, folding=easy),
            Entry("c", packing),
        ),
    )
    assert found.ranks == (2, 1, None)
    rows = [row(found, entry) for entry in found.entries]
    assert [line["fold_rank"] for line in rows] == [2, 1, None]
    assert rows[0]["fold_together"] == 11
    assert all(rows[2][key] is None for key in FOLDING_KEYS)
