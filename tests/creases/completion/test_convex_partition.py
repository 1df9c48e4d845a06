"""Cutting the sheet: what any full triangulation must satisfy, and convex polygons."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from scipy.spatial import ConvexHull

from packer.creases.completion.convex_partition import convex_partition, sides_of, triangulation
from packer.creases.completion.filler_insertion import with_filler
from packer.creases.tip_layout import layout_of
from packer.model.problem import pose
from packer.units import ACTIVE_GAP
from tests.strategies import random_figure, scattered


def cornered(seed):
    """A layout with a short filler in each corner, so that the tips span the sheet."""
    rng = np.random.default_rng(seed)
    symmetry = ["none", "book", "diagonal"][seed % 3]
    figure = random_figure(rng, 4 + seed % 4, symmetry=symmetry, pairs=True)
    layout = layout_of(scattered(pose(figure), seed), 0.95)
    for corner in layout.sheet.corners.values():
        if np.hypot(*(layout.points - corner).T).min() > layout.tolerance:
            layout = with_filler(layout, np.array(corner), (0, layout.lengths[0]), 1e-3)
    return layout


@pytest.mark.parametrize("seed", range(9))
def test_triangulation_has_the_edges_that_eulers_formula_asks_for(seed):
    """3 n - 3 - b edges for n points, b of them on the border (Euler); no two of them cross."""
    layout = cornered(seed)
    edges = triangulation(layout, ACTIVE_GAP)
    size = layout.sheet.width
    on_border = ((layout.points <= 1e-9) | (layout.points >= size - 1e-9)).any(axis=1).sum()
    mirrored = sum(tuple(sorted(layout.mirror[list(edge)].tolist())) in edges for edge in edges)
    assert mirrored == len(edges)
    # mirror images are taken together, so crossing pairs of images may both have to be left out
    whole = 3 * len(layout.points) - 3 - on_border
    assert len(edges) <= whole
    assert layout.symmetry != "none" or len(edges) == whole
    lines = [shapely.LineString(layout.points[list(edge)]) for edge in edges]
    for k, one in enumerate(lines):
        assert not any(one.crosses(other) for other in lines[:k])


@pytest.mark.parametrize("seed", range(9))
def test_polygons_are_convex_and_cover_the_sheet(seed):
    """Each is its own convex hull (scipy's Qhull); the areas add up to the sheet's."""
    layout = cornered(seed)
    polygons = convex_partition(layout, ACTIVE_GAP)
    areas = [shapely.Polygon(layout.points[list(loop)]).area for loop in polygons]
    hulls = [ConvexHull(layout.points[list(loop)]).volume for loop in polygons]
    assert areas == pytest.approx(hulls)
    assert sum(areas) == pytest.approx(layout.sheet.area)
    ends = {tip for side in sides_of(polygons) for tip in side}
    assert ends == set(range(len(layout.points)))
