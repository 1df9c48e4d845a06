"""Screening: that it picks among starts and moves as it says."""

from __future__ import annotations

import numpy as np
import pytest

from packer.local_solver.initial_points import lattice_points
from packer.local_solver.solver import LocalSolver
from packer.model.figure import Figure, Flap
from packer.model.problem import pose
from packer.model.sheet import Sheet
from packer.search.memetic import preselection as screening
from packer.search.memetic.duplicates import KnownPackings, known_packings
from packer.search.memetic.preselection import screened_moves, screened_starts
from packer.search.memetic.run import SearchGoal, begin, stepped
from tests.strategies import random_figure


@pytest.fixture(scope="module")
def shop():
    return LocalSolver(pose(random_figure(6, 20, joints=6)))


@pytest.fixture(scope="module")
def spots(shop):
    walk, quest = begin(3, 0), SearchGoal(shop.problem)
    for _ in range(8):
        walk = stepped(quest, walk)
    return walk.spots


def test_more_starts_are_proposed_than_wanted_once_there_is_a_scale(shop, spots):
    rng = np.random.default_rng(0)
    best = spots[0].scale
    plain = [spot.scale for spot in shop.climb(screened_starts(shop, 0.0, 30, rng))]
    chosen = [spot.scale for spot in shop.climb(screened_starts(shop, best, 30, rng))]
    assert len(plain) == len(chosen) == 30
    assert np.median(chosen) > np.quantile(plain, 0.7)


def test_what_is_chosen_lies_near_nothing_known_and_its_parents_are_told(shop, spots):
    rng = np.random.default_rng(1)
    known = known_packings(shop, spots)
    parents, bases = screened_moves(shop, spots, known, 10, rng)
    assert len(parents) == len(bases) == 10
    assert all(parent in spots for parent in parents)
    points = np.stack([shop.points(base) for base in bases])
    assert not known.near(points).any()


def test_chosen_moves_improve_more_often_than_any(shop, spots, monkeypatch):
    known, rng = known_packings(shop, spots), np.random.default_rng(2)

    def share():
        parents, bases = screened_moves(shop, spots, known, 60, rng)
        found = shop.climb(bases, parents)
        return np.mean([a.scale > b.scale for a, b in zip(found, parents, strict=True)])

    chosen = share()
    monkeypatch.setattr(screening, "tries_of", lambda _: 1)
    assert chosen > 1.5 * share()


def test_one_move_is_tried_even_where_everything_is_known(shop, spots):
    known = known_packings(shop, spots)
    everything = KnownPackings(known.points, np.zeros_like(known.held), known.reach)
    parents, bases = screened_moves(shop, spots, everything, 4, np.random.default_rng(5))
    assert len(parents) == len(bases) == 1


def test_moves_between_places_are_compared_with_each_other():
    """Tips on corners and edges: programs differ, and each base keeps its own."""
    flaps = [Flap(f"f{k}", "hub", 1.0, place=("edge", "middle")) for k in range(7)]
    shop, rng = LocalSolver(pose(Figure("star", tuple(flaps)))), np.random.default_rng(0)
    bases = screened_starts(shop, 0.3, 6, rng)
    assert len({base.choice for base in bases}) > 1
    for base in bases:
        program = shop.program(base.choice)
        assert len(base.z) == program.n_z
        assert (base.z >= program.lower - 1e-6).all()


@pytest.mark.parametrize("sheet", [Sheet(1, 1), Sheet(3, 1), Sheet(1, 40)])
@pytest.mark.parametrize("n", [2, 3, 17, 100])
def test_lattice_points_fill_the_sheet_evenly(sheet, n):
    figure = Figure("star", tuple(Flap(f"f{k}", "hub", 1.0) for k in range(n)))
    problem = pose(figure, sheet)
    rng = np.random.default_rng(n)
    for _ in range(5):
        points = lattice_points(problem, rng)
        assert points.shape == (n, 2)
        assert np.isfinite(points).all()
        stray = 0.05 * sheet.diagonal / np.sqrt(n) * 6
        assert (points > -stray).all()
        assert (points < np.array([sheet.width, sheet.height]) + stray).all()
        if n == 100 and sheet.is_square:
            # four quarters of the sheet hold about as many each
            counts = np.histogram2d(*points.T, bins=[[-1, 0.5, 2], [-1, 0.5, 2]])[0]
            assert counts.min() >= 14
