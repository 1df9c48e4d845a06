"""Packings whose best scale is published or proven.

Squares: the proven rows of the table of points in a square that lies beside the bounds (its head
names the proofs). Rectangles and bases: each test names its proof.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from packer.bounds.point_spread import proven_spreads
from packer.model.figure import Figure, Flap, River
from packer.model.sheet import Sheet
from packer.model.tree import tree_of
from packer.search.options import SearchOptions
from packer.search.pack import pack
from packer.search.stopping import MaxStarts
from tests.strategies import random_figure


def star(*lengths):
    return Figure(
        "star", tuple(Flap(f"f{k}", "hub", length) for k, length in enumerate(lengths))
    )


@pytest.mark.parametrize("n", range(2, 21))
def test_equal_stars_reach_the_proven_optimum(n):
    # n unit flaps on one joint: the scale is half the largest least distance of n points
    scale = pack(star(*[1.0] * n), options=SearchOptions(workers=1)).scale
    assert scale == pytest.approx(proven_spreads()[n] / 2, rel=1e-9)


@pytest.mark.slow
def test_thirty_equal_flaps_reach_the_proven_optimum():
    # Markot and Csendes 2005 proved n = 28, 29, 30
    assert pack(star(*[1.0] * 30)).scale == pytest.approx(proven_spreads()[30] / 2, rel=1e-9)


def test_two_flaps_take_the_diagonal():
    figure = Figure(
        "rod", (Flap("a", "j", 1.0), Flap("b", "k", 2.0)), (River("r", ("j", "k"), 0.5),)
    )
    assert pack(figure, Sheet(2, 1)).scale == pytest.approx(math.sqrt(5) / 3.5, rel=1e-12)


@pytest.mark.parametrize(("n", "fit"), [(3, 1.0), (4, 0.7), (6, 0.4), (9, 1.0), (12, 0.2)])
def test_equal_flaps_on_a_strip_zigzag(n, fit):
    # Where H <= sqrt 3 W / (n - 1) the best is the zigzag between the long edges: neighbours in
    # x are at most sqrt(H^2 + (W / (n - 1))^2) apart, and the zigzag attains it.
    width = 3.0
    height = fit * math.sqrt(3) * width / (n - 1)
    scale = pack(star(*[1.0] * n), Sheet(width, height), options=SearchOptions(workers=1)).scale
    assert scale == pytest.approx(math.hypot(height, width / (n - 1)) / 2, rel=1e-9)


ROOT = math.sqrt(2)
BASES = {
    # the flaps of the four classic bases, as tangent lengths of the triangles they are made of,
    # in sides of the square; the diagonal or the spread of their equal flaps proves scale 1
    "kite": [1, ROOT - 1],
    "fish": [ROOT / 2] * 2 + [1 - ROOT / 2] * 2,
    "bird": [0.5] * 4 + [(ROOT - 1) / 2],
    "frog": [ROOT / 4] * 5 + [(2 - ROOT) / 4] * 4,
}


@pytest.mark.parametrize("name", BASES)
def test_classic_bases_have_scale_one(name):
    assert pack(star(*BASES[name]), options=SearchOptions(workers=1)).scale == pytest.approx(
        1, rel=1e-9
    )


def test_a_very_thin_sheet_takes_the_shortest_walk_through_the_tips():
    # A closed walk round the tree is 2 L long, and cut at the longest path D it visits every tip
    # within 2 L - D; no order of the tips is shorter. In that order they fit on a line. On a sheet
    # of height H neighbours along x may come closer than s d by H at most, since
    # sqrt(a^2 - H^2) >= a - H: so 1 <= s (2 L - D) <= 1 + (n - 1) H.
    figure = random_figure(5, 6, joints=3)
    tree = tree_of(figure)
    total, longest = float(tree.lengths.sum()), float(tree.distances.max())
    height = 0.01
    scale = pack(
        figure, Sheet(1, height), options=SearchOptions(stop=MaxStarts(2), workers=1)
    ).scale
    assert 1 - 1e-9 <= scale * (2 * total - longest) <= 1 + (tree.n_tips - 1) * height


@pytest.mark.parametrize("seed", range(3))
def test_lower_bounds_that_every_optimum_meets(seed):
    # line: all tips on the diagonal in the order of a closed walk, cut at the longest path;
    # area: circles of total area pi / (3 + 2 sqrt 2) fit into a unit square (Fekete, Morr and
    # Scheffer, Discrete Comput. Geom. 61, 2019), with radii measured from any point of the tree
    packing = pack(
        random_figure(seed, 6 + seed, joints=3),
        options=SearchOptions(stop=MaxStarts(1), workers=1),
    )
    tree = packing.tree
    line = ROOT / (2 * tree.lengths.sum() - tree.distances.max())
    area = max(
        (ROOT - 1) / math.sqrt((np.array(far) ** 2).sum()) for far in _from_each_joint(tree)
    )
    assert packing.scale >= max(line, area)


def _from_each_joint(tree):
    """Distances of all tips from each joint, by walking; a plain reference of the tree's own."""
    for joint in range(tree.n_tips, tree.n_nodes):
        far, todo = {joint: 0.0}, [joint]
        while todo:
            node = todo.pop()
            for other, edge in tree.neighbours[node]:
                if other not in far:
                    far[other] = far[node] + tree.lengths[edge]
                    todo.append(other)
        yield [far[tip] for tip in range(tree.n_tips)]
