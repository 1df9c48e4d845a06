"""Initial points: on the sheet or in its half, limbs of the tree together."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from packer.local_solver.initial_points import (
    fresh_points,
    lattice_points,
    onto_sheet,
    projected_points,
    sliced_points,
    uniform_points,
)
from packer.model.problem import pose
from packer.model.sheet import Sheet
from tests.strategies import random_figure

WAYS = (uniform_points, projected_points, sliced_points, fresh_points)


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("symmetry", ["none", "book", "diagonal"])
def test_points_lie_on_the_sheet(way, symmetry):
    sheet = Sheet(1.5, 1.5) if symmetry == "diagonal" else Sheet(2, 1)
    problem = pose(random_figure(4, 9, symmetry=symmetry, pairs=True, joints=3), sheet)
    for seed in range(10):
        points = way(problem, np.random.default_rng(seed))
        assert points.shape == (problem.tree.n_tips, 2)
        leaders = points[problem.leaders]
        assert (leaders >= -1e-9).all()
        assert (leaders <= np.array([sheet.width, sheet.height]) + 1e-9).all()


@pytest.mark.parametrize("way", WAYS)
def test_starts_do_not_depend_on_the_unit_of_length(way):
    """A power of two, so that not one bit differs."""
    figure = random_figure(4, 9, symmetry="book", pairs=True, joints=3)
    small = replace(
        figure,
        flaps=tuple(replace(part, length=part.length / 1024) for part in figure.flaps),
        rivers=tuple(replace(part, length=part.length / 1024) for part in figure.rivers),
    )
    one, other = (way(pose(f), np.random.default_rng(7)) for f in (figure, small))
    np.testing.assert_array_equal(one, other)
    leaders = one[pose(figure).leaders]
    assert len(np.unique(leaders, axis=0)) == len(leaders)


def test_a_star_starts_from_lattices_or_uniformly():
    """A tenth of a diagonal beyond the sheet at most: rows are stretched over it, then shaken."""
    problem = pose(random_figure(4, 30, joints=1))
    kinds = set()
    for seed in range(12):
        points = fresh_points(problem, np.random.default_rng(seed))
        kinds.add(bool((points < 0).any() or (points > 1).any()))
        lattice = lattice_points(problem, np.random.default_rng(seed))
        assert lattice.shape == (30, 2)
        assert np.abs(lattice - 0.5).max() < 0.6
    assert kinds == {False, True}


def test_subtrees_start_closer_together_than_strangers():
    """Sliced starts against uniform ones: mean distance within a limb over that of all pairs."""
    problem = pose(random_figure(8, 24, joints=6))
    tree = problem.tree
    near = tree.distances < np.median(tree.distances)
    i, j = np.triu_indices(tree.n_tips, 1)

    def ratio(way):
        ratios = []
        for seed in range(20):
            p = way(problem, np.random.default_rng(seed))
            far = np.hypot(*(p[i] - p[j]).T)
            ratios.append(far[near[i, j]].mean() / far.mean())
        return np.mean(ratios)

    assert ratio(sliced_points) < ratio(uniform_points) - 0.02
    assert ratio(projected_points) < ratio(uniform_points) - 0.02


@pytest.mark.parametrize("symmetry", ["none", "book", "diagonal"])
def test_the_unit_square_covers_the_sheet_or_its_half(symmetry):
    """Corners of the square go to corners of the sheet, of its half, or of the triangle."""
    problem = pose(random_figure(2, 5, symmetry=symmetry, pairs=True), Sheet(2, 2))
    square = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0], [0.5, 1.0]])
    points = onto_sheet(problem, square)
    if symmetry == "none":
        assert points == pytest.approx(2 * square)
    elif symmetry == "book":
        assert points == pytest.approx(square * [1, 2])
    else:
        assert points[[0, 1]] == pytest.approx(np.array([[0, 0], [2, 2]]))
        assert points[4] == pytest.approx([0, 2])  # the corner away from the diagonal
        assert (points[:, 1] >= points[:, 0] - 1e-12).all()
