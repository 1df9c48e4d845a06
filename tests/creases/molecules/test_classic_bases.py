"""The classic bases come out with their textbook creases, by coordinates.

Lengths and tips: the tangent lengths of the triangles in each base (Demaine & O'Rourke,
Geometric Folding Algorithms, 2007, ch. 16); the patterns compared with are written out by hand
in `tests.folded.textbook`, and the places of their inner vertices here.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from packer.creases.completion.complete import crease_pattern
from packer.model.figure import Figure, Flap
from packer.model.packing import Packing
from packer.model.problem import pose
from packer.model.sheet import Sheet
from tests.folded import textbook

ROOT2 = math.sqrt(2)
CORNERS = [(0, 0), (1, 0), (1, 1), (0, 1)]
MIDDLES = [(0.5, 0), (1, 0.5), (0.5, 1), (0, 0.5)]


def base(lengths, tips, side=1.0):
    figure = Figure("base", tuple(Flap(f"f{k}", "hub", x) for k, x in enumerate(lengths)))
    placed = tuple((side * x, side * y) for x, y in tips)
    return crease_pattern(Packing(pose(figure, Sheet(side, side)), placed))


FISH = ([ROOT2 / 2, 1 - ROOT2 / 2] * 2, CORNERS)
BIRD = ([0.5] * 4 + [(ROOT2 - 1) / 2], [*CORNERS, (0.5, 0.5)])
FROG = (
    [ROOT2 / 4] * 5 + [(2 - ROOT2) / 4] * 4,
    [*CORNERS, (0.5, 0.5), *MIDDLES],
)
WATERBOMB = ([0.5] * 4, CORNERS)
KITE = ([1, ROOT2 - 1], [(0, 0), (1, 1)])


def ordered(rows):
    """Rows of numbers in an order that rounding does not change."""
    rows = np.asarray(rows, float)
    return rows[np.lexsort(np.round(rows, 6).T[::-1] + 0.0)]


def lines(pattern, role=None):
    """Edges of a role as rows (x, y, x, y), ends and rows in order."""
    rows = [
        ordered(pattern.points[edge]).ravel()
        for edge, own in zip(pattern.edges, pattern.roles, strict=True)
        if role in {None, own}
    ]
    return ordered(np.array(rows).reshape(-1, 4))


def same(one, two, within=1e-9):
    one, two = ordered(one), ordered(two)
    return one.shape == two.shape and np.abs(one - two).max(initial=0) < within


@pytest.mark.parametrize(
    ("made", "book"),
    [
        (FISH, textbook.fish),
        (BIRD, textbook.bird),
        (FROG, textbook.frog),
        (WATERBOMB, textbook.waterbomb),
    ],
    ids=["fish", "bird", "frog", "waterbomb"],
)
def test_creases_equal_the_textbook_ones(made, book):
    pattern = base(*made)
    expected = book()
    assert pattern.fillers == ()
    for role in ("border", "axial", "ridge", "hinge", "gusset"):
        assert same(lines(pattern, role), lines(expected, role))
    assert pattern.heights.max() == pytest.approx(expected.heights.max(), abs=1e-12)


def test_the_windmill_lies_on_quarters_of_the_square():
    """A river between two rows of tips: rectangles that shrink to a line."""
    expected = textbook.windmill()
    figure = Figure("windmill", *textbook.WINDMILL)
    pattern = crease_pattern(Packing(pose(figure), tuple(textbook.WINDMILL_TIPS.values())))
    assert pattern.fillers == ()
    for role in ("border", "axial", "ridge", "hinge", "gusset"):
        assert same(lines(pattern, role), lines(expected, role))


@pytest.mark.parametrize(
    ("made", "ridge_tops"),
    [
        # the incentre of a right isosceles triangle of legs 1 lies 1 - sqrt(1/2) from both legs
        (FISH, [(ROOT2 / 2, 1 - ROOT2 / 2), (1 - ROOT2 / 2, ROOT2 / 2)]),
        # each ear of the bird base ends (sqrt 2 - 1) / 2 above the middle of a side
        (
            BIRD,
            [
                (0.5, (ROOT2 - 1) / 2),
                (0.5, 1 - (ROOT2 - 1) / 2),
                ((ROOT2 - 1) / 2, 0.5),
                (1 - (ROOT2 - 1) / 2, 0.5),
            ],
        ),
        (WATERBOMB, [(0.5, 0.5)]),
    ],
    ids=["fish", "bird", "waterbomb"],
)
def test_ridges_meet_where_the_textbook_says(made, ridge_tops):
    pattern = base(*made)
    high = pattern.points[pattern.heights > 1e-9]
    assert same(high, ridge_tops, 1e-12)


def test_frog_has_sixteen_flap_sides_and_eight_ears():
    pattern = base(*FROG)
    tops = pattern.points[pattern.heights > 1e-9]
    inradius = (2 - ROOT2) / 4
    assert len(tops) == 8
    assert pattern.heights.max() == pytest.approx(inradius, abs=1e-12)
    near = [min(abs(c - m) for m in (0, 0.5, 1)) for point in tops for c in point]
    assert near == pytest.approx([inradius] * 16, abs=1e-12)


def test_kite_lies_in_the_fish_base_that_closes_it():
    """The kite base leaves two sides of the sheet off the axis.

    Bringing them onto it folds an ear at either side, which is the fish base. The kite's own
    creases, the diagonal and the two lines at 22.5 degrees from the sharp corner, stay.
    """
    pattern = base(*KITE)
    assert len(pattern.fillers) == 2
    tops = pattern.points[pattern.heights > pattern.heights.max() - 1e-9]
    assert same(tops, [(ROOT2 / 2, 1 - ROOT2 / 2), (1 - ROOT2 / 2, ROOT2 / 2)])
    rows = lines(pattern)
    out = [row[2:] for row in rows if np.abs(row[:2]).max() < 1e-9]
    angles = sorted(math.degrees(math.atan2(y, x)) for x, y in out)
    assert angles == pytest.approx([0, 22.5, 45, 67.5, 90], abs=1e-7)


def test_twice_the_sheet_gives_twice_the_pattern():
    small, large = base(*FROG), base(*FROG, side=250.0)
    assert same(lines(large), 250 * lines(small), 1e-7)


@pytest.mark.parametrize("n", [2, 3])
def test_grids_of_equal_flaps_are_grids_of_waterbombs(n):
    pattern = base(
        [0.5 / n] * (n + 1) ** 2, [(i / n, j / n) for i in range(n + 1) for j in range(n + 1)]
    )
    assert same(lines(pattern), lines(textbook.waterbomb(n)))


@pytest.mark.parametrize("noise", [1e-12, 1e-10, 1e-9, 1e-8, 1e-7, 1e-6])
def test_noise_in_a_regular_packing_is_no_crease(noise):
    rng = np.random.default_rng(3)
    exact = np.array([(i / 2, j / 2) for i in range(3) for j in range(3)])
    tips = np.clip(exact + noise * rng.normal(size=exact.shape), 0, 1)
    pattern = base([0.25] * 9, tips.tolist())
    assert np.hypot(*(np.diff(pattern.points[pattern.edges], axis=1)[:, 0].T)).min() > 1e-6
