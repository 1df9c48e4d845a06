"""Walks: when a brood loses patience, and how many packings it holds."""

from __future__ import annotations

import pytest

from packer.problem import pose
from packer.search.climbing import Workshop
from packer.search.population import Quest, _batch, begin, fresh_of, size_of
from tests.strategies import random_figure


@pytest.mark.parametrize("seed", range(3))
def test_no_patience_is_spent_on_fresh_ascents(seed):
    """Else a brood whose best fresh ascent came early could end before its first move."""
    problem = pose(random_figure(seed, 20, joints=5))
    quest, shop, walk = Quest(problem), Workshop(problem), begin(seed, 0)
    while walk.fresh < fresh_of(20):
        walk = _batch(quest, shop, walk)
        assert walk.failures == 0
    for _ in range(6):
        after = _batch(quest, shop, walk)
        better = after.best.scale > walk.best.scale * (1 + 1e-9)
        assert (after.failures == 0) == better
        walk = after


@pytest.mark.parametrize("tips", [10, 80])
def test_a_population_holds_so_many_packings_at_most(tips):
    problem = pose(random_figure(1, tips, joints=tips // 3))
    quest, shop, size = Quest(problem), Workshop(problem), size_of(problem.tree)
    walk, most = begin(0, 0), 0
    while walk.ascents < 1.3 * size:
        walk = _batch(quest, shop, walk)
        most = max(most, len(walk.spots))
        assert len(walk.spots) <= size
    assert size - 3 <= most
    assert size == (16 if tips == 10 else 32)
