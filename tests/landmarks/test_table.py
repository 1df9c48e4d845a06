"""The table of all short sequences against a plain slow reference, and published facts."""

from __future__ import annotations

import math

import numpy as np
import pytest

from packer.landmarks.creases import creases_from, marks_of
from packer.landmarks.sequence import edges_of
from packer.landmarks.table import table
from tests.landmarks import slow_reference

ROOT2 = math.sqrt(2)


def has_line(lines, a, b, c):
    size = math.hypot(a, b)
    row = np.array([a, b, c]) / size
    return (
        min(np.abs(lines - row).max(axis=1).min(), np.abs(lines + row).max(axis=1).min()) < 1e-9
    )


def has_point(lines, x, y, size=(1.0, 1.0)):
    points = marks_of(lines, size).points
    return np.hypot(*(points - (x, y)).T).min() < 1e-9


def test_one_crease_gives_the_diagonals_and_the_middles():
    made = table((1.0, 1.0), 1)
    assert len(made.lines) == 8
    assert has_line(made.lines, 1, -1, 0)
    assert has_line(made.lines, 1, 1, 1)
    assert has_line(made.lines, 1, 0, 0.5)
    assert has_line(made.lines, 0, 1, 0.5)


@pytest.mark.parametrize(
    ("size", "depth", "kinds"),
    [
        ((1.0, 1.0), 2, (1, 2, 3, 4, 5)),
        ((1.0, 1.0), 2, (1, 2, 3, 4, 5, 6, 7)),
        ((1.0, ROOT2), 2, (1, 2, 3, 4, 5, 7)),
        ((1.0, ROOT2), 2, (6,)),
        ((300.0, 200.0), 2, (1, 2, 3, 4, 5)),
    ],
)
def test_two_creases_count_as_the_slow_reference_counts(size, depth, kinds):
    fast, slow = table(size, depth, kinds), slow_reference.table(size, depth, kinds)
    assert np.bincount(fast.cost).tolist() == [len(rows) for rows in slow]
    if len(fast.lines) < 100:  # the twin compares each two of its marks
        lines = [tuple(map(float, line)) for rows in slow for line in rows]
        assert len(marks_of(fast.lines, size).points) == len(
            slow_reference.points_of(lines, size)
        )


def test_three_creases_on_the_square_count_as_the_slow_reference_counts():
    # a trial of ours with looser rules for short overlaps counted 8, 64 and 1944 lines. All seven
    # alignments, and the marks of every set of three: `tests.benchmarks.landmarks twin`
    kinds, size = (1, 2, 3, 4, 5, 7), (1.0, 1.0)
    fast = table(size, 3, kinds)
    lines, cost, states = slow_reference.grown(size, 3, kinds)
    assert np.bincount(fast.cost).tolist() == np.bincount(cost).tolist()
    assert np.bincount(fast.cost).cumsum().tolist() == [4, 8, 64, 1920]
    for state in sorted(states[3], key=sorted)[::40]:
        there = [tuple(map(float, lines[k])) for k in (0, 1, 2, 3, *sorted(state))]
        slow = slow_reference.points_of(there, size)
        own = marks_of(np.array(there), size).points
        assert len(own) == len(slow)
        assert all(np.hypot(*(own - point).T).min() < 1e-9 for point in slow)


def test_the_sixth_alignment_trisects_an_angle():
    # Abe's trisection (T. Hull, Project Origami, 2006): the angle at the lower left corner, with
    # the line y = x tan 60 and two parallels at heights 1/4 and 1/2, is trisected by the crease
    # that lays (0, 1/2) onto the line and the corner onto the height 1/4.
    angle = math.radians(60)
    lines = np.concatenate(
        [
            edges_of((1.0, 1.0)),
            [[0, 1, 0.25], [0, 1, 0.5], [math.sin(angle), -math.cos(angle), 0]],
        ]
    )
    points = np.array([[0.0, 0.5], [0.0, 0.0]])
    made = creases_from(lines, points, (1.0, 1.0), (6,))
    corner = np.array([0.0, 0.0])
    off = made.lines[:, :2] @ corner - made.lines[:, 2]
    images = corner - 2 * off[:, None] * made.lines[:, :2]
    on = images[np.abs(images[:, 1] - 0.25) < 1e-9]
    angles = np.degrees(np.arctan2(on[:, 1], on[:, 0]))
    assert np.abs(angles - 20).min() < 1e-7


def test_the_sixth_alignment_doubles_the_cube():
    # P. Messer, Crux Mathematicorum 12 (1986): on a square in thirds, the corner laid onto the
    # right side while the end of the lower third line goes onto the upper one cuts the side as
    # 1 to the cube root of 2.
    lines = np.concatenate([edges_of((1.0, 1.0)), [[0, 1, 1 / 3], [0, 1, 2 / 3]]])
    points = np.array([[0.0, 0.0], [0.0, 1 / 3]])
    made = creases_from(lines, points, (1.0, 1.0), (6,))
    off = made.lines[:, :2] @ points[0] - made.lines[:, 2]
    images = points[0] - 2 * off[:, None] * made.lines[:, :2]
    cuts = images[np.abs(images[:, 0] - 1) < 1e-9, 1]
    ratios = cuts / (1 - cuts)
    assert (
        np.abs(ratios - 2 ** (1 / 3)).min() < 1e-9
        or np.abs(ratios - 2 ** (-1 / 3)).min() < 1e-9
    )


def test_root_two_rectangles_have_their_published_square_and_ratio():
    # folding a corner's angle in half cuts the square off; the diagonal of that square is the long
    # side of a sheet of 1 : sqrt 2 (ISO 216; any book on folding A4)
    made = table((1.0, ROOT2), 2)
    assert has_line(made.lines, 1, -1, 0)
    assert has_point(made.lines, 1.0, 1.0, (1.0, ROOT2))
    # the fold that lays that diagonal onto the long side: 22.5 degrees at the corner
    assert has_line(made.lines, math.sin(math.radians(67.5)), -math.cos(math.radians(67.5)), 0)


def test_landmarks_of_the_classic_bases_are_diagonals_and_halves():
    # kite, fish, bird and frog base: corners, middles of sides, the centre (S. Randlett, The Art
    # of Origami, 1961, shows them with nothing but book and diagonal folds)
    made = table((1.0, 1.0), 1)
    for x, y in [(0, 0), (1, 0), (0.5, 0), (0, 0.5), (1, 0.5), (0.5, 1), (0.5, 0.5)]:
        assert has_point(made.lines, x, y)
    # and 22.5 degrees, the kite's edges, one fold later: tan 22.5 = sqrt 2 - 1
    assert has_point(table((1.0, 1.0), 2).lines, 1.0, ROOT2 - 1)
