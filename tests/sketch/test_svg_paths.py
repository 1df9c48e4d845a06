"""Path data, transforms and view boxes: lengths from calculus, matrices from their definition.

The grammar's own examples are those of the W3C recommendation SVG 1.1 (2011), chapter 8.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from packer.errors import ReadError
from packer.sketch.polylines import arc_lengths, cut, encloses, passes
from packer.sketch.svg_paths import path_lines, transform_matrix
from packer.sketch.svg_view import compose, fit_view


def length(data):
    (line,) = path_lines(data)
    return arc_lengths(line)[-1]


def bezier_length(*points):
    """Length of a Bezier curve by quadrature of its speed: the definition."""
    z = np.array([complex(*p) for p in points])
    n = len(z) - 1
    steps = n * np.diff(z)

    def speed(t):
        return abs(
            sum(
                math.comb(n - 1, k) * (1 - t) ** (n - 1 - k) * t**k * step
                for k, step in enumerate(steps)
            )
        )

    return quad(speed, 0, 1, limit=400)[0]


point = st.tuples(st.integers(-100, 100), st.integers(-100, 100))


@given(point, point, point, point)
def test_a_curve_is_as_long_as_the_integral_of_its_speed(a, b, c, d):
    if len({a, b, c, d}) < 4:
        return
    text = f"M{a[0]},{a[1]}C{b[0]} {b[1]} {c[0]} {c[1]} {d[0]} {d[1]}"
    assert length(text) == pytest.approx(bezier_length(a, b, c, d), rel=5e-6)
    text = f"M{a[0]},{a[1]}Q{b[0]} {b[1]} {c[0]} {c[1]}"
    assert length(text) == pytest.approx(bezier_length(a, b, c), rel=5e-6)


@pytest.mark.parametrize(("large", "sweep", "turn"), [(0, 0, 90), (0, 1, 90), (1, 0, 270)])
def test_an_arc_is_as_long_as_its_angle(large, sweep, turn):
    assert length(f"M10 0A10 10 0 {large} {sweep} 0 10") == pytest.approx(
        10 * math.radians(turn), rel=1e-5
    )


def test_an_arc_bends_to_the_side_its_flags_say():
    # SVG 1.1, section 8.3.8: sweep 1 is drawn with growing angle, y down: from (1, 0) by (0, 1)
    (line,) = path_lines("M1 0A1 1 0 0 1 -1 0")
    assert line[len(line) // 2] == pytest.approx([0, 1], abs=1e-2)
    assert np.hypot(*line.T) == pytest.approx(1, abs=1e-9)


def test_an_arc_too_small_for_its_ends_grows_to_a_half_turn():
    assert length("M0 0A1 1 0 0 1 10 0") == pytest.approx(math.pi * 5, rel=1e-5)  # F.6.6


def test_a_turned_ellipse_keeps_its_length():
    flat = length("M-20 0A20 5 0 0 1 20 0")
    c, s = 20 * math.cos(0.5), 20 * math.sin(0.5)
    assert length(f"M{-c} {-s}A20 5 {math.degrees(0.5)} 0 1 {c} {s}") == pytest.approx(flat)


@pytest.mark.parametrize(
    ("relative", "absolute"),
    [
        ("M5 5l10 0l0 10", "M5 5L15 5L15 15"),
        ("m5 5 10 0 0 10", "M5 5 15 5 15 15"),  # more pairs after M are lines
        ("M5 5h10v10", "M5 5H15V15"),
        ("M1 1c1 2 3 4 5 5s4 1 6 0", "M1 1C2 3 4 5 6 6S10 7 12 6"),
        ("M1 1q1 2 5 5t6 0", "M1 1Q2 3 6 6T12 6"),
        ("M1 1a4 4 0 01 4 4", "M1,1A4,4,0,0,1,5,5"),  # flags need no blank after them
        ("M1-1l.5.5-1e1-2", "M1 -1L1.5 -0.5L-8.5 -2.5"),  # numbers part where they can
    ],
)
def test_relative_commands_are_absolute_ones_from_where_the_pen_is(relative, absolute):
    (a,), (b,) = path_lines(relative), path_lines(absolute)
    assert a == pytest.approx(b)


def test_s_and_t_mirror_the_last_control_point():
    # SVG 1.1, sections 8.3.6 and 8.3.7
    assert length("M0 0C0 5 5 5 5 0S10 -5 10 0") == pytest.approx(
        bezier_length((0, 0), (0, 5), (5, 5), (5, 0))
        + bezier_length((5, 0), (5, -5), (10, -5), (10, 0)),
        rel=1e-5,
    )
    assert length("M0 0Q5 5 10 0T20 0") == pytest.approx(
        2 * bezier_length((0, 0), (5, 5), (10, 0)), rel=1e-5
    )
    assert length("M0 0T20 0") == 20  # nothing to mirror: a straight line
    assert length("M0 0C0 5 5 5 5 0T10 0") == pytest.approx(
        bezier_length((0, 0), (0, 5), (5, 5), (5, 0)) + 5, rel=1e-5
    )


def test_every_move_begins_a_stroke_and_z_goes_back_to_it():
    lines = path_lines("M0 0L1 0M5 5L6 5L6 6ZL0 9")
    assert [len(line) for line in lines] == [2, 4, 2]
    assert lines[1][0] == pytest.approx(lines[1][-1])
    assert lines[2][0] == pytest.approx([5, 5])


@pytest.mark.parametrize(
    "data", ["L1 1", "M1", "M1 1 2", "M0 0C1 1 2 2", "M0 0L1 x", "M0 0A1 1 0 2 1 3 3", "hello"]
)
def test_what_is_no_path_data_is_refused(data):
    with pytest.raises(ReadError, match=r"path data|arc|number"):
        path_lines(data)


def apply(text, x, y):
    return transform_matrix(text) @ [x, y, 1]


@pytest.mark.parametrize(
    ("text", "image"),
    [
        ("translate(10)", (11, 2)),
        ("translate(10,-20)", (11, -18)),
        ("scale(3)", (3, 6)),
        ("scale(3 -1)", (3, -2)),
        ("rotate(90)", (-2, 1)),
        ("rotate(180, 5, 5)", (9, 8)),
        ("skewX(45)", (3, 2)),
        ("skewY(45)", (1, 3)),
        ("matrix(1 2 3 4 5 6)", (1 + 6 + 5, 2 + 8 + 6)),
        ("translate(10) scale(2), rotate(90)", (6, 2)),  # the last is applied first
    ],
)
def test_transforms_are_those_of_their_definition(text, image):
    assert apply(text, 1, 2) == pytest.approx(image)


@pytest.mark.parametrize(
    "text", ["turn(3)", "rotate(1 2)", "scale()", "scale(2) x", "scale(a)"]
)
def test_what_is_no_transform_is_refused(text):
    with pytest.raises(ReadError, match=r"transform|number"):
        transform_matrix(text)


def test_a_view_box_is_fitted_whole_and_centred_unless_told_otherwise():
    # SVG 1.1, section 7.8
    box, window = (10.0, 0.0, 100.0, 50.0), (200.0, 200.0)
    corner = np.array([10, 0, 1])
    assert fit_view(box, window, "") @ corner == pytest.approx([0, 50])
    assert fit_view(box, window, "xMinYMin meet") @ corner == pytest.approx([0, 0])
    assert fit_view(box, window, "xMaxYMax slice") @ corner == pytest.approx([-200, 0])
    assert fit_view(box, window, "none") @ [110, 50, 1] == pytest.approx([200, 200])


def test_matrices_compose_outer_after_inner():
    turn, move = transform_matrix("rotate(90)"), transform_matrix("translate(1 0)")
    assert compose(turn, move) == pytest.approx(transform_matrix("rotate(90) translate(1 0)"))


def test_pieces_and_passes_of_a_polyline():
    line = np.array([[0.0, 0], [10, 0], [10, 10], [0, 10]])
    piece = cut(line, arc_lengths(line), 5, 25)
    assert piece == pytest.approx(np.array([[5, 0], [10, 0], [10, 10], [5, 10]]))
    assert passes(line, np.array([5.0, 5.0]), 1) == []
    assert passes(line, np.array([5.0, 5.0]), 5.5) == pytest.approx([5])  # one run, the first
    assert passes(line, np.array([2.0, 5.0]), 5.5) == pytest.approx([2, 28])
    assert encloses(line) == pytest.approx(100)
