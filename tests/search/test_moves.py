"""Moves: what each one changes and what it leaves, by geometry and by the definition itself."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.distance import pdist

from packer.figure import Figure, Flap, River
from packer.problem import pose
from packer.search.moves import (
    MOVES,
    Site,
    graft,
    into_hole,
    pick_moves,
    room,
    sheet_images,
    swap_tips,
)
from packer.sheet import Sheet
from tests.strategies import random_figure


def site_of(figure, sheet=None, mates=1, seed=0):
    problem = pose(figure, sheet)
    size = (problem.sheet.width, problem.sheet.height)
    rng = np.random.default_rng(seed)
    points = [rng.random((problem.tree.n_tips, 2)) * size for _ in range(mates + 1)]
    return Site(problem, points[0], 0.05, tuple(points[1:]))


@pytest.mark.parametrize("symmetry", ["none", "book", "diagonal"])
@pytest.mark.parametrize("move", [move for _, move in MOVES])
def test_a_move_gives_other_points_and_leaves_its_site_alone(move, symmetry):
    figure = random_figure(4, 10, joints=4, symmetry=symmetry, pairs=symmetry != "none")
    site = site_of(figure)
    before, rng = site.points.copy(), np.random.default_rng(1)
    for _ in range(20):
        points = move(site, rng)
        assert points.shape == before.shape
        assert np.isfinite(points).all()
        assert (site.points == before).all()
        assert (points != before).any()


def test_moves_come_as_often_as_their_shares_say():
    picked = pick_moves(6000, np.random.default_rng(0))
    for share, move in MOVES:
        count = sum(move is other for other in picked)
        # four standard deviations of a binomial count
        assert abs(count - 6000 * share) < 4 * np.sqrt(6000 * share * (1 - share))


def test_tips_that_are_alike_are_not_exchanged():
    twins = [Flap(f"a{k}", "head", 1.0) for k in range(3)]
    others = [Flap("b", "tail", 1.0), Flap("c", "tail", 2.0)]
    figure = Figure("pair", (*twins, *others), (River("body", ("head", "tail"), 1.0),))
    site, rng = site_of(figure), np.random.default_rng(2)
    seen = set()
    for _ in range(200):
        moved = np.flatnonzero((swap_tips(site, rng) != site.points).any(axis=1))
        assert len(moved) == 2
        seen.add(tuple(site.problem.tree.names[k] for k in moved))
    assert not any(a[0] == b[0] == "a" for a, b in seen)
    assert len(seen) == 7  # of ten pairs three are alike


def test_where_all_tips_are_alike_some_are_shaken():
    figure = Figure("star", tuple(Flap(f"f{k}", "hub", 1.0) for k in range(6)))
    site, rng = site_of(figure), np.random.default_rng(3)
    points = swap_tips(site, rng)
    moved = (points != site.points).any(axis=1)
    assert moved.sum() >= 2
    # nothing but an exchange would leave the same set of points
    assert {tuple(p) for p in points} != {tuple(p) for p in site.points}


def test_tips_that_may_not_lie_alike_are_exchanged():
    flaps = [Flap("f0", "hub", 1.0, place=("corner",))]
    flaps += [Flap(f"f{k}", "hub", 1.0) for k in range(1, 4)]
    site, rng = site_of(Figure("star", tuple(flaps))), np.random.default_rng(4)
    found = [swap_tips(site, rng) for _ in range(60)]
    moved = [frozenset(np.flatnonzero((points != site.points).any(axis=1))) for points in found]
    assert {frozenset({0, k}) for k in (1, 2, 3)} <= set(moved)


@pytest.mark.parametrize(("sheet", "count"), [(Sheet(2, 2), 8), (Sheet(3, 2), 4)])
def test_images_are_the_symmetries_of_the_sheet(sheet, count):
    """The dihedral groups of the square, of order 8, and of the rectangle, of order 4."""
    site = site_of(random_figure(1, 7, joints=2), sheet)
    images = sheet_images(site.problem, site.points)
    assert len(images) == count
    assert len({image.round(9).tobytes() for image in images}) == count
    for image in images:
        assert pdist(image) == pytest.approx(pdist(site.points))
        assert (image >= 0).all()
        assert (image <= (sheet.width, sheet.height)).all()


def test_a_graft_from_a_turned_copy_changes_nothing():
    site = site_of(random_figure(5, 12, joints=5))
    for image in sheet_images(site.problem, site.points):
        turned = Site(site.problem, site.points, site.scale, (image,))
        for seed in range(5):
            points = graft(turned, np.random.default_rng(seed))
            assert points == pytest.approx(site.points)


def test_room_is_the_scale_that_the_nearest_tip_leaves():
    site = site_of(random_figure(6, 9, joints=3))
    d, rng = site.problem.tree.distances, np.random.default_rng(5)
    spots = rng.random((20, 2))
    found = room(site.problem, site.points, 4, spots)
    for spot, scale in zip(spots, found, strict=True):
        away = [np.hypot(*(spot - site.points[k])) / d[4, k] for k in range(9) if k != 4]
        assert scale == pytest.approx(min(away))


def test_a_tip_is_put_where_there_is_more_room_than_mostly():
    site = site_of(random_figure(7, 15, joints=4))
    rng, rooms = np.random.default_rng(6), []
    for _ in range(40):
        points = into_hole(site, rng)
        moved = np.flatnonzero((points != site.points).any(axis=1))
        assert 1 <= len(moved) <= 3
        if len(moved) == 1:
            tip = int(moved[0])
            anywhere = room(site.problem, site.points, tip, rng.random((200, 2)))
            here = room(site.problem, points, tip, points[[tip]])[0]
            rooms.append((anywhere < here).mean())
    assert len(rooms) > 5
    assert np.mean(rooms) > 0.9
