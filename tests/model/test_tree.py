"""Distances along the tree: against a plain slow reference and the laws of a tree metric."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import shortest_path

from packer.model.tree import central_joint, depths, node_distances, tree_of, walk
from tests.strategies import figures


@given(figures(max_flaps=20))
def test_distances_are_those_of_a_shortest_path_solver(figure):
    """scipy.sparse.csgraph, which knows nothing of trees."""
    tree = tree_of(figure)
    a, b = tree.ends.T
    graph = coo_matrix((tree.lengths, (a, b)), shape=(tree.n_nodes, tree.n_nodes))
    expected = shortest_path(graph, directed=False)
    np.testing.assert_allclose(node_distances(tree, tree.lengths), expected, rtol=1e-12)
    n = tree.n_tips
    np.testing.assert_allclose(tree.distances, expected[:n, :n], rtol=1e-12)
    for root in range(tree.n_nodes):
        np.testing.assert_allclose(
            depths(tree, tree.lengths, root), expected[root], rtol=1e-12, atol=1e-12
        )


@given(figures(max_flaps=10), st.randoms(use_true_random=False))
def test_the_four_point_condition(figure, random):
    """A metric is a tree's exactly where, of the three sums of two opposite distances among any
    four points, the two greatest are equal (Buneman, 1974)."""
    d = tree_of(figure).distances
    for _ in range(20):
        i, j, k, m = (random.randrange(len(d)) for _ in range(4))
        sums = sorted([d[i, j] + d[k, m], d[i, k] + d[j, m], d[i, m] + d[j, k]])
        assert sums[1] == pytest.approx(sums[2], rel=1e-12)


@given(figures(max_flaps=12))
def test_a_path_is_as_long_as_its_edges(figure):
    tree = tree_of(figure)
    for i in range(tree.n_tips):
        for j in range(i):
            path = tree.path(i, j)
            assert tree.lengths[path].sum() == pytest.approx(tree.distances[i, j], rel=1e-12)


@given(figures(max_flaps=12), st.randoms(use_true_random=False))
def test_the_order_of_the_lines_changes_nothing(figure, random):
    flaps, rivers = list(figure.flaps), list(figure.rivers)
    random.shuffle(flaps)
    random.shuffle(rivers)
    tree = tree_of(figure)
    other = tree_of(replace(figure, flaps=tuple(flaps), rivers=tuple(rivers)))
    order = [other.flaps.index(name) for name in tree.flaps]
    np.testing.assert_allclose(
        other.distances[np.ix_(order, order)], tree.distances, rtol=1e-12
    )


@given(figures(max_flaps=12), figures(max_flaps=12, wild_names=True))
def test_names_change_nothing(figure, wild):
    renamed = replace(
        figure,
        flaps=tuple(replace(f, name=f"<{k}>\x07") for k, f in enumerate(figure.flaps)),
    )
    np.testing.assert_array_equal(tree_of(renamed).distances, tree_of(figure).distances)
    assert len(set(tree_of(wild).names)) == len(tree_of(wild).names)


@given(figures(max_flaps=12))
def test_a_walk_meets_every_node_once_and_parents_first(figure):
    tree = tree_of(figure)
    order = walk(tree, tree.n_tips)
    assert sorted(node for node, _, _ in order) == list(range(tree.n_nodes))
    met = set()
    for node, parent, edge in order:
        assert parent in met or parent == -1
        assert edge == -1 or {node, parent} == set(tree.ends[edge].tolist())
        met.add(node)


@given(figures(max_flaps=12))
def test_an_edge_parts_the_tips_in_two(figure):
    tree = tree_of(figure)
    for k in range(tree.n_tips):
        assert tree.beyond[k].sum() in {1, tree.n_tips - 1}  # a flap has one tip beyond it
    assert not tree.beyond.flags.writeable
    assert not tree.distances.flags.writeable


@given(figures(max_flaps=12))
def test_the_central_joint_is_nearest_to_its_farthest_tip(figure):
    tree = tree_of(figure)
    far = node_distances(tree, tree.lengths)[:, : tree.n_tips].max(axis=1)
    assert far[central_joint(tree, tree.lengths)] == far[tree.n_tips :].min()
