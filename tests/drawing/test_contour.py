"""Arcs of discs and rivers against polygons of the same regions made by shapely alone."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings

from packer.drawing.contour import contours
from packer.drawing.marks.strokes import arc_of
from packer.model.figure import Figure, Flap, River
from packer.model.packing import Packing
from packer.model.problem import pose
from packer.model.regions import regions
from packer.model.sheet import Sheet
from tests.strategies import packings


def polygon(rings):
    """The region of some rings by the even-odd rule, its arcs as very short chords."""
    region = shapely.Polygon()
    for points, bulges in rings:
        loop = []
        for k, start in enumerate(points):
            end = points[(k + 1) % len(points)]
            if not bulges[k]:
                loop.append(start)
                continue
            centre, radius, first, turn = arc_of(start, end, bulges[k])
            steps = max(2, math.ceil(abs(turn) * 400))
            angles = first + turn * np.arange(steps) / steps
            loop += list(
                np.array(centre) + radius * np.array([np.cos(angles), np.sin(angles)]).T
            )
        region = region.symmetric_difference(shapely.make_valid(shapely.Polygon(loop)))
    return region


@settings(max_examples=30, deadline=None)
@given(packings(max_flaps=8))
def test_arcs_bound_the_regions_of_shapely(packing):
    chords = regions(packing)
    for name, rings in contours(packing).items():
        apart = polygon(rings).symmetric_difference(chords[name]).area
        # shapely's circles are polygons of 256 sides, 1e-4 too small
        assert apart <= 4e-4 * packing.sheet.area, name


@pytest.mark.parametrize("degrees", range(0, 180, 20))
def test_a_river_keeps_free_two_discs_that_touch(degrees):
    """The small one is a whole circle although a chord of it, where they touch, fits the other.

    The river is the discs of radius 2 and 4 at distance 4 less those of radius 1 and 3; what the
    large two have in common is the textbook formula of a lens.
    """
    figure = Figure(
        "two pairs",
        (Flap("a", "j", 5), Flap("b", "j", 5), Flap("c", "k", 1), Flap("d", "k", 3)),
        (River("r", ("j", "k"), 1),),
    )
    x, y = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    tips = ((0, 0), (20, 20), (10 + 2 * x, 10 + 2 * y), (10 - 2 * x, 10 - 2 * y))
    packing = Packing(pose(figure, Sheet(20, 20)), tips)
    assert packing.scale == pytest.approx(1)
    rings = contours(packing)["r"]
    lens = 4 * math.acos(1 / 4) + 16 * math.acos(7 / 8) - math.sqrt(60)
    assert polygon(rings).area == pytest.approx(10 * math.pi - lens, rel=1e-3)


def test_a_disc_in_the_middle_is_one_exact_circle():
    figure = Figure("two", (Flap("a", "j", 0.25), Flap("b", "j", 0.25)))
    packing = Packing(pose(figure), ((0.25, 0.5), (0.75, 0.5)))
    ((points, bulges),) = contours(packing)["a"]
    assert [abs(b) for b in bulges] == [1.0, 1.0]
    assert math.dist(*points) == pytest.approx(0.5, rel=1e-15)


def test_a_corner_disc_is_a_quarter_with_two_sides_of_the_sheet():
    figure = Figure("two", (Flap("a", "j", 0.3), Flap("b", "j", 0.7)))
    packing = Packing(pose(figure, Sheet(2, 1)), ((0, 0), (2, 1)))
    radius = packing.scale * 0.3
    ((points, bulges),) = contours(packing)["a"]
    corners = {(0.0, 0.0), (radius, 0.0), (0.0, radius)}
    assert all(min(math.dist(p, c) for c in corners) < 1e-12 for p in points)
    quarter = [b for b in bulges if b]
    assert [abs(b) for b in quarter] == [pytest.approx(math.tan(math.pi / 8), rel=1e-9)]
