"""The range that each tip takes, against trying every choice."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest

from packer.local_solver.range_assignment import assigned_ranges, sample
from packer.model.figure import Figure, Flap
from packer.model.problem import pose
from tests.strategies import random_figure

CORNERS = ("top left", "top right", "bottom left", "bottom right")


def star(places, symmetry="none"):
    flaps = (Flap(f"f{k}", "hub", 1.0, place=place) for k, place in enumerate(places))
    return Figure("star", tuple(flaps), symmetry=symmetry)


def away(box, point):
    """Distance from a point to a range."""
    nearest = np.clip(point, [box.x[0], box.y[0]], [box.x[1], box.y[1]])
    return float(np.hypot(*(point - nearest)))


def every_choice(problem, points):
    """The least sum of distances over all choices in which no two tips take one point."""
    best = np.inf
    for choice in itertools.product(*(range(len(options)) for options in problem.ranges)):
        boxes = [options[k] for options, k in zip(problem.ranges, choice, strict=True)]
        taken = [box.middle for box in boxes if box.is_point]
        if len(set(taken)) == len(taken):
            best = min(best, sum(map(away, boxes, points)))
    return best


@pytest.mark.parametrize("seed", range(8))
def test_tips_bound_to_corners_take_the_nearest_in_sum(seed):
    """Against all choices: the assignment problem, solved by enumeration."""
    problem = pose(star([("corner",)] * 3 + [()]))
    points = np.random.default_rng(seed).random((4, 2))
    choice = assigned_ranges(problem, points, np.random.default_rng(seed), noise=0.0)
    boxes = [options[k] for options, k in zip(problem.ranges, choice, strict=True)]
    corners = [box.middle for box in boxes[:3]]
    assert len(set(corners)) == 3
    assert sum(map(away, boxes, points)) == pytest.approx(every_choice(problem, points))


@pytest.mark.parametrize("seed", range(8))
def test_a_tip_takes_the_nearest_of_its_ranges(seed):
    problem = pose(star([("edge",), ("left", "right"), ()]))
    points = np.random.default_rng(seed).random((3, 2))
    choice = assigned_ranges(problem, points, np.random.default_rng(seed), noise=0.0)
    for options, k, point in zip(problem.ranges, choice, points, strict=True):
        assert away(options[k], point) == pytest.approx(min(away(b, point) for b in options))


def test_a_corner_that_is_taken_is_left_to_its_owner():
    """One tip is bound to it; of two that may take corners or the middle none goes there too."""
    problem = pose(star([("top left",), ("corner", "middle"), ("corner", "middle")]))
    points = np.array([[0.0, 1.0], [0.01, 0.99], [0.02, 0.98]])
    for seed in range(6):
        choice = assigned_ranges(problem, points, np.random.default_rng(seed), noise=0.0)
        boxes = [options[k] for options, k in zip(problem.ranges, choice, strict=True)]
        taken = [box.middle for box in boxes if box.is_point]
        assert len(set(taken)) == len(taken)


@pytest.mark.parametrize("symmetry", ["book", "diagonal"])
def test_twins_take_mirror_images_and_never_one_point(symmetry):
    figure = star([("corner",), ("corner", "edge")], symmetry)
    figure = replace(figure, flaps=tuple(replace(f, pair=True) for f in figure.flaps))
    problem = pose(figure)
    for seed in range(8):
        rng = np.random.default_rng(seed)
        choice = assigned_ranges(problem, rng.random((problem.tree.n_tips, 2)), rng)
        for tip, twin in enumerate(problem.mirror.tolist()):
            assert choice[tip] == choice[twin]
            box = problem.ranges[tip][choice[tip]]
            if box.is_point and twin != tip:
                here = np.array(box.middle)
                assert not np.allclose(problem.reflect(here), here)


@pytest.mark.parametrize(
    ("symmetry", "places"),
    [("book", ("corner",)), ("book", ("corner", "middle")), ("diagonal", ("corner", "middle"))],
)
def test_a_pair_takes_a_point_together_with_its_mirror_image(symmetry, places):
    """Of two pairs none lies in the corner in which a twin of the other lies."""
    figure = star([("bottom right",), places], symmetry)
    figure = replace(figure, flaps=tuple(replace(f, pair=True) for f in figure.flaps))
    problem = pose(figure)
    left, right = ([ranges[0].middle] for ranges in problem.ranges[:2])
    points = np.array(left + right + right + left)  # the second pair is drawn to the first
    for seed in range(8):
        choice = assigned_ranges(problem, points, np.random.default_rng(seed), noise=0.0)
        boxes = [options[k] for options, k in zip(problem.ranges, choice, strict=True)]
        taken = [box.middle for box in boxes if box.is_point]
        assert len(set(taken)) == len(taken)


@pytest.mark.parametrize("symmetry", ["none", "book", "diagonal"])
def test_samples_lie_in_the_ranges(symmetry):
    figure = random_figure(3, 6, symmetry=symmetry, pairs=True)
    problem = pose(figure)
    tips = problem.leaders
    points = sample(problem, tips, 200, np.random.default_rng(0))
    assert points.shape == (len(tips), 200, 2)
    for tip, rows in zip(tips.tolist(), points, strict=True):
        for x, y in rows.tolist():
            assert any(box.holds(x, y, 1e-9) for box in problem.ranges[tip])
        if symmetry == "diagonal" and problem.mirror[tip] == tip:
            assert rows[:, 0] == pytest.approx(rows[:, 1])
