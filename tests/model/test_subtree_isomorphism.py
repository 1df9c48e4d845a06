"""Limbs that can be exchanged are told by their shape."""

from __future__ import annotations

import pytest

from packer.bounds.subsets import subproblem
from packer.model.figure import Figure, Flap, River
from packer.model.problem import pose
from packer.model.subtree_isomorphism import centres, limbs_at
from tests.strategies import random_figure


def test_equal_limbs_are_told_by_their_lengths_alone():
    # two limbs of two flaps, one with its river cut in two by a joint that nothing hangs on
    flaps = tuple(Flap(f"{joint}{k}", joint, 1.0) for joint in "xy" for k in range(2))
    flaps += (Flap("head", "hub", 1.0), Flap("spur", "m", 1.0))
    rivers = (
        River("r", ("hub", "x"), 1.0),
        River("s", ("hub", "m"), 0.4),
        River("t", ("m", "y"), 0.6),
    )
    problem = pose(Figure("limbs", flaps, rivers))
    rest = tuple(k for k, name in enumerate(problem.tree.flaps) if name != "spur")
    small = subproblem(problem, rest)
    (centre,) = centres(small)
    shapes = [limb.shape for limb in limbs_at(small, centre) if limb.limbs]
    assert len(shapes) == 2
    assert shapes[0] == shapes[1]


def test_a_placement_tells_flaps_apart():
    flaps = (Flap("a", "x", 1.0), Flap("b", "x", 1.0, place=("left",)), Flap("c", "x", 1.0))
    problem = pose(Figure("three", flaps))
    limbs = limbs_at(problem, *centres(problem))
    assert len({limb.shape for limb in limbs}) == 2


def test_a_tree_that_is_the_same_from_both_ends_has_two_centres():
    flaps = tuple(Flap(name, joint, 1.0) for name, joint in zip("abcd", "xxyy", strict=True))
    problem = pose(Figure("two by two", flaps, (River("body", ("x", "y"), 0.5),)))
    one, other = (limbs_at(problem, joint) for joint in centres(problem))
    assert [limb.shape for limb in one] == [limb.shape for limb in other]
    assert {limb.tips for limb in one} != {limb.tips for limb in other}


@pytest.mark.parametrize("seed", range(20))
def test_a_centre_is_its_own_mirror_image(seed):
    """Whatever the figure: the middle of the longest path lies on the axis."""
    figure = random_figure(seed, 9, symmetry="book", pairs=True, joints=4)
    problem = pose(figure)
    tree = problem.tree
    for joint in centres(problem):
        edges = {edge for _, edge in tree.neighbours[joint]}
        assert {int(tree.twin[edge]) for edge in edges} == edges


def test_of_mirrored_limbs_the_left_one_stands_for_both():
    flaps = (Flap("claw", "shoulder", 1.0, pair=True), Flap("tail", "shoulder", 1.0))
    problem = pose(Figure("crab", flaps, symmetry="book"))
    limbs = limbs_at(problem, *centres(problem))
    assert [(limb.tips, limb.paired) for limb in limbs] == [((2,), False), ((0,), True)]
