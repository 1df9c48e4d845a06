"""Laws of the problem that every search must respect, on random figures.

Each compares two problems whose best scales are related; since a search may stop short of the
best, figures are small and the starts enough for both to be found.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packer.model.figure import Figure, Flap, River
from packer.model.packing import Packing
from packer.model.problem import pose
from packer.model.sheet import Sheet
from packer.search.options import SearchOptions
from packer.search.pack import pack
from packer.search.stopping import MaxStarts
from tests.strategies import figures, problems, random_figure

small = st.builds(
    random_figure, st.integers(0, 10_000), st.integers(3, 4), joints=st.integers(1, 3)
)

ONE_START = SearchOptions(stop=MaxStarts(1), workers=1)


def best(figure, sheet=None, symmetry=None, starts=1):
    return pack(
        figure, sheet, symmetry, options=SearchOptions(stop=MaxStarts(starts), workers=1)
    ).scale


@settings(max_examples=6)
@given(problems(max_flaps=5))
def test_every_packing_is_one(problem):
    packing = pack(problem, options=ONE_START)
    assert packing.violations() == []
    assert packing.scale > 0


@settings(max_examples=3)
@given(small, st.sampled_from([0.1, 2.0, 300.0]))
def test_scale_grows_with_the_sheet_and_shrinks_with_the_figure(figure, factor):
    scale = best(figure)
    assert best(figure, Sheet(factor, factor)) == pytest.approx(factor * scale, rel=1e-8)
    assert best(_stretched(figure, factor)) == pytest.approx(scale / factor, rel=1e-8)


@settings(max_examples=3)
@given(small)
def test_order_and_orientation_do_not_matter(figure):
    scale = best(figure, Sheet(2, 1))
    assert best(figure, Sheet(1, 2)) == pytest.approx(scale, rel=1e-8)
    backward = replace(figure, flaps=figure.flaps[::-1], rivers=figure.rivers[::-1])
    assert best(backward, Sheet(2, 1)) == pytest.approx(scale, rel=1e-8)


@settings(max_examples=3)
@given(small)
def test_a_joint_of_two_changes_nothing(figure):
    # a flap cut in two by a joint is a river and a flap with the same distances
    flap = figure.flaps[0]
    longer = replace(
        figure,
        flaps=(replace(flap, joint="extra", length=flap.length / 4), *figure.flaps[1:]),
        rivers=(*figure.rivers, River("half", (flap.joint, "extra"), flap.length * 3 / 4)),
    )
    assert best(longer) == pytest.approx(best(figure), rel=1e-8)


@settings(max_examples=3)
@given(small)
def test_more_paper_never_hurts_and_more_figure_never_helps(figure):
    scale = best(figure)
    room = 1 + 1e-9
    assert best(figure, Sheet(1.2, 1.1)) * room >= scale
    more = replace(figure, flaps=(*figure.flaps, Flap("more", figure.flaps[0].joint, 0.5)))
    assert best(more) <= scale * room
    first = figure.flaps[0]
    longer = replace(
        figure, flaps=(replace(first, length=1.3 * first.length), *figure.flaps[1:])
    )
    assert best(longer) <= scale * room


@settings(max_examples=4)
@given(figures(max_flaps=3, symmetry="none"), st.sampled_from(["book", "diagonal"]))
def test_a_symmetry_never_helps(figure, symmetry):
    free = best(figure, starts=2)
    assert best(figure, symmetry=symmetry) <= free * (1 + 1e-9)


@settings(max_examples=4)
@given(problems(max_flaps=5, places=False))
def test_the_left_twin_lies_on_the_left(problem):
    packing = pack(problem, options=ONE_START)
    tree = packing.tree
    for tip, twin in enumerate(tree.twin[: tree.n_tips]):
        if twin > tip and _alone(problem, tip):
            (x, y), (u, v) = packing.tips[tip], packing.tips[twin]
            assert (x - y <= u - v) if problem.symmetry == "diagonal" else (x <= u)


def test_the_same_tree_metric_has_the_same_scale():
    # distances 2 within and 4 across, once with unit flaps and once with flaps of 1 on long rivers
    two = Figure(
        "two",
        tuple(Flap(f"f{k}", "ab"[k % 2], 1.0) for k in range(6)),
        (River("r", ("a", "b"), 2.0),),
    )
    three = replace(two, rivers=(River("r", ("a", "c"), 1.5), River("s", ("c", "b"), 0.5)))
    assert np.array_equal(pose(two).tree.distances, pose(three).tree.distances)
    assert best(two) == pytest.approx(best(three), rel=1e-9)


def test_a_mirrored_packing_is_as_good():
    packing = pack(random_figure(3, 5), options=ONE_START)
    mirrored = tuple((1 - x, y) for x, y in packing.tips)
    assert Packing(packing.problem, mirrored).scale == pytest.approx(packing.scale, rel=1e-12)


def _stretched(figure, factor):
    return replace(
        figure,
        flaps=tuple(replace(f, length=f.length * factor) for f in figure.flaps),
        rivers=tuple(replace(r, length=r.length * factor) for r in figure.rivers),
    )


def _alone(problem, tip):
    """Whether a twin is a limb by itself: larger limbs are named by the sum of their tips."""
    tree = problem.tree
    joint = tree.ends[tip, 1]
    edges = {edge for _, edge in tree.neighbours[joint]}
    return int(tree.twin[tip]) in edges
