"""Each alignment does what its name says, by coordinates; misses move it as they should."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from packer.landmarks import alignments as fold

SIZE = (1.0, 1.4)
NONE = np.zeros(2)

inside = st.tuples(st.floats(0.05, 0.95), st.floats(0.05, 1.35)).map(np.array)


@st.composite
def line_on_sheet(draw):
    p, q = draw(inside), draw(inside)
    assume(math.dist(p, q) > 0.2)
    return fold.through(p, q)


def off(line, point):
    return float(line[:2] @ point - line[2])


@given(inside, inside)
def test_one_and_two(p, q):
    assume(math.dist(p, q) > 0.1)
    assert abs(off(fold.o1(p, q, NONE), p)) < 1e-12
    assert abs(off(fold.o1(p, q, NONE), q)) < 1e-12
    assert fold.mirrored(fold.o2(p, q, NONE), p) == pytest.approx(q, abs=1e-12)


@given(line_on_sheet(), line_on_sheet(), st.sampled_from([1, -1]))
def test_three(one, two, branch):
    assume(abs(one[0] * two[1] - one[1] * two[0]) > 0.1)
    crease = fold.o3(one, two, branch, NONE, SIZE)
    for t in (-0.7, 0.2, 1.1):
        point = one[:2] * one[2] + t * np.array([-one[1], one[0]])
        assert abs(off(two, fold.mirrored(crease, point))) < 1e-10


@given(line_on_sheet(), inside)
def test_four(line, p):
    crease = fold.o4(line, p, NONE, SIZE)
    assert abs(off(crease, p)) < 1e-12
    assert abs(crease[:2] @ line[:2]) < 1e-12


@given(inside, line_on_sheet(), inside, st.sampled_from([1, -1]))
def test_five(p, line, q, branch):
    assume(abs(off(line, p)) > 0.05)
    assume(math.dist(p, q) > abs(off(line, q)) + 0.02)
    crease = fold.o5(p, line, q, branch, NONE)
    assert abs(off(crease, q)) < 1e-10
    assert abs(off(line, fold.mirrored(crease, p))) < 1e-8


@given(inside, line_on_sheet(), inside, line_on_sheet())
def test_six_has_one_to_three_solutions_that_all_hold(p, line, q, other):
    assume(min(abs(off(line, p)), abs(off(other, q))) > 0.1)
    assume(abs(line[0] * other[1] - line[1] * other[0]) > 0.1)
    landings = fold.landings6(p, line, q, other)
    landings = landings[np.isfinite(landings).all(axis=1)]
    assert 1 <= len(landings) <= 3  # two parabolas have one, two or three common tangents
    for landing in landings:
        assume(np.abs(landing).max() < 20)
        crease = fold.halving(p, landing)
        assert abs(off(line, landing)) < 1e-9
        assert abs(off(other, fold.mirrored(crease, q))) < 1e-6


@given(inside, line_on_sheet(), line_on_sheet())
def test_seven(p, line, square):
    assume(abs(off(line, p)) > 0.05)
    assume(abs(line[0] * square[1] - line[1] * square[0]) > 0.1)
    crease = fold.o7(p, line, square, NONE, SIZE)
    assert abs(crease[:2] @ square[:2]) < 1e-12
    assert abs(off(line, fold.mirrored(crease, p))) < 1e-9


@pytest.mark.parametrize(
    ("u", "near", "far"),
    [(1 / 2, 3 / 8, 2 / 3), (1 / 4, 15 / 32, 2 / 5), (3 / 4, 7 / 32, 6 / 7)],
)
def test_haga_first_theorem_gives_his_published_fractions(u, near, far):
    # K. Haga, Origamics, 2008: a lower corner is laid onto the upper edge, u from the corner above
    # it. The crease cuts that side at (1 - u u) / 2 below the top; the folded bottom edge cuts the
    # other side at 2u / (1 + u) below the top.
    crease = fold.o2(np.array([0.0, 0.0]), np.array([u, 1.0]), NONE)
    left, right = np.array([1.0, 0, 0]), np.array([1.0, 0, 1])
    a, b = (fold.mirrored(crease, np.array(p)) for p in ([0.0, 0.0], [1.0, 0.0]))
    assert 1 - fold.crossing(crease, left)[1] == pytest.approx(near, abs=1e-12)
    assert 1 - fold.crossing(fold.through(a, b), right)[1] == pytest.approx(far, abs=1e-12)


@pytest.mark.parametrize(("u", "at"), [(1 / 2, 2 / 3), (1 / 4, 2 / 5), (3 / 4, 6 / 7)])
def test_haga_second_theorem_gives_the_fractions_of_the_first(u, at):
    # the same book (from memory): a crease through a corner and a mark; the folded side, produced,
    # cuts the opposite side at 2u / (1 + u)
    crease = fold.o1(np.array([0.0, 0.0]), np.array([1.0, u]), NONE)
    ends = (fold.mirrored(crease, np.array(p)) for p in ([1.0, 0.0], [1.0, u]))
    folded = fold.through(*ends)
    assert 1 - fold.crossing(folded, np.array([0.0, 1, 1]))[0] == pytest.approx(at, abs=1e-12)


@pytest.mark.parametrize(("u", "at"), [(1 / 2, 1 / 3), (1 / 4, 1 / 7), (3 / 4, 3 / 5)])
def test_haga_third_theorem_undoes_the_first(u, at):
    # the same book (from memory): a lower corner is laid onto the upper edge so that the folded
    # bottom edge runs through a mark u below the top of the other side; for the middle, at a third
    crease = fold.o2(np.array([0.0, 0.0]), np.array([at, 1.0]), NONE)
    ends = (fold.mirrored(crease, np.array(p)) for p in ([0.0, 0.0], [1.0, 0.0]))
    right = np.array([1.0, 0, 1])
    assert 1 - fold.crossing(fold.through(*ends), right)[1] == pytest.approx(u, abs=1e-12)


def test_misses_move_a_crease_by_what_they_say():
    p, q = np.array([0.1, 0.2]), np.array([0.9, 0.7])
    line = fold.o1(p, q, np.array([1e-3, 0.0]))
    assert abs(off(line, p)) == pytest.approx(1e-3, rel=1e-3)
    assert abs(off(line, q)) < 1e-9
    crease = fold.o2(p, q, np.array([1e-3, 2e-3]))
    assert fold.mirrored(crease, p) == pytest.approx((q[0] + 1e-3, q[1] + 2e-3), abs=1e-12)
    edge = np.array([0.0, 1.0, 0.0])
    square = fold.o4(edge, np.array([0.5, 0.3]), np.array([0.0, 1e-3]), SIZE)
    end = fold.mirrored(square, np.array([0.0, 0.0]))
    # the line misses itself by 1 mm at the end of the half that lies on the other
    assert abs(end[1]) == pytest.approx(1e-3, rel=0.05)
