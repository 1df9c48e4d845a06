"""Walks: when a brood loses patience, and how many packings it holds."""

from __future__ import annotations

import pytest

from packer.local_solver.solver import LocalSolver
from packer.model.figure import Figure, Flap, River
from packer.model.problem import pose
from packer.search.memetic.population import size_of
from packer.search.memetic.run import SearchGoal, _batch, begin, source_of
from tests.strategies import random_figure


@pytest.mark.parametrize("seed", range(3))
def test_no_patience_is_spent_on_fresh_ascents(seed):
    """Else a brood whose best fresh ascent came early could end before its first move."""
    problem = pose(random_figure(seed, 20, joints=5))
    quest, shop, walk = SearchGoal(problem), LocalSolver(problem), begin(seed, 0)
    while walk.clutch is None or walk.hatched < len(walk.clutch.start_points):
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
    quest, shop, size = SearchGoal(problem), LocalSolver(problem), size_of(problem.tree)
    walk, most = begin(0, 0), 0
    while walk.solves < 2.5 * size:
        walk = _batch(quest, shop, walk)
        most = max(most, len(walk.spots))
        assert len(walk.spots) <= size
    assert size - 3 <= most
    assert size == (16 if tips == 10 else 32)


@pytest.mark.parametrize("brood", [0, 1, 2, 3])
def test_sources_take_turns_and_clutches_want_many_free_flaps(brood):
    free = pose(random_figure(1, 14, joints=4))
    assert (source_of(free, brood) == "clutch") == (brood % 2 == 0)
    wide = pose(random_figure(1, 80, joints=20))
    assert source_of(wide, brood) == ("clutch" if brood < 2 else "elders")
    equal = pose(Figure("star", tuple(Flap(f"f{k}", "hub", 1.0) for k in range(14))))
    assert (source_of(equal, brood) == "clutch") == (brood % 4 == 0)
    assert (source_of(equal, brood) == "mirrored") == (brood % 4 == 1)
    assert source_of(equal, 8) == "elders"
    few = pose(random_figure(1, 8, joints=3))
    pairs = tuple(
        Flap(f"leg {k}", "hub" if k < 5 else "rump", 1.0, pair=True) for k in range(9)
    )
    twins = pose(Figure("louse", pairs, (River("back", ("hub", "rump"), 1.0),), "book"))
    assert twins.tree.n_tips == 18
    assert not any(source_of(problem, brood) == "clutch" for problem in (few, twins))


def test_a_walk_breeds_hatches_and_then_moves():
    problem = pose(random_figure(2, 14, joints=4))
    quest, shop, walk, seen = SearchGoal(problem), LocalSolver(problem), begin(0, 0), []
    while walk.broods < 2:
        walk = _batch(quest, shop, walk)
        clutch = walk.clutch
        state = (
            "none" if clutch is None
            else "breeding" if walk.hatched == 0
            else "hatching" if walk.hatched < len(clutch.start_points)
            else "hatched"
        )  # fmt: skip
        if seen[-1:] != [(walk.broods, state)]:
            seen.append((walk.broods, state))
        if state == "breeding":
            assert walk.best.scale * 1.5 <= clutch.aim * 1.02 * (1 + 1e-12)
    assert seen == [
        (0, "none"), (0, "breeding"), (0, "hatching"), (0, "hatched"), (1, "none"), (2, "none"),
    ]  # fmt: skip
