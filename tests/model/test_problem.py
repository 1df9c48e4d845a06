"""Where tips may lie: places, mirror lines and what contradicts itself."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from packer.errors import FigureError, SheetError
from packer.model.figure import PLACES, Figure, Flap
from packer.model.problem import Range, pose
from packer.model.sheet import Sheet
from tests.strategies import problems

WIDE = Sheet(4, 2)


def places_of(*place, sheet=WIDE, symmetry="none", pair=False):
    figure = Figure("x", (Flap("a", "j", 3, pair, place), Flap("b", "j", 1)), (), symmetry)
    return pose(figure, sheet).ranges


@pytest.mark.parametrize(
    ("place", "x", "y"),
    [
        ("left", (0, 0), (0, 2)),
        ("right", (4, 4), (0, 2)),
        ("bottom", (0, 4), (0, 0)),
        ("top", (0, 4), (2, 2)),
        ("top left", (0, 0), (2, 2)),
        ("bottom right", (4, 4), (0, 0)),
        ((0.25, 0.5), (1, 1), (1, 1)),
        ("axis", (0, 4), (0, 2)),  # without a mirror line this wish says nothing
    ],
)
def test_a_place_is_a_box_in_sheet_units(place, x, y):
    assert places_of(place)[0] == (Range(x, y),)


def test_any_edge_and_any_corner_are_choices():
    assert len(places_of("edge")[0]) == 4
    assert all(box.is_point for box in places_of("corner")[0])
    assert len(places_of("left", "top left", "left")[0]) == 2


def test_the_middle_keeps_a_flaps_own_disc_on_the_sheet():
    assert places_of("middle")[0] == (Range((0, 4), (0, 2), margin=3),)


def test_an_unpaired_flap_lies_on_the_axis():
    free, top = (places_of(*place, symmetry="book")[0] for place in ((), ("top",)))
    assert free == (Range((2, 2), (0, 2), on_axis=True),)
    assert top == (Range((2, 2), (2, 2), on_axis=True),)
    square = Sheet(2, 2)
    assert places_of(sheet=square, symmetry="diagonal")[0] == (Range((0, 2), (0, 2), True),)
    left = places_of("left", sheet=square, symmetry="diagonal")[0]
    assert left == (Range((0, 0), (0, 0), True),)


def test_twins_take_a_named_place_and_its_mirror_image():
    left, right = places_of("top right", symmetry="book", pair=True)[:2]
    assert (left, right) == ((Range((0, 0), (2, 2)),), (Range((4, 4), (2, 2)),))
    left, right = places_of("bottom", sheet=Sheet(2, 2), symmetry="diagonal", pair=True)[:2]
    assert (left, right) == ((Range((0, 0), (0, 2)),), (Range((0, 2), (0, 0)),))


def test_twins_choose_only_corners_off_the_diagonal():
    left = places_of("corner", sheet=Sheet(1, 1), symmetry="diagonal", pair=True)[0]
    assert {box.middle for box in left} == {(1, 0), (0, 1)}


def test_the_sheet_and_symmetry_given_win_over_the_figures():
    figure = Figure(
        "x", (Flap("a", "j", 1), Flap("b", "j", 1)), (), "diagonal", Sheet(3, 3, "cm")
    )
    assert pose(figure).sheet == Sheet(3, 3, "cm")
    assert pose(figure).symmetry == "diagonal"
    assert pose(figure, Sheet(2, 1), "book").sheet == Sheet(2, 1)
    with pytest.raises(SheetError, match="needs a square"):
        pose(figure, Sheet(2, 1))
    assert pose(replace(figure, sheet=None)).sheet == Sheet(1, 1)


def test_as_many_tips_as_points_still_fit():
    corners = tuple(Flap(name, "j", 1, place=("corner",)) for name in "abcd")
    assert len(pose(Figure("x", corners)).ranges) == 4
    with pytest.raises(FigureError, match="too many tips"):
        pose(Figure("x", (*corners, Flap("e", "j", 1, place=("top left",)))))
    # a matching has to be found: taken in the order written, "b" would find its corner taken
    figure = Figure(
        "x",
        (
            Flap("a", "j", 1, place=("top left", "top right")),
            Flap("b", "j", 1, place=("top left",)),
        ),
    )
    assert pose(figure)


@given(problems())
def test_twins_ranges_mirror_each_other(problem):
    assume(problem.symmetry != "none")
    for tip, twin in enumerate(problem.mirror.tolist()):
        for here, there in zip(problem.ranges[tip], problem.ranges[twin], strict=True):
            image = problem.reflect(np.array([here.middle]))[0]
            np.testing.assert_allclose(image, there.middle, atol=1e-12)
            assert here.margin == there.margin


@given(problems())
def test_a_reflection_undone_changes_nothing(problem):
    points = np.array([box.middle for ranges in problem.ranges for box in ranges])
    np.testing.assert_allclose(problem.reflect(problem.reflect(points)), points, atol=1e-12)


@given(st.lists(st.sampled_from(PLACES), min_size=1, max_size=3, unique=True))
def test_every_list_of_places_gives_ranges_without_a_mirror_line(wished):
    boxes = places_of(*wished)[0]
    assert boxes
    for box in boxes:
        x, y = box.middle
        assert 0 <= x <= 4
        assert 0 <= y <= 2
