"""Growing subsets of tips: each packing holds by itself, and pairs of twins stay together."""

from __future__ import annotations

import math

import numpy as np
import pytest

from packer.bounds.subset_growth import SubsetGrowth
from packer.bounds.work_budget import WorkBudget
from packer.deadline import Deadline
from packer.model.figure import Figure, Flap
from packer.model.problem import pose
from tests.strategies import random_figure


def growth_for(seed, best=None):
    symmetry = ["none", "book", "diagonal"][seed % 3]
    problem = pose(random_figure(seed, 6, joints=2, symmetry=symmetry, pairs=True))
    return SubsetGrowth(problem, best, WorkBudget(1e9))


def least_ratio(subset):
    """The scale of a subset's packing, recomputed from its points pair by pair."""
    d, p = subset.problem.tree.distances, subset.points
    i, j = np.triu_indices(len(p), 1)
    return float((np.hypot(*(p[i] - p[j]).T) / d[i, j]).min())


@pytest.mark.parametrize("seed", range(3))
def test_subsets_grow_until_all_tips_are_in(seed):
    """Mirror images join together, every packing is as large as it says, work is paid for."""
    growth = growth_for(seed)
    subset, mirror = growth.first(), growth.problem.mirror
    count = growth.problem.tree.n_tips
    while subset is not None:
        assert {int(mirror[tip]) for tip in subset.tips} == set(subset.tips)
        assert least_ratio(subset) >= subset.scale * (1 - 1e-9)
        last, subset = subset, growth.grown(subset)
        assert subset is None or set(last.tips) < set(subset.tips)
    assert last.tips == tuple(range(count))
    assert growth.budget.boxes < 1e9


def test_two_tips_are_as_far_apart_as_the_sheet_allows():
    """The optimum of two points is the diagonal: scale sqrt 2 / distance."""
    problem = pose(Figure("two", (Flap("a", "hub", 1.0), Flap("b", "hub", 2.0))))
    growth = SubsetGrowth(problem, None, WorkBudget(1e9))
    assert growth.first().scale == pytest.approx(math.sqrt(2) / 3, rel=1e-5)


def test_a_known_packing_is_a_start():
    """Of all tips, a good packing known before is never lost."""
    growth = growth_for(0)
    everything = tuple(range(growth.problem.tree.n_tips))
    known = growth.solve(everything, [], fresh=12)
    growth.best = known.points
    again = growth.solve(everything, [], fresh=1)
    assert again.scale >= known.scale * (1 - 1e-6)


def test_looking_again_and_improving_never_lose():
    growth = growth_for(1)
    subset = growth.grown(growth.first())
    assert growth.second_look(subset).scale >= subset.scale * (1 - 1e-6)
    z = subset.program.variables(subset.points)
    assert growth.improved(subset, z, 0.0).scale >= subset.scale
    assert growth.improved(subset, z, 9.0).scale == 9.0


def test_few_tips_are_taken_all_at_once():
    few = pose(random_figure(3, 5))
    assert [s.tips for s in SubsetGrowth(few, None, WorkBudget(1e9)).whole()] == [
        (0, 1, 2, 3, 4)
    ]
    many = pose(random_figure(3, 14))
    assert SubsetGrowth(many, None, WorkBudget(1e9)).whole() == []


def test_no_work_is_begun_where_the_budget_is_used_up():
    growth = growth_for(0)
    first = growth.first()
    growth.budget = WorkBudget(deadline=Deadline.after(-1.0))
    assert growth.grown(first) is None
