"""Runs: when an epoch loses patience, and how many packings it holds."""

from __future__ import annotations

import pytest

from packer.errors import OptionError
from packer.local_solver.solver import LocalSolver
from packer.model.figure import Figure, Flap, River
from packer.model.problem import pose
from packer.search.memetic.memetic_params import MemeticParams
from packer.search.memetic.run import SearchGoal, _step, begin, source_of
from tests.strategies import random_figure

PARAMS = MemeticParams()


@pytest.mark.parametrize("seed", range(3))
def test_no_patience_is_spent_on_fresh_starts(seed):
    """Else an epoch whose best fresh start came early could end before its first offspring."""
    problem = pose(random_figure(seed, 20, joints=5))
    goal, solver, run = SearchGoal(problem), LocalSolver(problem), begin(seed, 0)
    while run.relaxed is None or run.released < len(run.relaxed.start_points):
        run = _step(goal, solver, run)
        assert run.failures == 0
    for _ in range(6):
        after = _step(goal, solver, run)
        better = after.best.scale > run.best.scale * (1 + 1e-9)
        assert (after.failures == 0) == better
        run = after


@pytest.mark.parametrize("tips", [10, 55])
def test_a_population_holds_so_many_packings_at_most(tips):
    problem = pose(random_figure(1, tips, joints=tips // 3))
    goal, solver, size = (
        SearchGoal(problem),
        LocalSolver(problem),
        PARAMS.population_for(problem.tree),
    )
    run, most = begin(0, 0), 0
    while run.solves < 2.5 * size:
        run = _step(goal, solver, run)
        most = max(most, len(run.population))
        assert len(run.population) <= size
    assert size - 3 <= most
    assert size == (16 if tips == 10 else 22)


@pytest.mark.parametrize("epoch", [0, 1, 2, 3])
def test_sources_take_turns_and_relaxed_populations_want_many_free_flaps(epoch):
    free = pose(random_figure(1, 14, joints=4))
    assert (source_of(free, epoch, PARAMS) == "relaxed") == (epoch % 2 == 0)
    wide = pose(random_figure(1, 80, joints=20))
    assert source_of(wide, epoch, PARAMS) == ("relaxed" if epoch < 2 else "elite")
    equal = pose(Figure("star", tuple(Flap(f"f{k}", "hub", 1.0) for k in range(14))))
    assert (source_of(equal, epoch, PARAMS) == "relaxed") == (epoch % 4 == 0)
    assert (source_of(equal, epoch, PARAMS) == "symmetric") == (epoch % 4 == 1)
    assert source_of(equal, 8, PARAMS) == "elite"
    few = pose(random_figure(1, 8, joints=3))
    pairs = tuple(
        Flap(f"leg {k}", "hub" if k < 5 else "rump", 1.0, pair=True) for k in range(9)
    )
    twins = pose(Figure("louse", pairs, (River("back", ("hub", "rump"), 1.0),), "book"))
    assert twins.tree.n_tips == 18
    assert not any(source_of(problem, epoch, PARAMS) == "relaxed" for problem in (few, twins))


def test_a_run_evolves_solves_and_then_applies_operators():
    problem = pose(random_figure(2, 14, joints=4))
    goal, solver, run, seen = SearchGoal(problem), LocalSolver(problem), begin(0, 0), []
    while run.epoch < 2:
        run = _step(goal, solver, run)
        relaxed = run.relaxed
        state = (
            "none" if relaxed is None
            else "evolving" if run.released == 0
            else "solving" if run.released < len(relaxed.start_points)
            else "released"
        )  # fmt: skip
        if seen[-1:] != [(run.epoch, state)]:
            seen.append((run.epoch, state))
        if state == "evolving":
            assert run.best.scale * 1.5 <= relaxed.target * 1.02 * (1 + 1e-12)
    assert seen == [
        (0, "none"), (0, "evolving"), (0, "solving"), (0, "released"), (1, "none"), (2, "none"),
    ]  # fmt: skip


@pytest.mark.parametrize("name", ["epochs", "star_cycles", "large_epochs"])
def test_the_last_epoch_has_one_before_it(name):
    with pytest.raises(OptionError, match="write 1 or more"):
        MemeticParams(**{name: 0})
    tree = pose(random_figure(1, 80, joints=20)).tree
    assert MemeticParams(large_from=100).epochs_for(tree) == 1
