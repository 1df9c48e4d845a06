"""Levels of detail: leaving parts out never makes a figure smaller, and what is said of it holds."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from packer.drawing.plates.levels_plate import level_lines
from packer.errors import FigureError
from packer.files.figure_toml import parse_figure, read_figure
from packer.files.levels_files import levels_csv, levels_text, read_levels
from packer.limits import MOST_FOLDED
from packer.model.figure import Figure, Flap, River
from packer.model.packing import Bound, Packing
from packer.model.problem import pose
from packer.planning import level_results
from packer.planning.carry_level import never_smaller, packing_left
from packer.planning.landmark_demand import landmark_demand
from packer.planning.level_results import LeftOut, Level, Levels, level_row
from packer.planning.levels import _creases as creases_of
from packer.planning.levels import first_order, levels
from packer.report.levels_table import level_heads, level_table
from packer.search.carry import carried
from packer.search.options import SearchOptions
from packer.search.stopping import MaxStarts
from packer.units import HOLDS
from tests.benchmarks.large_figures import on_a_grid, star
from tests.conftest import SAMPLES
from tests.model.test_detail import detailed, leg
from tests.strategies import scattered


@given(detailed(places=True), st.integers(1, 2), st.integers(0, 2**31))
@settings(suppress_health_check=[HealthCheck.filter_too_much])
def test_what_is_left_of_a_packing_is_a_packing_and_no_smaller(figure, detail, seed):
    """A law of the packing: fewer inequalities, each with the same distance or less."""
    try:
        problem, whole = pose(figure.at(detail)), pose(figure)
    except FigureError:
        assume(False)
    packing = scattered(whole, seed, records=False)
    left = packing_left(problem, packing)
    if never_smaller(problem, whole):
        assert left.scale >= packing.scale * (1 - HOLDS)
        assert left.violations() == []


def test_a_river_that_becomes_a_flap_on_the_axis_is_told():
    twins = (Flap("toe", "foot", 1.0, pair=True, detail=2), Flap("a", "hip", 1.0))
    figure = Figure("x", (*twins, Flap("b", "hip", 1.0)), (River("leg", ("hip", "foot"), 2.0),))
    for symmetry, sure in (("none", True), ("book", False)):
        whole = pose(figure, symmetry=symmetry)
        assert never_smaller(pose(figure.at(1), symmetry=symmetry), whole) is sure
    assert not never_smaller(pose(leg().at(1)), pose(leg()))  # its lengths may stray


@pytest.fixture(scope="module")
def goby_levels():
    """A sample small enough that its packings are proven to be the largest."""
    goby = read_figure(SAMPLES / "goby.toml")
    details = {"back_fin_1": 2, "breast_fin": 2, "anal_fin": 3, "back_fin_2": 3}
    flaps = tuple(replace(flap, detail=details.get(flap.name, 1)) for flap in goby.flaps)
    return levels(
        replace(goby, flaps=flaps),
        options=SearchOptions(stop=MaxStarts(1), workers=1),
        side_mm=25.0,
    )


def test_no_coarser_level_is_smaller_and_all_hold(goby_levels):
    scales = [level.packing.scale for level in goby_levels.levels]
    assert [level.detail for level in goby_levels.levels] == [1, 2, 3]
    for coarser, finer in pairwise(scales):
        assert coarser >= finer * (1 - HOLDS)
    for level in goby_levels.levels:
        assert (
            level.packing.violations() == []
        )  # the bound held against a coarser level included
        assert all(one.scale >= level.packing.scale * (1 - HOLDS) for one in level.left_out)


def test_parts_that_cost_nothing_to_first_order_gain_nothing_and_others_do(goby_levels):
    """Multipliers speak of the local optimum; on this sample that is proven to be the best."""
    parts = [(level, one) for level in goby_levels.levels for one in level.left_out]
    assert {one.part for _, one in parts} == {
        "back_fin_1",
        "breast_fin",
        "anal_fin",
        "back_fin_2",
    }
    for level, one in parts:
        assert level.packing.headroom < 1e-6
        assert level.told_apart(one) == (one.first_order > 1e-6)
        assert level.as_first_order(one)


def test_levels_are_read_back_as_written(goby_levels, tmp_path):
    path = tmp_path / "goby.levels.json"
    path.write_text(levels_text(goby_levels))
    assert read_levels(path) == goby_levels
    head, *lines = levels_csv(goby_levels).splitlines()
    assert head.startswith("sheet,detail,flaps,rivers,scale,bound,")
    assert len(lines) == 3


def test_landmarks_are_counted_for_the_packing_of_each_level(goby_levels):
    coarsest = goby_levels.levels[0]
    assert coarsest.landmarks == landmark_demand(coarsest.packing, 25.0)
    for level in goby_levels.levels:
        alone = level.landmarks
        assert alone.steps > 0
        row = level_row(goby_levels, level)
        assert (row["landmarks"], row["landmark_creases"]) == (alone.steps, alone.creases)
        text = ", ".join(level_lines(goby_levels, level))
        assert f"{alone.steps} landmark crease" in text
    table = dict(
        zip(level_heads(goby_levels), zip(*level_table(goby_levels), strict=True), strict=True)
    )
    steps = [level.landmarks.steps for level in goby_levels.levels]
    assert table["landmark creases"] == tuple(map(str, steps))
    plain = replace(
        goby_levels,
        levels=tuple(replace(level, landmarks=None) for level in goby_levels.levels),
    )
    assert "landmark creases" not in level_heads(plain)
    assert level_row(plain, plain.levels[0])["landmarks"] is None
    missing = replace(goby_levels, levels=(plain.levels[0], *goby_levels.levels[1:]))
    assert "none found" in level_table(missing)[0]


def given_level(scale, bound, repeated=0.0, left_out=(), detail=1):
    """Two flaps on the diagonal of a square: scale x 2 = its length."""
    problem = pose(Figure("pair", (Flap("a", "j", 1.0), Flap("b", "j", 1.0))))
    packing = Packing(problem, ((0, 0), (2 * scale, 0)), bound=Bound(bound, "given"))
    return Level("1 x 1", detail, (), packing, repeated, None, left_out)


def test_a_difference_below_the_uncertainty_is_not_sold_as_one():
    coarse = given_level(0.40, 0.5)
    for scale, sold in ((0.399, False), (0.397, False), (0.38, True)):
        fine = given_level(scale, 0.5, detail=2)
        row = level_row(Levels("pair", (coarse, fine)), fine)
        assert row["lost"] == pytest.approx(1 - scale / 0.4)
        assert row["told_apart"] is sold
        assert (row["lost_least"], row["lost_most"]) == pytest.approx((0, 1 - scale / 0.5))
    proven = [given_level(s, s, detail=k) for k, s in enumerate((0.4, 0.399), start=1)]
    assert Levels("pair", tuple(proven)).told_apart(proven[1])
    shaky = given_level(0.40, 0.5, repeated=0.03, left_out=(LeftOut("b", 0.41, 0.1),))
    assert not shaky.told_apart(shaky.left_out[0])
    assert Levels("pair", (shaky,)).dearest(shaky) is None
    gains = (LeftOut("b", 0.42, 0.1), LeftOut("a", 0.44, 0.1), LeftOut("b", 0.41, 0.1))
    sure = given_level(0.40, 0.40, left_out=gains)
    assert Levels("pair", (sure,)).dearest(sure) == gains[1]


def test_the_first_order_gain_is_the_derivative_of_the_optimum(goby_levels):
    """Against a second search of the figure with one part a thousandth shorter."""
    packing = goby_levels.levels[-1].packing
    figure, cut = packing.figure, 1e-3
    for name in ("anal_fin", "back_fin_1"):
        flaps = tuple(
            replace(flap, length=flap.length * (1 - cut)) if flap.name == name else flap
            for flap in figure.flaps
        )
        shorter = carried(pose(replace(figure, flaps=flaps)), packing)
        share = 1 - 1 / (1 + first_order(packing, name))
        assert shorter.scale / packing.scale - 1 == pytest.approx(
            share * cut, rel=0.02, abs=1e-9
        )


def test_a_figure_with_one_level_is_refused():
    flaps = tuple(Flap(name, "j", 1.0) for name in "abc")
    with pytest.raises(FigureError, match="write detail = 2"):
        levels(Figure("star", flaps))


def test_finished_lengths_leave_out_the_pleats():
    problem = pose(
        Figure("worm", (Flap("a", "j", 2.0, pleats=4, depth=0.1), Flap("b", "j", 1.0)))
    )
    packing = Packing(problem, ((0, 0), (1, 1)))
    assert packing.lengths == pytest.approx((2.8, 1.0))
    assert packing.finished_lengths == pytest.approx((2.0, 1.0))
    level = Level("1 x 1", 1, (), packing)
    assert level.finished == pytest.approx(3.0 * np.sqrt(2) / 3.8)


def test_a_level_too_large_to_crease_has_no_creases():
    """And the search before is kept: creases of a level are only told beside it."""
    packing = on_a_grid(parse_figure(star(MOST_FOLDED + 1), "star"))
    assert creases_of(packing) is None


def test_the_layers_of_a_level_are_estimated_once(monkeypatch):
    estimated = []
    estimate = level_results.joint_layers
    monkeypatch.setattr(
        level_results, "joint_layers", lambda packing: estimated.append(1) or estimate(packing)
    )
    made = Levels("pair", (given_level(0.4, 0.5), given_level(0.38, 0.5, detail=2)))
    levels_text(made), levels_csv(made), level_table(made)
    assert len(estimated) == 2
