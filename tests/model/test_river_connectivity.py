"""Split rivers: by hand, and against a plain flood fill."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from packer.files.figure_toml import read_figure
from packer.local_solver.nonlinear_program import compile_program
from packer.model.figure import Figure, Flap, River
from packer.model.problem import pose
from packer.model.river_connectivity import neighbours, river_sides, split_rivers, splits
from packer.search.memetic.run import SearchGoal, begin, stepped
from packer.search.options import SearchOptions
from packer.search.pack import pack
from packer.search.stopping import MaxStarts
from tests.conftest import SAMPLES
from tests.strategies import random_figure


def two_by_two():
    flaps = [Flap(name, joint, 1) for name, joint in zip("abcd", "xxyy", strict=True)]
    return pose(Figure("two by two", tuple(flaps), (River("body", ("x", "y"), 0.5),)))


def test_a_river_between_two_pairs_side_by_side_is_whole():
    assert split_rivers(two_by_two(), [(0, 0), (0, 1), (1, 0.1), (1, 0.9)]) == ()


def test_a_river_whose_sides_lie_across_each_other_is_split():
    # c and d lie closer together: the paper joins them, and a and b are cut off from each other
    assert split_rivers(two_by_two(), [(0, 0), (1, 1), (0.4, 0.6), (0.6, 0.4)]) == ("body",)


def test_four_tips_on_one_circle_may_be_joined_either_way():
    square = np.array([(0, 0), (1, 1), (1, 0), (0, 1)], float)
    assert split_rivers(two_by_two(), square) == ()
    a, b = neighbours(square)
    assert {frozenset(pair) for pair in zip(a.tolist(), b.tolist(), strict=True)} == {
        frozenset((i, j)) for i in range(4) for j in range(i)
    }


def test_tips_on_one_line_are_joined_in_their_order():
    line = np.c_[[0.0, 0.1, 0.2, 0.3], np.zeros(4)]
    assert split_rivers(two_by_two(), line) == ()
    assert split_rivers(two_by_two(), line[[0, 3, 1, 2]]) == ("body",)


@given(st.integers(0, 10**6), st.integers(4, 25))
def test_counts_agree_with_a_flood_fill(seed, n):
    problem = pose(random_figure(seed, n))
    points = np.random.default_rng(seed).random((problem.tree.n_tips, 2))
    a, b = neighbours(points)
    sides = river_sides(problem)
    for side, count in zip(sides, splits(sides, points), strict=True):
        assert count == _parts(side, a, b) - 2


def _parts(side, a, b):
    left, parts = set(range(len(side))), 0
    joined = {k: set() for k in left}
    for i, j in zip(a.tolist(), b.tolist(), strict=True):
        if side[i] == side[j]:
            joined[i].add(j)
            joined[j].add(i)
    while left:
        todo, parts = [left.pop()], parts + 1
        while todo:
            for k in joined[todo.pop()] & left:
                left.discard(k)
                todo.append(k)
    return parts


@pytest.mark.parametrize("n", [3, 9, 60])
def test_mirroring_and_turning_change_nothing(n):
    problem = pose(random_figure(7, n, joints=max(1, n // 3)))
    points = np.random.default_rng(1).random((problem.tree.n_tips, 2))
    here = split_rivers(problem, points)
    assert split_rivers(problem, 1 - points[:, ::-1]) == here
    assert split_rivers(problem, points * [-1, 1]) == here


def test_a_population_knows_the_strands_of_all_its_packings():
    # a solve that is given up below the value to beat must not join as one without any
    problem = pose(read_figure(SAMPLES / "goby.toml"))
    goal, run = SearchGoal(problem, whole_rivers=True), begin(0, 0)
    for _ in range(40):
        run = stepped(goal, run)
    counts = [
        splits(
            river_sides(problem), compile_program(problem, optimum.choice).tips(optimum.z)
        ).sum()
        for optimum in run.population
    ]
    assert [optimum.splits for optimum in run.population] == counts
    assert sorted(counts) == counts


def test_a_river_that_placing_rattlers_makes_whole_is_found():
    # every packing that a start knows has a strand too many here, until its loose tips are placed
    packing = pack(
        pose(read_figure(SAMPLES / "goby.toml")),
        options=SearchOptions(stop=MaxStarts(1), workers=1),
        whole_rivers=True,
    )
    assert split_rivers(packing.problem, packing.points) == packing.split_rivers == ()
