"""Operators: what each one changes and what it leaves, by geometry and by the definition itself."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import linprog
from scipy.spatial.distance import pdist

from packer.local_solver.range_assignment import sample
from packer.model.figure import Figure, Flap, River
from packer.model.problem import Range, pose
from packer.model.sheet import Sheet
from packer.search.memetic.memetic_params import OPERATOR_WEIGHTS, MemeticParams
from packer.search.memetic.operators import (
    OPERATORS,
    Parents,
    clearance,
    crossover,
    cut_and_splice,
    insert_in_hole,
    move_subtree,
    offspring,
    perturb_near,
    sheet_images,
    swap_tips,
)
from tests.strategies import random_figure


def any_operator(parents):
    """One offspring of each parent by operators drawn by their usual weights."""
    return offspring(
        parents.problem, parents.packings, parents.picked, MemeticParams(), parents.rng
    )


def packings_of(figure, sheet=None, count=2, seed=0):
    """A problem and random points in place of packings."""
    problem = pose(figure, sheet)
    size = (problem.sheet.width, problem.sheet.height)
    return problem, np.random.default_rng(seed).random((count, problem.tree.n_tips, 2)) * size


def heads_and_tails():
    """Four flaps on one side of a river, six on the other."""
    return Figure(
        "pair",
        tuple(Flap(f"a{k}", "head", 1.0 + k) for k in range(4))
        + tuple(Flap(f"b{k}", "tail", 2.5 + k) for k in range(6)),
        (River("body", ("head", "tail"), 1.0),),
    )


def changed(before, after):
    """(several, tips) which tips a move has place_tips elsewhere."""
    return (before != after).any(axis=2)


@pytest.mark.parametrize("symmetry", ["none", "book", "diagonal"])
@pytest.mark.parametrize("operator", [*OPERATORS.values(), any_operator])
def test_an_operator_gives_other_points_and_leaves_its_packings_alone(operator, symmetry):
    figure = random_figure(4, 10, joints=4, symmetry=symmetry, pairs=symmetry != "none")
    problem, packings = packings_of(figure, count=3)
    before, picked = packings.copy(), np.arange(24) % 3
    points = operator(Parents(problem, packings, picked, np.random.default_rng(1)))
    assert points.shape == (24, *before.shape[1:])
    assert np.isfinite(points).all()
    assert (packings == before).all()
    assert changed(before[picked], points).any(axis=1).all()


@pytest.mark.parametrize("operator", [swap_tips, insert_in_hole])
def test_an_operator_changes_a_few_tips_of_the_packing_that_was_picked(operator):
    problem, packings = packings_of(random_figure(2, 14, joints=4), count=5)
    picked = np.random.default_rng(8).integers(5, size=60)
    points = operator(Parents(problem, packings, picked, np.random.default_rng(9)))
    assert (changed(packings[picked], points).sum(axis=1) <= 3).all()


def test_operators_are_drawn_by_their_weights():
    """By what only they do: one river tells the side that a subtree or a crossover changes whole."""
    problem, packings = packings_of(heads_and_tails())
    picked = np.zeros(6000, dtype=int)
    tips = changed(
        packings[picked],
        any_operator(Parents(problem, packings, picked, np.random.default_rng(0))),
    )
    share = dict(OPERATOR_WEIGHTS)
    larger = np.array([name.startswith("b") for name in problem.tree.flaps])
    # half of the crossovers take the larger side; a local perturbation seldom hits that many
    for seen, wished in (
        (tips.all(axis=1), share["perturb_all"]),
        ((tips == larger).all(axis=1), share["crossover"] / 2),
    ):
        # four standard deviations of a binomial count
        assert abs(seen.sum() - 6000 * wished) < 4 * np.sqrt(6000 * wished * (1 - wished))


def test_tips_that_are_alike_are_not_exchanged():
    twins = [Flap(f"a{k}", "head", 1.0) for k in range(3)]
    others = [Flap("b", "tail", 1.0), Flap("c", "tail", 2.0)]
    figure = Figure("pair", (*twins, *others), (River("body", ("head", "tail"), 1.0),))
    problem, packings = packings_of(figure)
    picked = np.zeros(200, dtype=int)
    points = swap_tips(Parents(problem, packings, picked, np.random.default_rng(2)))
    seen = set()
    for tips in changed(packings[picked], points):
        assert tips.sum() == 2
        seen.add(tuple(problem.tree.names[k] for k in np.flatnonzero(tips)))
    assert not any(a[0] == b[0] == "a" for a, b in seen)
    assert len(seen) == 7  # of ten pairs three are alike


@pytest.mark.parametrize("seed", range(4))
def test_tips_are_alike_where_an_exchange_changes_no_path(seed):
    """By the definition: the table of distances with two rows and columns exchanged."""
    problem, _ = packings_of(random_figure(seed, 12, joints=3))
    d, n = problem.tree.distances, problem.tree.n_tips
    for one in range(n):
        for other in range(n):
            order = np.arange(n)
            order[[one, other]] = order[[other, one]]
            same = np.allclose(d[np.ix_(order, order)], d, rtol=1e-9)
            assert problem.alike[one, other] == same


def test_tips_are_compared_with_one_of_each_kind(monkeypatch):
    """Of 90 tips of three lengths at one joint not each pair is looked at."""
    compared = []
    equal = Range.__eq__
    monkeypatch.setattr(
        Range, "__eq__", lambda one, other: compared.append(1) or equal(one, other)
    )
    flaps = tuple(Flap(f"f{k}", "hub", 1.0 + k % 3) for k in range(90))
    alike = pose(Figure("star", flaps)).alike
    kinds = np.arange(90) % 3
    assert (alike == (kinds[:, None] == kinds)).all()
    assert len(compared) <= 90


def test_where_all_tips_are_alike_some_are_perturbed():
    figure = Figure("star", tuple(Flap(f"f{k}", "hub", 1.0) for k in range(6)))
    problem, packings = packings_of(figure)
    points = swap_tips(Parents(problem, packings, np.array([0]), np.random.default_rng(3)))
    assert changed(packings[:1], points).sum() >= 2
    # nothing but an exchange would leave the same set of points
    assert {tuple(p) for p in points[0]} != {tuple(p) for p in packings[0]}


def test_tips_that_may_not_lie_alike_are_exchanged():
    flaps = [Flap("f0", "hub", 1.0, place=("corner",))]
    flaps += [Flap(f"f{k}", "hub", 1.0) for k in range(1, 4)]
    problem, packings = packings_of(Figure("star", tuple(flaps)))
    picked = np.zeros(60, dtype=int)
    points = swap_tips(Parents(problem, packings, picked, np.random.default_rng(4)))
    seen = [frozenset(np.flatnonzero(tips)) for tips in changed(packings[picked], points)]
    assert {frozenset({0, k}) for k in (1, 2, 3)} <= set(seen)


def test_a_local_perturbation_moves_the_tips_nearest_to_one_of_them():
    problem, packings = packings_of(random_figure(8, 16, joints=4))
    picked = np.zeros(50, dtype=int)
    points = perturb_near(Parents(problem, packings, picked, np.random.default_rng(5)))
    for tips in changed(packings[picked], points):
        assert 2 <= tips.sum() <= 12
        away = np.linalg.norm(packings[0][:, None] - packings[0][None, tips], axis=2)
        # some tip of them is nearer to all of them than any tip left alone
        assert (away[tips].max(axis=1) < away[~tips].min(axis=0)).any()


def test_a_subtree_keeps_its_shape_wherever_it_is_put():
    problem, packings = packings_of(random_figure(9, 14, joints=5))
    picked = np.zeros(80, dtype=int)
    points = move_subtree(Parents(problem, packings, picked, np.random.default_rng(6)))
    sides = problem.tree.beyond[problem.tree.n_tips :]
    sides = [side if 2 * side.sum() <= len(side) else ~side for side in sides]
    lone = 0
    for tips, found in zip(changed(packings[picked], points), points, strict=True):
        limbs = [side for side in sides if (side == tips).all()]
        assert limbs or any(
            (one ^ other == tips).all() and not (one & other).any()
            for one in sides
            for other in sides
        )
        if limbs:
            lone += 1
            assert pdist(found[tips]) == pytest.approx(pdist(packings[0][tips]))
    assert 40 < lone < 80


@pytest.mark.parametrize(("sheet", "count"), [(Sheet(2, 2), 8), (Sheet(3, 2), 4)])
def test_images_are_the_symmetries_of_the_sheet(sheet, count):
    """The dihedral groups of the square, of order 8, and of the rectangle, of order 4."""
    problem, packings = packings_of(random_figure(1, 7, joints=2), sheet)
    images = sheet_images(problem, packings)
    assert images.shape == (count, *packings.shape)
    assert len({image.round(9).tobytes() for image in images[:, 0]}) == count
    for image in images:
        assert pdist(image[0]) == pytest.approx(pdist(packings[0]))
        assert (image >= 0).all()
        assert (image <= (sheet.width, sheet.height)).all()


def test_a_crossover_with_a_turned_copy_changes_nothing():
    problem, packings = packings_of(random_figure(5, 12, joints=5), count=1)
    images = sheet_images(problem, packings[0])
    points = crossover(
        Parents(problem, images, np.arange(8).repeat(5), np.random.default_rng(0))
    )
    assert points == pytest.approx(images.repeat(5, axis=0))


def test_a_crossover_is_turned_to_fit_the_rest():
    """From a copy with its tails turned round: either side is place_tips as it lies beside the other."""
    problem, packings = packings_of(heads_and_tails(), count=1)
    heads = np.array([name.startswith("a") for name in problem.tree.flaps])
    turned = 1.0 - packings[0]
    mate = np.where(heads[:, None], packings[0], turned)
    for image in sheet_images(problem, mate):
        pair = np.stack([packings[0], image])
        points = crossover(
            Parents(problem, pair, np.zeros(20, dtype=int), np.random.default_rng(1))
        )
        by_head = (changed(pair[:1], points) == heads).all(axis=1)
        assert 0 < by_head.sum() < 20
        assert points[~by_head] == pytest.approx(np.stack([mate] * (~by_head).sum()))
        wished = np.where(heads[:, None], turned, packings[0])
        assert points[by_head] == pytest.approx(np.stack([wished] * by_head.sum()))


@pytest.mark.parametrize("lengths", [[1.0] * 9, [1.0] * 4 + [2.0] * 5, np.arange(1.0, 10.0)])
def test_cut_and_splice_takes_what_lies_beyond_a_line_from_the_other_packing(lengths):
    """That a line parts what was kept from what was left is a linear program (by scipy)."""
    flaps = tuple(Flap(f"f{k}", "hub", float(length)) for k, length in enumerate(lengths))
    problem, packings = packings_of(Figure("star", flaps), Sheet(3, 2))
    images = sheet_images(problem, packings[1])
    sides = []
    for points in cut_and_splice(
        Parents(problem, packings, np.zeros(30, dtype=int), np.random.default_rng(2))
    ):
        kept = (packings[0][:, None] == points).all(axis=2)
        taken = (images[:, :, None] == points).all(axis=3).any(axis=0)
        # every place comes from one of the two, none twice, and from a tip of the same kind
        assert (kept.sum(axis=0) + taken.sum(axis=0) == 1).all()
        assert (kept.sum(axis=1) <= 1).all()
        assert (taken.sum(axis=1) <= 1).all()
        tips, places = np.nonzero(kept | taken)
        assert problem.alike[tips, places][tips != places].all()
        stays = kept.any(axis=1)
        sides.append(int(stays.sum()))
        sign = np.where(stays, 1.0, -1.0)[:, None]
        line = sign * np.column_stack([packings[0], np.ones(9)])
        assert linprog(np.zeros(3), -line, -np.ones(9), bounds=(None, None)).success
    assert set(sides) == set(range(1, 9))


def test_cut_and_splice_takes_the_farthest_of_the_other_packing():
    """From packings along the diagonal, which every cut parts in the order along it."""
    problem = pose(Figure("star", tuple(Flap(f"f{k}", "hub", 1.0) for k in range(6))))
    one, mate = np.linspace(0.1, 0.6, 6), np.linspace(0.15, 0.65, 6)
    packings = np.stack([np.column_stack([x, x]) for x in (one, mate)])
    seen = 0
    for points in cut_and_splice(
        Parents(problem, packings, np.zeros(60, dtype=int), np.random.default_rng(3))
    ):
        if not np.allclose(points[:, 0], points[:, 1]):
            continue  # from an image across the diagonal
        seen += 1
        kept = np.isin(points[:, 0], one)
        stays, comes = np.sort(points[kept, 0]), np.sort(points[~kept, 0])
        low = stays[0] == one[0]
        assert stays == pytest.approx(one[: len(stays)] if low else one[-len(stays) :])
        wished = [x[-len(comes) :] if low else x[: len(comes)] for x in (mate, 1 - mate[::-1])]
        assert any(comes == pytest.approx(x) for x in wished)
    assert seen > 15


@pytest.mark.parametrize("symmetry", ["book", "diagonal"])
def test_a_tip_put_into_a_hole_takes_its_twin_along(symmetry):
    figure = random_figure(5, 11, joints=3, symmetry=symmetry, pairs=True)
    problem, packings = packings_of(figure)
    picked = np.zeros(40, dtype=int)
    points = insert_in_hole(Parents(problem, packings, picked, np.random.default_rng(4)))
    pairs = 0
    for tips, found in zip(changed(packings[picked], points), points, strict=True):
        for tip in np.flatnonzero(tips):
            twin = problem.mirror[tip]
            if twin != tip:
                pairs += 1
                assert found[twin] == pytest.approx(problem.reflect(found[tip]))
    assert pairs > 20


def test_clearance_looks_at_known_tips_alone():
    problem, packings = packings_of(random_figure(6, 9, joints=3))
    known = np.arange(9) % 2 == 0
    optima, tip = np.random.default_rng(5).random((1, 20, 2)), 3
    (found,) = clearance(problem, packings[:1], np.array([tip]), optima, known)
    for optimum, scale in zip(optima[0], found, strict=True):
        away = np.hypot(*(packings[0] - optimum).T)
        assert scale == pytest.approx(min(away[known] / problem.tree.distances[tip, known]))


@pytest.mark.parametrize("symmetry", ["none", "book", "diagonal"])
def test_room_is_the_scale_that_the_nearest_tip_leaves(symmetry):
    figure = random_figure(6, 9, joints=3, symmetry=symmetry, pairs=symmetry != "none")
    problem, packings = packings_of(figure)
    d, n = problem.tree.distances, problem.tree.n_tips
    optima = np.random.default_rng(5).random((2, 20, 2))
    tips = np.array([4, 1])
    found = clearance(problem, packings, tips, optima)
    for points, tip, places, scales in zip(packings, tips, optima, found, strict=True):
        for optimum, scale in zip(places, scales, strict=True):
            placed = points.copy()
            placed[tip] = optimum
            twin = problem.mirror[tip]
            if twin != tip:
                placed[twin] = problem.reflect(optimum)
            away = np.hypot(*(placed - optimum).T)
            assert scale == pytest.approx(
                min(away[k] / d[tip, k] for k in range(n) if k != tip)
            )


def test_a_tip_is_put_where_there_is_more_room_than_mostly():
    problem, packings = packings_of(random_figure(7, 15, joints=4))
    rng, picked = np.random.default_rng(6), np.zeros(80, dtype=int)
    points = insert_in_hole(Parents(problem, packings, picked, rng))
    moves = changed(packings[picked], points)
    assert (moves.sum(axis=1) >= 1).all()
    rooms = []
    for k in np.flatnonzero(moves.sum(axis=1) == 1):
        tip = np.flatnonzero(moves[k])
        anywhere = clearance(problem, packings[:1], tip, rng.random((1, 200, 2)))
        here = clearance(problem, points[[k]], tip, points[k, tip][None])
        rooms.append((anywhere < here).mean())
    assert len(rooms) > 10
    assert np.mean(rooms) > 0.9


def test_samples_lie_in_the_ranges_of_their_tips_each_as_often():
    flaps = [Flap("f0", "hub", 1.0, place=("left", "top right"))]
    flaps += [Flap("f1", "hub", 1.0, place=("edge",)), Flap("f2", "hub", 1.0)]
    problem = pose(Figure("star", tuple(flaps)), Sheet(3, 2))
    order = [problem.tree.flaps.index(f"f{k}") for k in range(3)]
    optima = sample(problem, np.array(order), 4000, np.random.default_rng(7))
    for tip, places in zip(order, optima, strict=True):
        boxes = problem.ranges[tip]
        held = np.array([[box.holds(*place) for box in boxes] for place in places])
        assert held.any(axis=1).all()
        # four standard deviations of a binomial count; no range holds another's points
        share = 1 / len(boxes)
        allowed = 4 * np.sqrt(4000 * share * (1 - share))
        assert (abs(held.sum(axis=0) - 4000 * share) <= allowed).all()


def test_samples_of_a_tip_on_the_diagonal_lie_there():
    figure = random_figure(3, 9, joints=3, symmetry="diagonal", pairs=True)
    problem = pose(figure)
    optima = sample(problem, problem.leaders, 50, np.random.default_rng(8))
    on_axis = problem.mirror[problem.leaders] == problem.leaders
    assert on_axis.any()
    assert (optima[on_axis, :, 0] == optima[on_axis, :, 1]).all()
    assert (optima[~on_axis, :, 0] != optima[~on_axis, :, 1]).all()
