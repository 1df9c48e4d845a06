"""Plane graphs, against shapely and plain loops."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from scipy.spatial import Delaunay

from packer.creases.plane_graph import joined, loop_areas, merged, sides_of_edges, trace_faces
from packer.errors import PatternError


def random_graph(seed):
    """A Delaunay triangulation (scipy's Qhull) without some of its inner edges."""
    rng = np.random.default_rng(seed)
    points = np.vstack([[[0, 0], [1, 0], [1, 1], [0, 1]], rng.uniform(0.1, 0.9, size=(12, 2))])
    triangles = Delaunay(points).simplices
    edges = {tuple(sorted((t[k], t[k - 1]))) for t in triangles.tolist() for k in range(3)}
    inner = sorted(e for e in edges if not set(e) <= {0, 1, 2, 3})
    gone = {inner[k] for k in rng.choice(len(inner), size=6, replace=False)}
    return points, np.array(sorted(edges - gone), dtype=np.intp)


@pytest.mark.parametrize("seed", range(8))
def test_faces_are_the_polygons_of_shapely(seed):
    """`shapely.polygonize` of the same segments gives as many polygons, of the same areas."""
    points, edges = random_graph(seed)
    ends = np.bincount(edges.ravel(), minlength=len(points))
    if (ends == 1).any():  # a face with an edge that sticks into it is no polygon
        edges = edges[(ends[edges] > 1).all(axis=1)]
    faces = trace_faces(points, edges)
    polygons = shapely.polygonize([shapely.LineString(points[e]) for e in edges]).geoms
    areas = loop_areas(points, faces)
    assert sorted(areas) == pytest.approx(sorted(shapely.Polygon(p).area for p in polygons))
    assert areas.sum() == pytest.approx(1.0)
    sides = sides_of_edges(edges, faces)
    for face, loop in enumerate(faces):
        for a, b in zip(loop, (*loop[1:], loop[0]), strict=True):
            k = edges.tolist().index(sorted((a, b)))
            assert sides[k, 0 if edges[k, 0] == a else 1] == face
    assert (sides < 0).sum() == 4  # the border has a face on one side only


def test_a_loop_off_the_edges_and_a_side_taken_twice_are_refused():
    edges = np.array([[0, 1], [1, 2], [0, 2]])
    with pytest.raises(PatternError, match="no edge"):
        sides_of_edges(edges, [(0, 1, 3)])
    with pytest.raises(PatternError, match="same side"):
        sides_of_edges(edges, [(0, 1, 2), (0, 1, 2)])


@pytest.mark.parametrize("seed", range(4))
def test_points_are_merged_along_chains(seed):
    """Against a plain loop that joins neighbours until nothing changes."""
    rng = np.random.default_rng(seed)
    points = rng.uniform(size=(60, 2))
    lowest = np.arange(len(points))
    near = np.hypot(*(points[:, None] - points[None]).transpose(2, 0, 1)) <= 0.08
    while True:
        after = np.array([lowest[row].min() for row in near])
        if (after == lowest).all():
            break
        lowest = after
    assert merged(points, 0.08).tolist() == lowest.tolist()


def test_sets_that_pairs_join():
    labels = joined(6, [0, 2, 4], [2, 3, 5])
    assert labels[0] == labels[2] == labels[3]
    assert labels[4] == labels[5]
    assert len({labels[0], labels[1], labels[4]}) == 3
