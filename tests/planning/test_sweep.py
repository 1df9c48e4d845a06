"""Sweeps over the side ratio against the zigzag theorem and against direct searches."""

from __future__ import annotations

import math

import numpy as np
import pytest

from packer.bounds.upper_bound import quick_bound
from packer.deadline import Deadline
from packer.errors import OptionError
from packer.model.figure import Figure, Flap, River
from packer.model.problem import pose
from packer.model.sheet import Sheet
from packer.planning.sweep import _spread, sweep
from packer.search.options import SearchOptions
from packer.search.pack import pack
from packer.search.stopping import MaxStarts
from tests.strategies import scattered


def star(n, **more):
    return Figure("star", tuple(Flap(f"f{k}", "hub", 1) for k in range(n)), **more)


FISH = Figure(
    "fish",
    (
        Flap("fin", "chest", 1, pair=True),
        Flap("head", "chest", 0.8),
        Flap("tail", "hip", 1.2),
        Flap("vent", "hip", 0.5, pair=True),
    ),
    (River("back", ("chest", "hip"), 0.7),),
)


@pytest.fixture(scope="module")
def fish():
    return sweep(FISH, options=SearchOptions(stop=MaxStarts(1), workers=1), up_to=4, steps=5)


def test_the_curve_of_equal_flaps_is_the_exact_one():
    # zigzag theorem: n equal flaps on W x H with H <= sqrt(3) W / (n - 1) have the exact scale
    # sqrt(H^2 + (W / (n - 1))^2) / 2 (alternate tips on the long edges; Groemer 1960, Oler 1961)
    n = 4
    curve = sweep(
        star(n), options=SearchOptions(stop=MaxStarts(2), workers=1), up_to=5, steps=7
    ).curves[0]
    exact = 0
    for ratio, scale in zip(curve.ratios, curve.scales, strict=True):
        width, height = math.sqrt(ratio), 1 / math.sqrt(ratio)
        value = math.hypot(height, width / (n - 1)) / 2
        if height <= math.sqrt(3) * width / (n - 1):
            exact += 1
            assert scale == pytest.approx(value, rel=1e-9)
        else:
            assert scale <= max(value, 0.5) * (1 + 1e-9)
    assert exact >= 3
    assert curve.scales[0] == pytest.approx(0.5, rel=1e-9)  # four corners of the square
    assert curve.best == 0


def test_two_flaps_reach_half_the_diagonal_at_every_ratio():
    curve = sweep(
        star(2), options=SearchOptions(stop=MaxStarts(1), workers=1), up_to=3, steps=4
    ).curves[0]
    diagonal = np.hypot(np.sqrt(curve.ratios), 1 / np.sqrt(curve.ratios))
    assert curve.scales == pytest.approx(diagonal / 2)
    assert curve.best == 3


def test_the_curve_contains_the_direct_results_of_both_ends(fish):
    (curve,) = fish.curves
    for end, sheet in ((0, Sheet(1, 1)), (-1, Sheet(2, 0.5))):
        direct = pack(FISH, sheet, options=SearchOptions(stop=MaxStarts(1), workers=1)).scale
        assert curve.direct[end] == pytest.approx(direct, rel=1e-12)
        assert curve.scales[end] >= direct * (1 - 1e-12)


def test_every_point_is_a_packing_at_equal_area_and_none_is_below_its_own_search(fish):
    (curve,) = fish.curves
    assert curve.ratios == pytest.approx(np.geomspace(1, 4, 5))
    for ratio, packing, direct in zip(curve.ratios, curve.packings, curve.direct, strict=True):
        assert packing.violations() == []
        assert packing.sheet.area == pytest.approx(1)
        assert packing.sheet.width / packing.sheet.height == pytest.approx(ratio)
        assert packing.scale >= direct * (1 - 1e-12)
    assert curve.scales[curve.best] == max(curve.scales)


def test_a_neighbour_is_never_much_better_once_it_is_stretched(fish):
    # what a neighbour's tips give on this sheet is a lower bound that following must keep
    (curve,) = fish.curves
    for here, there in [*zip(curve.packings, curve.packings[1:], strict=False)]:
        for a, b in ((here, there), (there, here)):
            stretch = np.array([b.sheet.width / a.sheet.width, b.sheet.height / a.sheet.height])
            tips = a.points * stretch
            i, j = np.triu_indices(len(tips), 1)
            carried = (np.hypot(*(tips[i] - tips[j]).T) / a.distances[i, j]).min()
            assert b.scale >= carried * (1 - 1e-9)


def test_what_is_better_spreads_over_the_whole_curve():
    """From one packing at the end to poor ones; nothing is worse than the neighbour stretched."""
    sheets = [Sheet(r, 1 / r) for r in (1, 1.1, 1.2, 1.3)]
    poor = [scattered(pose(FISH, sheet), 4) for sheet in sheets[:-1]]
    found = [
        *poor,
        pack(FISH, sheets[-1], options=SearchOptions(stop=MaxStarts(1), workers=1), proof=0),
    ]
    last = found[-1].scale
    _spread(found)
    assert found[-1].scale == last
    for before, here, there in zip(poor, found, found[1:], strict=False):
        assert here.violations() == []
        assert here.scale > before.scale
        assert here.scale >= there.scale * (1 / 1.1 - 1e-9)  # stretching takes a tenth at most
        assert here.bound.scale >= here.scale * (1 - 1e-9)
    assert found[-1].bound == quick_bound(found[-1].problem)  # no long proof was asked for


def test_the_same_seed_gives_the_same_curve(fish):
    again = sweep(FISH, options=SearchOptions(stop=MaxStarts(1), workers=1), up_to=4, steps=5)
    assert again.curves[0].scales == fish.curves[0].scales


def test_book_symmetry_sweeps_lying_and_standing_sheets():
    found = sweep(
        FISH, "book", options=SearchOptions(stop=MaxStarts(1), workers=1), up_to=2, steps=2
    )
    assert [curve.standing for curve in found.curves] == [False, True]
    lying, standing = found.curves
    assert lying.packings[1].sheet.width > 1 > standing.packings[1].sheet.width
    assert lying.scales[0] == pytest.approx(standing.scales[0], rel=1e-9)  # both the square


def test_a_sheet_in_mm_sets_the_area():
    curve = sweep(
        star(2, sheet=Sheet(20, 20, "cm")),
        options=SearchOptions(stop=MaxStarts(1), workers=1),
        steps=2,
    ).curves[0]
    assert {p.sheet.unit for p in curve.packings} == {"cm"}
    assert curve.packings[1].sheet.area == pytest.approx(400)


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"symmetry": "diagonal"}, "needs a square"),
        ({"up_to": 1}, "no last ratio"),
        ({"up_to": math.inf}, "no last ratio"),
        ({"steps": 1}, "too few"),
    ],
)
def test_wrong_questions_are_told(more, said):
    with pytest.raises(OptionError, match=said):
        sweep(star(3), **more)


def test_nothing_is_carried_on_once_the_time_is_over():
    """A packing of a thousand flaps takes a second to carry on, and a sweep has seventeen."""
    sheets = [Sheet(r, 1 / r) for r in (1, 1.1)]
    poor, good = (scattered(pose(FISH, sheet), 4) for sheet in sheets)
    found = [poor, good]
    _spread(found, Deadline.after(0.0))
    assert found == [poor, good]
