"""Mirrored packings: held to a line, found soon, and let go."""

from __future__ import annotations

import csv
from importlib.resources import files

import numpy as np
import pytest

from packer.deadline import NEVER
from packer.local_solver.solver import LocalSolver
from packer.model.figure import Figure, Flap, River
from packer.model.problem import pose
from packer.model.sheet import Sheet
from packer.search.memetic.duplicates import known_packings
from packer.search.memetic.run import SearchGoal, _batch, advance, begin, source_of, stepped
from packer.search.memetic.symmetric_subspace import (
    Folding,
    SymmetricSearch,
    let_go,
    mirrorable,
    narrowed,
    searched,
)

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
    shop = Folding(star(count))
    base = shop.start_point(rng.random((count, 2)), rng)
    points = shop.points(base)
    line, single = base.choice
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
    shop = Folding(star(22))
    base = shop.start_point(whole, rng)
    assert base.choice == (int(line == "rising"), 4)
    assert in_order(shop.points(base)) == pytest.approx(in_order(whole), abs=2e-9)


def test_a_tip_moved_across_the_line_takes_its_image_along():
    """One side has one tip more then: of those one is left out, and the others are mirrored."""
    rng = np.random.default_rng(3)
    half = np.column_stack([0.05 + 0.3 * rng.random(8), rng.random(8)])
    whole = np.vstack([half, IMAGES["upright"](half)])
    whole[8] = (0.2, 0.5)
    shop = Folding(star(16))
    points = shop.points(shop.start_point(whole, rng))
    assert is_mirrored(points, IMAGES["upright"])
    left = in_order(points[points[:, 0] < 0.5]).tolist()
    assert sum(place in in_order(whole[:9]).tolist() for place in left) == 8


def test_on_a_rectangle_the_line_is_upright():
    rng = np.random.default_rng(0)
    shop = Folding(star(12, Sheet(2.0, 1.0)))
    lines = {shop.start_point(rng.random((12, 2)) * (2, 1), rng).choice[0] for _ in range(20)}
    assert lines == {0}


def test_flaps_that_differ_or_are_bound_are_not_paired():
    assert mirrorable(star(12))
    assert mirrorable(star(12, Sheet(2.0, 1.0)))
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
        assert not mirrorable(pose(figure)), figure.name


def published(count):
    """Greatest least distance of so many points, from the table by E. Specht (see its header)."""
    text = files("packer.bounds").joinpath("points_in_square.csv").read_text("utf-8")
    rows = csv.DictReader(line for line in text.splitlines() if not line.startswith("#"))
    return next(float(row["max_min_distance"]) for row in rows if int(row["n"]) == count)


def stages(problem, seed=0):
    """Each of both searches among mirrored packings, and what is climbed to from it at last."""
    rng, shop, mirrored = np.random.default_rng(seed), LocalSolver(problem), SymmetricSearch()
    while not mirrored.spent:
        mirrored, _ = searched(problem, mirrored, 0.0, rng)
        if mirrored.ripe(problem.tree):
            yield mirrored, shop.climb(let_go(shop, mirrored, rng))
            mirrored = narrowed(problem, mirrored)


@pytest.mark.parametrize("count", [20, 34, 52])
def test_best_known_packings_that_mirror_themselves_are_found(count):
    """Those of 20, 34 and 52 points do, as one sees from their pictures."""
    found = [spot for _, freed in stages(star(count)) for spot in freed]
    best = max(spot.scale for spot in found)
    assert best == pytest.approx(published(count) / 2, rel=1e-9)
    assert {spot.choice for spot in found} == {(0,) * count}


def test_all_come_to_have_the_line_of_the_best():
    problem = star(24)
    (free, _), (held, _) = stages(problem)
    assert free.line is None
    assert len({spot.choice for spot in free.spots}) > 1
    assert held.line == free.spots[0].choice
    began = narrowed(problem, free)
    assert began.line == held.line
    assert [spot.scale for spot in began.spots] == [
        spot.scale for spot in free.spots if spot.choice == held.line
    ]
    assert held.spots[0].scale >= free.spots[0].scale * (1 - 1e-9)
    for spot in held.spots:
        assert spot.choice == (0,) * 24


def test_what_is_let_go_lies_near_to_where_it_was_held():
    problem = star(24)
    rng, shop, mirrored = np.random.default_rng(1), LocalSolver(problem), SymmetricSearch()
    while not mirrored.ripe(problem.tree):
        mirrored, _ = searched(problem, mirrored, 0.0, rng)
    folding = Folding(problem)
    for spot, base in zip(mirrored.spots, let_go(shop, mirrored, rng), strict=True):
        off = np.abs(shop.points(base) - folding.points(spot)).max()
        assert 0 < off < 5 * 0.05 / np.sqrt(24)


def test_both_images_of_a_held_tip_are_held():
    """Of two mirror images of a path the program keeps one."""
    problem = star(20)
    rng, mirrored = np.random.default_rng(0), SymmetricSearch()
    while not mirrored.ripe(problem.tree):
        mirrored, _ = searched(problem, mirrored, 0.0, rng)
    shop = Folding(problem)
    known = known_packings(shop, mirrored.spots)
    for spot, points, held in zip(mirrored.spots, known.points, known.held, strict=True):
        away = np.hypot(*(points[:, None] - points).transpose(2, 0, 1)) + np.eye(20)
        touching = away.min(axis=1) < 2 * spot.scale * (1 + 1e-7)
        assert (held == touching).all()


def test_a_brood_hatches_from_them_and_holds_free_packings_alone():
    problem = star(20)
    quest, shop, walk, kinds = SearchGoal(problem), LocalSolver(problem), begin(0, 0), []
    while walk.broods < 3:
        assert {spot.choice for spot in (*walk.spots, *walk.elders)} <= {(0,) * 20}
        if source_of(problem, walk.broods) == "mirrored":
            line = walk.mirrored.line
            kinds.append("spent" if walk.mirrored.spent else "free" if line is None else "held")
        walk = _batch(quest, shop, walk)
    turns = [kind for k, kind in enumerate(kinds) if kinds[k - 1 : k] != [kind]]
    assert turns == ["free", "held", "spent"]
    assert len(walk.elders) >= 2
    assert walk.best.scale <= published(20) / 2 * (1 + 1e-9)


def test_legs_do_not_change_where_a_walk_among_them_goes():
    quest = SearchGoal(star(12))
    short, long = begin(5, 0), advance(quest, begin(5, 0), NEVER)
    assert long.done
    while not short.done:
        short = stepped(quest, short)
    assert short.solves == long.solves
    assert short.best.scale == long.best.scale
