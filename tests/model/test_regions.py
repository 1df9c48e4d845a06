"""Discs and rivers as regions: disjoint, within the sheet, of the areas that geometry says."""

from __future__ import annotations

import math

import pytest
import shapely
from hypothesis import assume, given, settings

from packer.model.figure import Figure, Flap, River
from packer.model.packing import Packing
from packer.model.problem import pose
from packer.model.regions import efficiency, paper_taken, regions, sheet_region
from tests.strategies import packings

CHORDS = 1e-3
"""Share by which the area of a disc of chords may differ; 64 chords a quarter give 1e-4."""


@settings(max_examples=60)
@given(packings(max_flaps=9))
def test_discs_and_rivers_never_overlap_and_stay_on_the_sheet(packing):
    assume(packing.scale > 0)
    tree = packing.tree
    for root in {tree.n_tips, tree.n_nodes - 1}:
        parts = list(regions(packing, root).values())
        whole = shapely.union_all(parts)
        assert sum(part.area for part in parts) == pytest.approx(whole.area, rel=1e-6)
        assert whole.difference(sheet_region(packing)).area == pytest.approx(0, abs=1e-12)


def test_four_quarter_discs():
    """Four equal flaps in the corners take pi / 4 of the square."""
    figure = Figure("star", tuple(Flap(name, "j", 1) for name in "abcd"))
    packing = Packing(pose(figure), ((0, 0), (1, 0), (1, 1), (0, 1)))
    assert paper_taken(packing) == pytest.approx(
        dict.fromkeys("abcd", math.pi / 16), rel=CHORDS
    )
    assert efficiency(packing) == pytest.approx(math.pi / 4, rel=CHORDS)


def test_a_river_is_a_band_of_its_width():
    """A flap in a corner, then a river, then two flaps: a quarter of a ring."""
    figure = Figure(
        "line",
        (Flap("a", "j", 1), Flap("b", "k", 2), Flap("c", "k", 2)),
        (River("r", ("j", "k"), 0.5),),
    )
    packing = Packing(pose(figure), ((0, 0), (1, 0.95), (0.95, 1)))
    k = packing.tree.n_tips + packing.tree.joints.index("k")
    m = packing.scale
    ring = regions(packing, k)["r"]
    assert ring.area == pytest.approx(math.pi / 4 * (1.5**2 - 1) * m**2, rel=CHORDS)
    # seen from the other side, the same width around both other discs
    packing = Packing(pose(figure), ((0, 0), (0.6, 0.6), (0.6, 0.5)))
    m = packing.scale
    j = packing.tree.n_tips + packing.tree.joints.index("j")
    far = regions(packing, j)
    pair = shapely.union_all([far["b"], far["c"]])
    outer = shapely.union_all([pair, far["r"]])
    rim = shapely.distance(shapely.points(shapely.get_coordinates(outer)), pair)
    assert (rim.min(), rim.max()) == pytest.approx((0.5 * m, 0.5 * m), rel=2 * CHORDS)
