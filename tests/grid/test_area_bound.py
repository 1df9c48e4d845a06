"""The bound by area against packings, known optima and plain geometry."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from packer.grid.area_bound import clipped_growth, overfull
from packer.model.tree import tree_of
from tests.grid.whole import filled, star, whole_figure


@pytest.mark.parametrize("seed", range(24))
def test_no_grid_that_holds_the_figure_is_refuted(seed):
    symmetry = ("none", "book", "diagonal")[seed % 3]
    slope = 0 if symmetry == "diagonal" else seed % 5
    packing = filled(whole_figure(seed, 4 + seed % 6, 6, symmetry), seed, slope)
    for root in range(packing.tree.n_tips, packing.tree.n_tips + len(packing.tree.joints)):
        assert overfull(packing.tree, packing.rounded, packing.cells, root) == ""


@pytest.mark.parametrize("rows", range(2, 7))
@pytest.mark.parametrize("length", [1, 2, 5])
def test_it_is_exact_for_a_square_number_of_equal_flaps(rows, length):
    """Their least grid is 2 L (rows - 1), on which the squares leave nothing free."""
    n, side = rows * rows, 2 * length * (rows - 1)
    tree = tree_of(star(*[length] * n))
    assert overfull(tree, (length,) * n, (side, side), n) == ""
    assert "area" in overfull(tree, (length,) * n, (side - 1, side - 1), n)
    more = tree_of(star(*[length] * (n + 1)))
    assert "area" in overfull(more, (length,) * (n + 1), (side, side), n + 1)


def test_rivers_take_paper():
    """Twelve flaps of 2 on a hub, or in three groups on rivers of 2: longer ways, larger grids."""
    alone = tree_of(star(*[2] * 12))
    figure = whole_figure(1, 12, 2)
    grouped = tree_of(figure)
    lengths = tuple([2] * 12 + [2] * len(grouped.rivers))

    def first(tree, lengths):
        roots = range(tree.n_tips, tree.n_tips + len(tree.joints))
        return next(
            n
            for n in range(1, 60)
            if not any(overfull(tree, lengths, (n, n), root) for root in roots)
        )

    assert first(grouped, lengths) >= first(alone, (2,) * 12) + 2


@pytest.mark.parametrize("seed", range(40))
def test_growing_regions_take_at_least_so_much(seed):
    """Plain reference: boxes in a box, grown and clipped by shapely."""
    rng = np.random.default_rng(seed)
    p, q = rng.uniform(3, 12, 2)
    box = shapely.box(0, 0, p, q)
    for _ in range(25):
        corners = rng.uniform(0, (p, q), (int(rng.integers(1, 6)), 2))
        if rng.random() < 0.5:
            corners[:, int(rng.integers(2))] = 0
        sides = rng.uniform(0, (p, q), corners.shape) * rng.uniform(0, 1)
        r = float(rng.uniform(0, max(p, q) / 2))

        def grown(by, corners=corners, sides=sides):
            squares = [
                shapely.box(*(at - by), *(at + side + by))
                for at, side in zip(corners, sides, strict=True)
            ]
            return shapely.intersection(shapely.union_all(squares), box).area

        least = clipped_growth(*(np.array([v]) for v in (grown(0.0), r, p, q)))
        assert grown(r) >= least[0] * (1 - 1e-12)


@pytest.mark.parametrize(
    ("width", "height"),
    [(2.0, 2.0), (3.0, 3.0), (8.0, 3.0)],
    ids=["a corner", "a wider corner", "a strip"],
)
def test_the_least_growth_is_reached(width, height):
    """A square in a corner, and a strip along a side, of a box of 8 x 8."""
    found = clipped_growth(*(np.array([v]) for v in (width * height, 2.0, 8.0, 8.0)))
    assert found[0] == pytest.approx(min(width + 2, 8) * (height + 2))


def test_all_but_a_corner_grows_least():
    found = clipped_growth(*(np.array([v]) for v in (64.0 - 3.0**2, 2.0, 8.0, 8.0)))
    assert found[0] == pytest.approx(64 - 1)
