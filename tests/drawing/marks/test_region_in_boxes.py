"""The part of a region in upright boxes, against shapely's overlay of the two shapes."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from packer.drawing.marks.region_in_boxes import areas_in_boxes


@given(st.integers(0, 10**6), st.booleans())
def test_the_part_in_each_box_is_that_of_shapelys_overlay(seed, level):
    """Unions of discs less others have holes and several parts; on whole numbers sides are upright and level."""
    rng = np.random.default_rng(seed)

    def shapes(count):
        if level:
            low = rng.integers(0, 5, (count, 2))
            return shapely.union_all(shapely.box(*low.T, *(low + rng.integers(1, 4, 2)).T))
        return shapely.union_all(
            shapely.buffer(shapely.points(5 * rng.random((count, 2))), 1.5 * rng.random(count))
        )

    region = shapely.difference(shapes(5), shapes(4))
    low = rng.integers(0, 5, (30, 2)).astype(float) if level else 5 * rng.random((30, 2))
    high = low + (1.0 if level else rng.random((30, 2)))
    cut = shapely.intersection(shapely.box(*low.T, *high.T), region)
    assert areas_in_boxes(region, low, high) == pytest.approx(shapely.area(cut), abs=1e-9)


def test_a_side_that_all_but_lies_level_keeps_nine_digits():
    """A triangle of base 1 and height h has the area h / 2, however low."""
    for h in (1e-3, 3e-6, 1e-7):
        region = shapely.Polygon([(0, 0), (1, 0), (1, h)])
        (area,) = areas_in_boxes(region, np.array([[-1.0, -1.0]]), np.array([[2.0, 1.0]]))
        assert area == pytest.approx(h / 2, abs=1e-9)
