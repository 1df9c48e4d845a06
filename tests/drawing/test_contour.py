"""Arcs of discs and rivers against polygons of the same regions made by shapely alone."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings

from packer.drawing.contour import contours
from packer.drawing.strokes import arc_of
from packer.figure import Figure, Flap
from packer.packing import Packing
from packer.problem import pose
from packer.regions import regions
from packer.sheet import Sheet
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
