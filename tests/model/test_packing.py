"""The packing judges itself: scale, kinds, active paths, costs and violations."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from packer.drawing.marks.strokes import Disc
from packer.drawing.packing_drawing import packing_drawing
from packer.errors import PackingError
from packer.files.packing_json import packing_record
from packer.model.figure import Figure, Flap, River
from packer.model.packing import Bound, Packing, kind_of, scale_of
from packer.model.problem import pose
from packer.model.sheet import Sheet
from packer.report.packing_table import rows
from tests.strategies import packings


def star(*lengths, place=(), symmetry="none", pair=False):
    flaps = tuple(Flap(f"f{k}", "j", length, pair) for k, length in enumerate(lengths))
    return Figure("star", (replace(flaps[0], place=place), *flaps[1:]), (), symmetry)


CORNERS = ((0, 0), (1, 0), (1, 1), (0, 1))


def test_four_equal_flaps_in_the_corners_of_a_unit_square():
    """The bird base: flaps of half the side (textbook: Demaine and O'Rourke, 2007, ch. 16)."""
    packing = Packing(pose(star(0.5, 0.5, 0.5, 0.5)), CORNERS)
    assert packing.scale == 1
    assert set(packing.kinds.values()) == {"corner"}
    assert packing.active == (("f0", "f1"), ("f0", "f3"), ("f1", "f2"), ("f2", "f3"))
    assert packing.sheet_lengths == dict.fromkeys(packing.tree.flaps, 0.5)
    assert packing.violations() == []


@given(packings())
def test_the_scale_is_the_largest_at_which_every_inequality_holds(packing):
    """A plain slow reference, pair by pair."""
    assume(packing.scale > 0)
    d = packing.tree.distances
    ratios = [
        math.dist(packing.tips[i], packing.tips[j]) / d[i, j]
        for i in range(len(d))
        for j in range(i)
    ]
    w, h = packing.sheet.width, packing.sheet.height
    for tip, (x, y) in enumerate(packing.tips):
        if all(box.margin for box in packing.problem.ranges[tip]):
            ratios.append(min(x, y, w - x, h - y) / packing.lengths[tip])
    if not any(len({b.margin > 0 for b in ranges}) > 1 for ranges in packing.problem.ranges):
        assert packing.scale == pytest.approx(min(ratios), rel=1e-12)
    assert packing.scale <= min(ratios) * (1 + 1e-12)


@given(packings(), st.sampled_from([0.5, 3.0]))
def test_the_scale_doubles_with_the_sheet_and_halves_with_the_figure(packing, factor):
    sheet = Sheet(packing.sheet.width * factor, packing.sheet.height * factor)
    larger = Packing(
        pose(packing.figure, sheet), tuple((x * factor, y * factor) for x, y in packing.tips)
    )
    assert larger.scale == pytest.approx(packing.scale * factor, rel=1e-9)
    longer = replace(
        packing.figure,
        flaps=tuple(replace(f, length=f.length * factor) for f in packing.figure.flaps),
        rivers=tuple(replace(r, length=r.length * factor) for r in packing.figure.rivers),
    )
    smaller = Packing(pose(longer, packing.sheet), packing.tips)
    assert smaller.scale == pytest.approx(packing.scale / factor, rel=1e-9)


@given(packings())
def test_a_packing_that_is_scattered_violates_nothing_but_by_its_scale(packing):
    assert packing.violations() == [] or not packing.scale > 0


@given(packings())
def test_the_mirror_image_is_as_good(packing):
    image = packing.problem.reflect(packing.points)
    mirrored = replace(packing, tips=tuple(map(tuple, image.tolist())), stress=(), bound=None)
    assert mirrored.scale == pytest.approx(packing.scale, rel=1e-9, abs=1e-12)
    assert sorted(mirrored.kinds.values()) == sorted(packing.kinds.values())


def test_violations_name_what_is_wrong():
    figure = star(1, 1, place=("left",))
    on_one_point = Packing(pose(figure), ((0, 0.5), (0, 0.5)))
    assert on_one_point.violations() == ["two tips lie on one point, so the scale is zero"]
    off_place = Packing(pose(figure), ((0.1, 0.5), (1, 1)))
    assert off_place.violations() == ['"f0" lies off its place at (0.1, 0.5)']
    off_sheet = Packing(pose(star(1, 1)), ((0, 0), (1, 1.01)))
    assert off_sheet.violations() == ['"f1" lies off its place at (1, 1.01)']
    above = Packing(pose(star(1, 1)), ((0, 0), (1, 1)), bound=Bound(0.5, "diagonal"))
    assert "above the bound" in above.violations()[0]
    twins = Packing(pose(star(1, symmetry="book", pair=True)), ((0, 0), (1, 0.1)))
    assert '"f0.left" is 0.1 off the mirror image of its twin' in twins.violations()


def test_a_flap_in_the_middle_keeps_its_disc_on_the_sheet():
    packing = Packing(pose(star(1, 1, place=("middle",))), ((0.9, 0.5), (0.1, 0.5)))
    assert packing.scale == pytest.approx(0.1)
    assert packing.violations() == []


def test_a_flap_that_may_be_on_an_edge_or_in_the_middle_is_judged_by_where_it_lies():
    problem = pose(star(1, 1, place=("edge", "middle")))
    assert Packing(problem, ((1, 0.5), (0, 0.5))).scale == pytest.approx(0.5)
    assert Packing(problem, ((0.9, 0.5), (0.1, 0.5))).scale == pytest.approx(0.1)


def test_numbers_that_do_not_fit_are_refused():
    problem = pose(star(1, 1, 1))
    with pytest.raises(PackingError, match="2 tips and 3 lengths do not fit"):
        Packing(problem, ((0, 0), (1, 1)))
    with pytest.raises(PackingError, match="not finite"):
        Packing(problem, ((0, 0), (1, 1), (math.nan, 0)))
    with pytest.raises(PackingError, match="2 lengths"):
        Packing(problem, ((0, 0), (1, 1), (1, 0)), lengths=(1, 1))


@pytest.mark.parametrize(
    ("point", "kind"),
    [
        ((0, 0), "corner"), ((2, 1), "corner"), ((1e-12, 1), "corner"), ((0, 0.5), "edge"),
        ((1, 1), "edge"), ((1e-6, 0.5), "middle"), ((1, 0.5), "middle"),
    ],
)  # fmt: skip
def test_a_tip_is_of_the_corner_the_edge_or_the_middle(point, kind):
    assert kind_of(Sheet(2, 1), point) == kind


def test_costs_follow_from_the_multipliers():
    """Two flaps and a river on the diagonal: m = sqrt(2) / (a + r + b), so dm/da = -m / d."""
    figure = Figure(
        "line",
        (Flap("a", "j", 1), Flap("b", "k", 2), Flap("c", "j", 0.1)),
        (River("r", ("j", "k"), 0.5),),
    )
    d = 3.5
    packing = Packing(pose(figure), ((0, 0), (1, 1), (0, 0.5)), stress=((0, 1, 1 / d),))
    m = math.sqrt(2) / d
    assert packing.scale == pytest.approx(m)
    assert packing.costs == pytest.approx({"a": -m / d, "b": -m / d, "c": 0, "r": -m / d})
    assert packing.loose == ("c",)


def test_what_a_multiplier_at_an_edge_costs_is_its_own_length():
    packing = Packing(
        pose(star(1, 1, place=("middle",))), ((0.5, 0.5), (0, 0)), stress=((0, 0, 1.0),)
    )
    assert packing.costs == pytest.approx({"f0": -packing.scale, "f1": 0})
    assert packing.loose == ("f1",)


def test_headroom_is_what_the_bound_leaves():
    packing = Packing(
        pose(star(1, 1)), ((0, 0), (1, 0)), bound=Bound(math.sqrt(2) / 2, "diagonal")
    )
    assert packing.headroom == pytest.approx(math.sqrt(2) - 1)
    assert replace(packing, bound=None).headroom is None


def test_scale_of_bare_points():
    d = np.array([[0, 2.0], [2, 0]])
    assert scale_of([(0, 0), (3, 4)], d) == 2.5
    assert scale_of([(0, 0), (3, 4)], d, [(0.5, 1)]) == 0.5


def test_arrays_cannot_be_written_to():
    packing = Packing(pose(star(1, 1)), ((0, 0), (1, 1)))
    with pytest.raises(ValueError, match="read-only"):
        packing.points[0] = 1


def test_one_tolerance_says_which_flaps_are_loose():
    """A tip that contacts without a force hold has only rounding to spare: it is not loose."""
    tips = ((0, 0), (1, 1), (0, 1), (1, 0))
    packing = Packing(
        pose(star(1, 1, 0.4, 0.4)), tips, stress=((0, 1, 0.5),), slack=((2, 5e-9), (3, 0.01))
    )
    assert packing.loose == ("f3",)
    notes = {row[0]: row[-1] for row in rows(packing)}
    assert notes["f2"] == ""
    assert notes["f3"] == "loose, 0.01 to spare"
    kinds = {m.part: m.kind for m in packing_drawing(packing).marks if isinstance(m, Disc)}
    assert (kinds["f2"], kinds["f3"]) == ("tip", "loose tip")
    assert packing_record(packing)["loose"] == ["f3"]
