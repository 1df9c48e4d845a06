"""Fillers: hung on the tree they leave every other distance as it was."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest

from packer.creases.completion.filler_insertion import _free_name, with_filler
from packer.creases.completion.filler_search import (
    _tight_tree_point,
    corner_filler,
    joint_filler,
)
from packer.creases.tip_layout import layout_of
from packer.files.figure_toml import read_figure
from packer.model.problem import pose
from packer.model.stick_layout import layout as layout_of_tree
from tests.conftest import SAMPLES
from tests.strategies import random_figure, scattered

SHARES = (0.0, 0.3, 1.0)


def trial(seed):
    rng = np.random.default_rng(seed)
    symmetry = ["none", "book", "diagonal"][seed % 3]
    figure = random_figure(rng, 4 + seed % 4, symmetry=symmetry, pairs=True)
    return layout_of(scattered(pose(figure), seed), 0.9), rng


@pytest.mark.parametrize("seed", range(9))
def test_the_longest_filler_hangs_on_the_path_between_the_two_tips_that_limit_it(seed):
    """It is as long as |q p| less the way along the tree for both, unless that is beyond a tip."""
    layout, _ = trial(seed)
    point = np.array([0.31, 0.83])
    gap = np.hypot(*(layout.points - point).T)
    rooms = {
        (i, j): (gap[i] + gap[j] - layout.distances[i, j]) / 2
        for i, j in combinations(range(len(gap)), 2)
    }
    i, j = min(rooms, key=rooms.__getitem__)
    edge, offset = _tight_tree_point(layout, point)
    a, b = layout.tree.ends[edge]
    way = np.minimum(layout.nodes[a] + offset, layout.nodes[b] + layout.lengths[edge] - offset)
    assert way[i] == pytest.approx(
        np.clip(gap[i] - rooms[i, j], 0, layout.distances[i, j]), abs=1e-9
    )
    assert way[i] + way[j] == pytest.approx(layout.distances[i, j], abs=1e-9)


@pytest.mark.parametrize("seed", range(9))
def test_distances_of_a_filler_are_those_through_its_place(seed):
    """Additive tree metric: to every tip, the filler's length and the way from where it hangs."""
    layout, rng = trial(seed)
    edge = int(rng.integers(len(layout.lengths)))
    offset = SHARES[seed % 3] * float(layout.lengths[edge])
    length = 0.3 * float(layout.lengths.min())
    point = np.array([0.31, 0.83])
    fuller = with_filler(layout, point, (edge, offset), length)
    n, added = layout.tree.n_tips, fuller.tree.n_tips - layout.tree.n_tips
    assert added == (1 if layout.symmetry == "none" else 2)
    assert fuller.distances[:n, :n] == pytest.approx(layout.distances, abs=1e-12)
    a, b = layout.tree.ends[edge]
    through = np.minimum(
        layout.nodes[a, :n] + offset, layout.nodes[b, :n] + layout.lengths[edge] - offset
    )
    tip = int(np.hypot(*(fuller.points - point).T).argmin())  # or n + 1: the left twin is first
    assert fuller.distances[tip, :n] == pytest.approx(through + length, abs=1e-12)
    if added == 2:
        mirrored = fuller.distances[np.ix_(fuller.mirror, fuller.mirror)]
        assert mirrored == pytest.approx(fuller.distances, abs=1e-12)
        assert fuller.reflect(fuller.points[fuller.mirror]) == pytest.approx(fuller.points)
    parts = dict.fromkeys(layout.tree.names, 0.0)
    for name, long in zip(fuller.tree.names, fuller.lengths.tolist(), strict=True):
        if name not in fuller.fillers:
            parts[fuller.part_of[name]] += long
    assert list(parts.values()) == pytest.approx(layout.lengths.tolist(), abs=1e-12)


@pytest.mark.parametrize("seed", range(9))
def test_a_filler_leaves_the_stick_figure_as_it_was_drawn(seed):
    """A part cut at a filler keeps its direction in both pieces, so all nodes stay where they were."""
    layout, rng = trial(seed)
    n = layout.tree.n_tips
    ways = rng.uniform(-3.0, 3.0, len(layout.lengths))
    layout = replace(layout, tree=replace(layout.tree, lengths=layout.lengths, directions=ways))
    edge = int(rng.integers(len(layout.lengths)))
    length = 0.3 * float(layout.lengths.min())
    share = SHARES[seed % 3] * float(layout.lengths[edge])
    fuller = with_filler(layout, np.array([0.31, 0.83]), (edge, share), length)
    before, after = layout_of_tree(layout.tree), layout_of_tree(fuller.tree)
    kept = [*range(n), *(fuller.tree.n_tips + k for k in range(len(layout.tree.joints)))]
    moved = after[kept] - after[fuller.tree.n_tips]
    assert moved == pytest.approx(before - before[n], abs=1e-12)


@pytest.mark.parametrize("seed", range(9))
def test_a_filler_fits_in_every_corner(seed):
    """Metric trees are injective (Aronszajn and Panitchpakdi, 1956), so there is tolerance for one.

    What was added keeps all inequalities, mirror images included.
    """
    layout, _ = trial(seed)
    for corner in layout.sheet.corners.values():
        if np.hypot(*(layout.points - corner).T).min() <= layout.tolerance:
            continue
        filler = corner_filler(layout, np.array(corner), 0.9)
        assert filler.length > 0
        layout = with_filler(layout, filler.point, filler.tree_point, filler.length)
    assert layout.slack.min() >= -1e-12


@pytest.mark.parametrize("seed", range(3))
def test_the_longest_filler_at_a_joint_is_that_of_the_slow_reference(seed):
    """Every point and every joint tried one by one."""
    layout, rng = trial(3 * seed)
    points = rng.uniform(size=(6, 2))
    best = max(
        min(
            float(np.hypot(*(layout.points[tip] - point))) - float(layout.nodes[joint, tip])
            for tip in range(layout.tree.n_tips)
        )
        for point in points
        for joint in range(layout.tree.n_tips, layout.tree.n_nodes)
    )
    found = joint_filler(layout, points, 1e-6)
    assert (found is None) == (best < 1e-6)
    if found is not None:
        assert found.length == pytest.approx(best)


@pytest.mark.parametrize("sample", sorted(path.stem for path in SAMPLES.glob("*.toml")))
def test_fillers_are_called_by_the_side_they_hang_on(sample):
    """By the joint's own side; on the spine, which has none, by that of the sheet."""
    problem = pose(read_figure(SAMPLES / f"{sample}.toml"))
    layout = layout_of(scattered(problem, 3), 0.9)
    for point in (
        np.random.default_rng(5).uniform(size=(12, 2)) * problem.sheet.corners["top right"]
    ):
        filler = corner_filler(layout, point, 0.9)
        layout = with_filler(layout, filler.point, filler.tree_point, filler.length)
    other = {".left": ".right", ".right": ".left"}
    tree = layout.tree
    for name in layout.fillers:
        tip = tree.flaps.index(name)
        joint = tree.joints[tree.ends[tip, 1] - tree.n_tips]
        side = name.removeprefix(name.removesuffix(".left").removesuffix(".right"))
        assert bool(side) == (problem.symmetry != "none")
        if not side:
            continue
        assert tree.flaps[tree.twin[tip]] == name.removesuffix(side) + other[side]
        if any(end in joint for end in other):
            assert other[side] not in joint
        else:
            x, y = layout.points[tip]
            middle = y if problem.symmetry == "diagonal" else problem.sheet.width / 2
            assert (side == ".left") == (x < middle)
    assert tree.written[: tree.n_tips].count("filler 1") == 1 + (problem.symmetry != "none")


def test_a_name_that_is_taken_gets_a_number_from_two_on():
    assert _free_name(("b",), "a") == "a"
    assert _free_name(("a",), "a") == "a (2)"
    assert _free_name(("a.left", "a.right", "a (2)"), "a") == "a (3)"
