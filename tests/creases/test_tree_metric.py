"""A tree as a metric space, against the shortest paths of a graph library."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import shortest_path

from packer.creases.tree_metric import Metric
from packer.model.problem import pose
from tests.strategies import random_figure

SEEDS = range(12)


def trial(seed):
    """A random tree as a metric and some places on it, nodes among them."""
    rng = np.random.default_rng(seed)
    tree = pose(random_figure(rng, int(rng.integers(3, 12)))).tree
    metric = Metric(tree, tree.lengths, 1e-10)
    shares = rng.choice([0.0, 0.25, 0.5, 0.8, 1.0], size=16)
    edges = rng.integers(len(tree.ends), size=16)
    lengths = tree.lengths[edges]
    tree_points = zip(edges.tolist(), (shares * lengths).tolist(), strict=True)
    return tree, metric, [metric.snapped(tree_point) for tree_point in tree_points]


def distances(tree, tree_points):
    """Distances between places by Dijkstra's algorithm in scipy.sparse.csgraph."""
    rows = []
    for k, (edge, offset) in enumerate(tree_points):
        a, b = tree.ends[edge]
        # an edge of the graph must not be zero, which would mean that there is none
        rows += [(tree.n_nodes + k, a, offset + 1e-300)]
        rows += [(tree.n_nodes + k, b, tree.lengths[edge] - offset + 1e-300)]
    rows += [(a, b, length) for (a, b), length in zip(tree.ends, tree.lengths, strict=True)]
    for k, (edge, offset) in enumerate(tree_points):
        rows += [
            (tree.n_nodes + k, tree.n_nodes + m, abs(offset - other) + 1e-300)
            for m, (on, other) in enumerate(tree_points[:k])
            if on == edge
        ]
    i, j, d = zip(*rows, strict=True)
    size = tree.n_nodes + len(tree_points)
    graph = coo_matrix((d, (i, j)), shape=(size, size)).tocsr()
    return shortest_path(graph, method="D", directed=False)[tree.n_nodes :, tree.n_nodes :]


@pytest.mark.parametrize("seed", SEEDS)
def test_distances_are_shortest_paths(seed):
    tree, metric, tree_points = trial(seed)
    found = [[metric.between(a, b) for b in tree_points] for a in tree_points]
    assert np.array(found) == pytest.approx(distances(tree, tree_points), abs=1e-12)


@pytest.mark.parametrize("seed", SEEDS)
def test_four_points_of_a_tree_satisfy_the_four_point_condition(seed):
    """Of the three sums of two distances the larger two are equal (Buneman, 1971)."""
    _, metric, tree_points = trial(seed)
    for a, b, c, d in zip(
        tree_points, tree_points[3:], tree_points[6:], tree_points[9:], strict=False
    ):
        far = metric.between
        sums = sorted((far(a, b) + far(c, d), far(a, c) + far(b, d), far(a, d) + far(b, c)))
        assert sums[2] == pytest.approx(sums[1], abs=1e-12)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_step_towards_a_place_brings_it_nearer_by_as_much(seed):
    """A geodesic: what is gone is gone from the distance."""
    _, metric, tree_points = trial(seed)
    for a, b in itertools.pairwise(tree_points):
        before = metric.between(a, b)
        if before == 0:
            continue
        way = metric.leave(a, b)
        by = 0.7 * min(before, metric.ahead(a, way))
        after = metric.along(a, way, by)
        assert metric.between(after, b) == pytest.approx(before - by, abs=1e-12)
        nodes = metric.nodes_between(a, b)
        assert all(0 < done < before for _, done in nodes)
        for node, done in nodes:
            home = metric.home[node]
            assert metric.between(a, home) == pytest.approx(done, abs=1e-12)
            assert done + metric.between(home, b) == pytest.approx(before, abs=1e-12)
