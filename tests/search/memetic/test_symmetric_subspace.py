"""Symmetric packings: held to a line, found soon, and released."""

from __future__ import annotations

import csv
from copy import deepcopy
from importlib.resources import files

import numpy as np
import pytest

from packer.deadline import NEVER
from packer.local_solver.solver import LocalSolver
from packer.model.figure import Figure, Flap, River
from packer.model.problem import pose
from packer.model.sheet import Sheet
from packer.search.memetic.duplicates import known_packings
from packer.search.memetic.memetic_params import MemeticParams
from packer.search.memetic.run import SearchGoal, _step, advance, begin, source_of, stepped
from packer.search.memetic.symmetric_subspace import (
    SymmetricSearch,
    SymmetricSolver,
    _next_batch,
    applies,
    symmetric_starts,
)

PARAMS = MemeticParams()
IMAGES = {
    "upright": lambda p: np.column_stack([1 - p[:, 0], p[:, 1]]),
    "level": lambda p: np.column_stack([p[:, 0], 1 - p[:, 1]]),
    "rising": lambda p: p[:, ::-1],
    "falling": lambda p: 1 - p[:, ::-1],
}


def star(count, sheet=None, **flap):
    return pose(
        Figure("star", tuple(Flap(f"f{k}", "hub", 1.0, **flap) for k in range(count))), sheet
    )


def in_order(points):
    return np.array(sorted(np.round(points, 9).tolist()))


def is_mirrored(points, image):
    return in_order(points) == pytest.approx(in_order(image(points)), abs=2e-9)


@pytest.mark.parametrize("count", [5, 12, 31])
@pytest.mark.parametrize("seed", range(6))
def test_any_points_are_folded_onto_a_line(count, seed):
    rng = np.random.default_rng(seed)
    solver = SymmetricSolver(star(count), PARAMS)
    start = solver.start_point(rng.random((count, 2)), rng)
    points = solver.points(start)
    line, single = start.choice
    assert is_mirrored(points, IMAGES["rising" if line else "upright"])
    off = points[:, 1] - points[:, 0] if line else points[:, 0] - 0.5
    assert (np.abs(off) < 1e-9).sum() == single
    assert len(points) == count


@pytest.mark.parametrize("line", ["upright", "rising"])
@pytest.mark.parametrize("seed", range(4))
def test_points_that_mirror_themselves_are_left_where_they_are(line, seed):
    """Nine pairs away from the line and four tips on it."""
    rng = np.random.default_rng(seed)
    along, away = rng.random(9), 0.2 + 0.2 * rng.random(9)
    if line == "upright":
        half = np.column_stack([0.5 - away, along])
        alone = np.column_stack([np.full(4, 0.5), rng.random(4)])
    else:
        along = 0.3 + 0.4 * along
        half = np.column_stack([along - away / 2, along + away / 2])
        alone = np.repeat(rng.random((4, 1)), 2, axis=1)
    whole = rng.permutation(np.vstack([half, IMAGES[line](half), alone]))
    solver = SymmetricSolver(star(22), PARAMS)
    start = solver.start_point(whole, rng)
    assert start.choice == (int(line == "rising"), 4)
    assert in_order(solver.points(start)) == pytest.approx(in_order(whole), abs=2e-9)


def test_a_tip_moved_across_the_line_takes_its_image_along():
    """One side has one tip more then: of those one is left out, and the others are mirrored."""
    rng = np.random.default_rng(3)
    half = np.column_stack([0.05 + 0.3 * rng.random(8), rng.random(8)])
    whole = np.vstack([half, IMAGES["upright"](half)])
    whole[8] = (0.2, 0.5)
    solver = SymmetricSolver(star(16), PARAMS)
    points = solver.points(solver.start_point(whole, rng))
    assert is_mirrored(points, IMAGES["upright"])
    left = in_order(points[points[:, 0] < 0.5]).tolist()
    assert sum(place in in_order(whole[:9]).tolist() for place in left) == 8


def test_on_a_rectangle_the_line_is_upright():
    rng = np.random.default_rng(0)
    solver = SymmetricSolver(star(12, Sheet(2.0, 1.0)), PARAMS)
    lines = {solver.start_point(rng.random((12, 2)) * (2, 1), rng).choice[0] for _ in range(20)}
    assert lines == {0}


def test_flaps_that_differ_or_are_bound_are_not_paired():
    assert applies(star(12))
    assert applies(star(12, Sheet(2.0, 1.0)))
    flaps = tuple(Flap(f"f{k}", "hub", 1.0) for k in range(12))
    longer = (*flaps[:-1], Flap("long", "hub", 2.0))
    bound = (*flaps[:-1], Flap("bound", "hub", 1.0, place=("corner",)))
    far = (*flaps, Flap("g", "rump", 1.0), Flap("h", "rump", 1.0))
    for figure in (
        Figure("longer", longer),
        Figure("bound", bound),
        Figure("corners", tuple(Flap(f"f{k}", "hub", 1.0, place=("edge",)) for k in range(12))),
        Figure("flex", flaps).with_flex(0.1),
        Figure("rump", far, (River("back", ("hub", "rump"), 1.0),)),
        Figure("book", flaps, symmetry="book"),
    ):
        assert not applies(pose(figure)), figure.name


def published(count):
    """Greatest least distance of so many points, from the table by E. Specht (see its header)."""
    text = files("packer.bounds").joinpath("points_in_square.csv").read_text("utf-8")
    rows = csv.DictReader(line for line in text.splitlines() if not line.startswith("#"))
    return next(float(row["max_min_distance"]) for row in rows if int(row["n"]) == count)


def stages(problem, seed=0):
    """The search at the end of each stage, its next stage, and the start points it releases."""
    rng, solver, search = np.random.default_rng(seed), LocalSolver(problem), SymmetricSearch()
    while not search.spent:
        # the last batch of a stage is made with the same numbers once more: it may change packings
        end, _ = _next_batch(problem, search, 0.0, PARAMS, deepcopy(rng))
        search, starts, _ = symmetric_starts(solver, search, 0.0, PARAMS, rng)
        if starts:
            yield end, search, starts


@pytest.mark.parametrize("count", [20, 34])
def test_best_known_packings_that_mirror_themselves_are_found(count):
    """Those of 20 and 34 points do, as one sees from their pictures."""
    problem = star(count)
    solver = LocalSolver(problem)
    optima = [one for *_, starts in stages(problem) for one in solver.solve(starts)]
    best = max(optimum.scale for optimum in optima)
    assert best == pytest.approx(published(count) / 2, rel=1e-9)
    assert {optimum.choice for optimum in optima} == {(0,) * count}


def test_all_come_to_have_the_line_of_the_best():
    problem = star(24)
    (free, second, _), (held, end, _) = stages(problem)
    assert free.line is None
    assert len({optimum.choice for optimum in free.population}) > 1
    line = free.population[0].choice
    assert second.line == held.line == line
    kept = [optimum.scale for optimum in free.population if optimum.choice == line]
    assert [optimum.scale for optimum in second.population] == kept
    assert len(kept) < len(free.population)
    assert held.population[0].scale >= free.population[0].scale * (1 - 1e-9)
    for optimum in held.population:
        assert optimum.choice == (0,) * 24
    assert end.spent


def test_what_is_released_lies_near_to_where_it_was_held():
    """Each packing once, each tip moved by noise alone: five deviations in none of 48 numbers."""
    problem = star(24)
    solver, held = LocalSolver(problem), SymmetricSolver(problem, PARAMS)
    end, _, starts = next(stages(problem, 1))
    noise = PARAMS.symmetric.noise / np.sqrt(24)
    off = np.array(
        [
            solver.points(start) - held.points(optimum)
            for start, optimum in zip(starts, end.population, strict=True)
        ]
    )
    assert 0 < np.abs(off).max() < 5 * noise
    # a tip on an edge goes no further, so that half of its noise is lost
    assert 0.6 * noise < off.std() < noise


def test_both_images_of_a_held_tip_are_held():
    """Of two mirror images of a path the program keeps one."""
    problem = star(20)
    mirrored, *_ = next(stages(problem))
    solver = SymmetricSolver(problem, PARAMS)
    known = known_packings(solver, mirrored.population, 0.4)
    for optimum, points, held in zip(
        mirrored.population, known.points, known.held, strict=True
    ):
        away = np.hypot(*(points[:, None] - points).transpose(2, 0, 1)) + np.eye(20)
        touching = away.min(axis=1) < 2 * optimum.scale * (1 + 1e-7)
        assert (held == touching).all()


def test_an_epoch_begins_from_them_and_holds_free_packings_alone():
    problem = star(20)
    goal, solver, run, kinds = SearchGoal(problem), LocalSolver(problem), begin(0, 0), []
    while run.epoch < 3:
        assert {optimum.choice for optimum in (*run.population, *run.elite)} <= {(0,) * 20}
        if source_of(problem, run.epoch, PARAMS) == "symmetric":
            line = run.symmetric.line
            kinds.append("spent" if run.symmetric.spent else "free" if line is None else "held")
        run = _step(goal, solver, run)
    turns = [kind for k, kind in enumerate(kinds) if kinds[k - 1 : k] != [kind]]
    assert turns == ["free", "held", "spent"]
    assert len(run.elite) >= 2
    assert run.best.scale <= published(20) / 2 * (1 + 1e-9)


def test_legs_do_not_change_where_a_run_among_them_goes():
    goal = SearchGoal(star(12))
    short, long = begin(5, 0), advance(goal, begin(5, 0), NEVER)
    assert long.done
    while not short.done:
        short = stepped(goal, short)
    assert short.solves == long.solves
    assert short.best.scale == long.best.scale
