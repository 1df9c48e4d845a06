"""The finest spot of a pattern, against a slow reference with shapely."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from shapely.affinity import rotate

from packer.creases.completion.complete import crease_pattern
from packer.creases.smallest_feature import _gaps, fine_features, smallest_feature
from packer.model.problem import pose
from tests.folded import textbook
from tests.strategies import random_figure, scattered


def twin(pattern):
    """Every edge, and every two edges under 10 degrees apart that share no vertex.

    The gap is measured by cutting the second to the strip over the first, with the first laid
    along the x axis.
    """
    sizes = []
    lines = [shapely.LineString(pattern.points[edge]) for edge in pattern.edges]
    for k, one in enumerate(lines):
        sizes.append(one.length)
        (ax, ay), (bx, by) = one.coords
        turn = math.degrees(math.atan2(by - ay, bx - ax))
        strip = shapely.box(0, -10, one.length, 10)
        for other, two in enumerate(lines):
            if other == k or set(pattern.edges[k]) & set(pattern.edges[other]):
                continue
            if one.distance(two) >= min(sizes):
                continue  # the gap is no less
            (cx, cy), (dx, dy) = two.coords
            off = (math.degrees(math.atan2(dy - cy, dx - cx)) - turn) % 180
            if min(off, 180 - off) < 10:
                flat = rotate(two, -turn, origin=(ax, ay))
                beside = shapely.intersection(shapely.affinity.translate(flat, -ax, -ay), strip)
                if beside.length > 0:
                    sizes.append(min(abs(y) for _, y in beside.coords))
    return min(sizes)


@pytest.mark.parametrize("seed", range(2))
def test_smallest_feature_is_that_of_the_slow_reference(seed):
    figure = random_figure(np.random.default_rng(seed), 4 + seed)
    pattern = crease_pattern(scattered(pose(figure), seed))
    feature = smallest_feature(pattern)
    assert feature.size == pytest.approx(twin(pattern), rel=1e-9)
    x, y = feature.at
    assert 0 <= x <= 1
    assert 0 <= y <= 1
    assert set(feature.parts) <= set(pattern.built)


def test_bird_base():
    """Textbook: flaps of 1/2 from the corners; the fifth, in the middle, is (sqrt 2 - 1) / 2 long.

    Its shortest edges are those of the fifth flap: no two creases of the base come nearer.
    """
    pattern = textbook.bird()
    assert smallest_feature(pattern).size == pytest.approx((math.sqrt(2) - 1) / 2)


def test_moved_vertices_are_measured_where_they_are():
    """Twice the sheet, twice the sizes."""
    figure = random_figure(np.random.default_rng(7), 6)
    pattern = crease_pattern(scattered(pose(figure), 1))
    spots = fine_features(pattern, 0.05)
    assert len(spots.edges)
    assert len(spots.gaps)
    before, after = spots.sizes(pattern.points), spots.sizes(2 * pattern.points)
    assert after == pytest.approx(2 * before)
    assert before.max() < 0.05


def test_edges_are_beside_each_other_where_both_run_and_not_where_one_begins():
    """By hand: a tenth above an edge of 1, from its middle on, from its end on, and all beyond."""
    ends = [[(0, 0), (1, 0), (x, 0.1), (x + 1, 0.1)] for x in (0.5, 1.0, 1.5)]
    assert _gaps(np.array(ends)).tolist() == [0.1, np.inf, np.inf]
