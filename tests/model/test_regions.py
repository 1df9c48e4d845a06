"""Discs and rivers as regions: disjoint, within the sheet, of the areas that geometry says."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from packer.model import grown_discs
from packer.model import regions as module
from packer.model.figure import Figure, Flap, River
from packer.model.grown_discs import disc_in_box
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


def caterpillar(n):
    """A chain of rivers with a flap at every joint, its tips to and fro across a diagonal."""
    joints = [f"j{min(max(k, 1), n - 2)}" for k in range(n)]
    flaps = tuple(Flap(f"f{k}", joint, 1) for k, joint in enumerate(joints))
    rivers = tuple(River(f"r{k}", (f"j{k}", f"j{k + 1}"), 1) for k in range(1, n - 2))
    along = np.linspace(0.03, 0.97, n)
    across = np.where(np.arange(n) % 2, 0.02, -0.02)
    tips = np.column_stack([along + across, along - across])
    return Packing(pose(Figure("caterpillar", flaps, rivers)), tuple(map(tuple, tips)))


def areas_of(packing):
    module._regions.cache_clear()
    return {name: region.area for name, region in regions(packing).items()}


@settings(max_examples=20)
@given(packings(max_flaps=9))
def test_rivers_grown_out_of_each_other_are_those_of_all_discs(packing):
    """The union of discs is the slow twin; chords and what is left of borders may take 1 %."""
    assume(packing.scale > 0)
    with pytest.MonkeyPatch.context() as patch:
        exact = areas_of(packing)
        patch.setattr(module, "MANY_TIPS", 1)
        grown = areas_of(packing)
        shares = paper_taken(packing)
    around = packing.scale * max(packing.lengths)
    depth = packing.scale * float(packing.distances.max())
    for name, area in exact.items():
        near = pytest.approx(area, rel=0.02, abs=0.02 * depth * around + 1e-12)
        assert grown[name] == near
        assert shares[name] * packing.sheet.area == near
    module._regions.cache_clear()


@given(
    st.floats(-2, 2), st.floats(-2, 2), st.floats(0.01, 3), st.floats(0.1, 3), st.floats(0.1, 3)
)
def test_a_disc_on_a_sheet_is_as_large_as_shapely_cuts_it(x, y, r, width, height):
    """A polygon of 4096 sides is smaller than its circle by 4e-7 of the area."""
    low, high = np.array([[-x, -y]]), np.array([[width - x, height - y]])
    polygon = shapely.Point(x, y).buffer(r, quad_segs=1024)
    cut = shapely.clip_by_rect(polygon, 0, 0, width, height).area
    assert disc_in_box(np.array([r]), low, high)[0] == pytest.approx(cut, abs=1e-5 * r * r)


def test_discs_that_meet_no_other_are_not_outlined(monkeypatch):
    """Of tips in a small scale the outlines beyond each of n rivers had n * n / 4 circles."""
    tips = [(k % 6 / 5, k // 6 / 5) for k in range(35)]
    packing = Packing(
        caterpillar(36).problem, (*tips, (0.01, 0.0))
    )  # the last beside the first
    exact = paper_taken(packing)

    def refused(_):
        raise AssertionError("outlined")

    monkeypatch.setattr(module, "MANY_TIPS", 1)
    monkeypatch.setattr(grown_discs, "_polygons", refused)
    module._shares_of_many.cache_clear()
    assert paper_taken(packing) == pytest.approx(exact, rel=CHORDS)
    module._shares_of_many.cache_clear()


def test_rivers_below_a_width_are_left_out(monkeypatch):
    packing = caterpillar(20)
    width = packing.scale
    for most in (module.MANY_TIPS, 1):
        monkeypatch.setattr(module, "MANY_TIPS", most)
        assert regions(packing, thinnest=0.99 * width).keys() == set(packing.tree.names)
        assert regions(packing, thinnest=1.01 * width).keys() == set(packing.tree.flaps)


def test_of_many_tips_each_river_is_made_from_what_lies_within_it(monkeypatch):
    """Discs of all tips beyond every river would be n * n / 4 of them."""
    drawn = []
    buffer = shapely.buffer

    def counted(shapes, *args, **options):
        drawn.append(np.size(shapes))
        return buffer(shapes, *args, **options)

    monkeypatch.setattr(shapely, "buffer", counted)
    packing = caterpillar(module.MANY_TIPS + 50)
    areas = areas_of(packing)
    assert sum(drawn) <= 3 * len(areas)
    assert 0 < sum(areas.values()) < packing.sheet.area


@given(packings(max_flaps=9))
def test_all_discs_and_rivers_together_are_the_discs_seen_from_one_joint(packing):
    """The areas of all regions, each cut out on its own, add up to that union; shapely measures both."""
    assume(packing.scale > 0)
    apart = sum(areas_of(packing).values()) / packing.sheet.area
    assert efficiency(packing) == pytest.approx(apart, rel=1e-9)
