"""The compiled program of a problem, against the inequalities written out one by one."""

from __future__ import annotations

import numpy as np
import pytest

from packer.local_solver.flexible_lengths import flexible
from packer.local_solver.interior_point import maximise, maximise_batch, polish
from packer.local_solver.nonlinear_program import compile_program, kept_with
from packer.local_solver.range_assignment import assigned_ranges
from packer.model.figure import Figure, Flap
from packer.model.problem import pose
from packer.model.sheet import Sheet
from tests.strategies import random_figure

SEEDS = range(6)


def program_for(seed, figure=None, sheet=None):
    """A program of a random figure, flexible in part, and points within its bounds."""
    rng = np.random.default_rng(seed)
    symmetry = ["none", "book", "diagonal"][seed % 3]
    if figure is None:
        figure = random_figure(rng, 4 + seed % 3, symmetry=symmetry, pairs=True).with_flex(0.2)
    problem = pose(figure, sheet)
    size = (problem.sheet.width, problem.sheet.height)
    points = rng.random((problem.tree.n_tips, 2)) * size
    program = compile_program(problem, assigned_ranges(problem, points, rng))
    return program, program.variables(points), rng


def plain_scale(program, points, lengths):
    """The least ratio of sheet to tree distance, and of room to radius of whole discs."""
    problem, tree = program.problem, program.problem.tree
    ratios = []
    distances = tree.distances_with(lengths)
    for i in range(tree.n_tips):
        ratios += [np.hypot(*(points[i] - points[j])) / distances[i, j] for j in range(i)]
        if problem.ranges[i][program.choice[i]].margin > 0:
            x, y = points[i]
            room = min(x, y, problem.sheet.width - x, problem.sheet.height - y)
            ratios.append(room / lengths[i])
    return min(ratios)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_scale_is_the_least_ratio(seed):
    program, z, rng = program_for(seed)
    tree = program.problem.tree
    change = 0.01 * rng.standard_normal(program.n_w)
    lengths = flexible(tree).lengths(tree.lengths, change)
    points = program.tips(z)
    assert program.scale(z, change) == pytest.approx(plain_scale(program, points, lengths))
    assert flexible(tree).changes(tree.lengths, lengths) == pytest.approx(change, abs=1e-12)


def test_flaps_bound_to_the_middle_keep_their_disc_on_the_sheet():
    """A flap with a margin is limited by the walls as well, here by the nearest of the four."""
    flaps = (Flap("a", "hub", 1.0, place=("middle",)), Flap("b", "hub", 1.0, place=("middle",)))
    program, _, _ = program_for(0, Figure("two", flaps), Sheet(2, 1))
    z = program.variables(np.array([[0.5, 0.5], [1.7, 0.4]]))
    assert program.scale(z, np.zeros(0)) == pytest.approx(0.3)
    end = maximise(program, z, np.zeros(0))
    points = program.tips(end.z)
    assert end.scale == pytest.approx(plain_scale(program, points, np.ones(2)))
    assert end.scale == pytest.approx(0.5)  # discs of radius 1/2 touch the long walls


def test_flexible_flaps_bound_to_the_middle():
    """The disc that must stay on the sheet has the changed length as its radius."""
    flaps = (
        Flap("a", "hub", 1.0, place=("middle",)),
        Flap("b", "hub", 1.0),
        Flap("c", "hub", 1.5),
    )
    program, z, _ = program_for(0, Figure("three", flaps).with_flex(0.3))
    tree = program.problem.tree
    change = np.array([0.1, -0.05])
    lengths = flexible(tree).lengths(tree.lengths, change)
    assert program.scale(z, change) == pytest.approx(
        plain_scale(program, program.tips(z), lengths)
    )


@pytest.mark.parametrize("seed", SEEDS)
def test_slack_is_sheet_less_tree_distance(seed):
    program, z, rng = program_for(seed)
    tree = program.problem.tree
    change = 0.01 * rng.standard_normal(program.n_w)
    distances = tree.distances_with(flexible(tree).lengths(tree.lengths, change))
    points = program.tips(z)
    expected = [
        np.hypot(*(points[i] - points[j])) - 0.07 * distances[i, j]
        for i, j in zip(program.first, program.second, strict=True)
    ]
    assert program.slack(z, change, 0.07) == pytest.approx(expected)


@pytest.mark.parametrize("seed", SEEDS)
def test_variables_and_tips_are_inverse_within_the_bounds(seed):
    program, z, _ = program_for(seed)
    points = program.tips(z)
    assert program.variables(points) == pytest.approx(z)
    mirror = program.problem.mirror
    if program.problem.symmetry != "none":
        assert program.problem.reflect(points[mirror]) == pytest.approx(points)


def test_a_figure_whose_tips_are_all_fixed_has_one_scale():
    """Nothing may move: the scale is that of the points given."""
    flaps = (
        Flap("a", "hub", 1.0, place=((0.0, 0.0),)),
        Flap("b", "hub", 1.0, place=((1.0, 0.5),)),
    )
    program, z, _ = program_for(0, Figure("fixed", flaps))
    expected = np.hypot(1.0, 0.5) / 2
    assert program.scale(z, np.zeros(0)) == pytest.approx(expected)
    end = maximise_batch(program, z[None], np.zeros((1, 0)))[0]
    assert end.scale == pytest.approx(expected)
    assert program.tips(end.z) == pytest.approx(np.array([[0.0, 0.0], [1.0, 0.5]]))


def test_a_tip_on_a_diagonal_axis_has_one_coordinate():
    flaps = (Flap("nose", "hub", 1.0, place=("axis",)), Flap("leg", "hub", 1.0, pair=True))
    program, z, _ = program_for(2, Figure("axis", flaps, symmetry="diagonal"))
    nose = program.problem.tree.flaps.index("nose")
    assert program.n_z == 3
    assert len(set(program.tips(z)[nose].tolist())) == 1


@pytest.mark.parametrize("seed", SEEDS)
def test_polishing_never_loses(seed):
    program, z, _ = program_for(seed)
    start = maximise(program, z, np.zeros(program.n_w))
    end = polish(program, start.z, start.change)
    assert end.scale >= program.scale(start.z, start.change)


def test_what_is_kept_with_a_program_is_made_once():
    program, _, _ = program_for(0)
    made = []

    def make(one):
        made.append(one)
        return len(made)

    assert [kept_with(program, make), kept_with(program, make)] == [1, 1]
    assert made == [program]
