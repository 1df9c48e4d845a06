"""The layout of stick figures: lengths true, no crossings, twins mirrored."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings

from packer.drawing.figure_drawing import FILLS, figure_drawing, mm_to_fit
from packer.files.figure_toml import read_figure
from packer.model.figure import Figure, Flap, River
from packer.model.stick_layout import layout, spine_of
from packer.model.tree import Tree, tree_of
from tests.conftest import SAMPLES
from tests.strategies import figures


def parts(tree, at):
    return [shapely.LineString(at[pair]) for pair in tree.ends]


def crossings(tree, at):
    """Pairs of parts that cross, found by shapely."""
    lines = parts(tree, at)
    return [
        (tree.names[a], tree.names[b])
        for a in range(len(lines))
        for b in range(a)
        if not set(tree.ends[a]) & set(tree.ends[b]) and lines[a].crosses(lines[b])
    ]


@settings(max_examples=40, deadline=None)
@given(figures(max_flaps=14))
def test_lengths_are_true_and_nothing_crosses(figure):
    tree = tree_of(figure)
    at = layout(tree)
    assert [line.length for line in parts(tree, at)] == pytest.approx(tree.lengths, rel=1e-9)
    assert crossings(tree, at) == []


@pytest.mark.parametrize("name", ["goby", "heron", "prawn", "sea_horse", "shore_crab"])
def test_a_figure_fills_its_box_and_stays_in_it(name):
    """Its names with it, so that they do not run into the packing beside it."""
    figure = read_figure(SAMPLES / f"{name}.toml")
    drawing = figure_drawing(figure, mm_to_fit(figure, 160.0, 150.0))
    assert 1 <= min(160.0 / drawing.width, 150.0 / drawing.height) <= FILLS


def mirrored_tips(tree, spine):
    """Twins that hang on the spine by twins alone; others cannot be mirrored in it."""
    found = set()
    todo = [(node, None) for node in spine]
    while todo:
        node, came = todo.pop()
        if node < tree.n_tips and came is not None:
            found.add(node)
        for there, edge in tree.neighbours[node]:
            if there != came and there not in spine and tree.twin[edge] != edge:
                todo.append((there, node))
    return found


@settings(max_examples=40, deadline=None)
@given(figures(max_flaps=14))
def test_twins_are_mirror_images(figure):
    tree = tree_of(figure)
    spine = spine_of(tree)
    if not spine:
        return
    at = layout(tree)
    image = at * [-1, 1] + [2 * at[spine[0], 0], 0]
    for tip in mirrored_tips(tree, spine):
        assert at[tree.twin[tip]] == pytest.approx(image[tip], abs=1e-9 * tree.lengths.sum())


@pytest.mark.parametrize("path", sorted(SAMPLES.glob("*.toml")), ids=lambda path: path.stem)
def test_samples_stand_upright_and_apart(path):
    figure = read_figure(path)
    tree = tree_of(replace(figure, pose=()))  # a drawn pose is the designer's own
    at = layout(tree)
    assert crossings(tree, at) == []
    tips = at[: tree.n_tips]
    apart = min(np.hypot(*(tips[i] - tips[:i]).T).min() for i in range(1, len(tips)))
    # Half of the shortest part: no two names fall on one place.
    assert apart > 0.25 * tree.lengths.min()
    for node in spine_of(tree):
        assert at[node, 0] == pytest.approx(at[spine_of(tree)[0], 0], abs=1e-9)


def test_a_star_is_regular():
    tree = tree_of(Figure("star", tuple(Flap(f"arm {k}", "centre", 2.0) for k in range(7))))
    at = layout(tree)
    turns = np.arctan2(*(at[:7] - at[7]).T)
    assert np.diff(np.sort(turns)) == pytest.approx(2 * np.pi / 7, abs=1e-6)
    assert turns[0] == pytest.approx(0, abs=1e-9)


def test_the_end_written_first_is_on_top():
    flaps = (
        Flap("beak", "head", 1),
        Flap("wing", "back", 2, pair=True),
        Flap("tail", "back", 1),
    )
    tree = tree_of(Figure("bird", flaps, (River("neck", ("head", "back"), 1),), "book"))
    at = dict(zip(tree.flaps, layout(tree), strict=False))
    assert at["beak"][1] > at["wing.left"][1] > at["tail"][1]
    assert at["wing.left"][0] < at["beak"][0] < at["wing.right"][0]


def test_twins_of_which_a_pattern_split_one_are_laid_out():
    # the tree of the creases of three equal flaps on a square: flap, left and right
    tree = Tree(
        ("a", "b.left", "b.right"),
        ("a, inner part", "b.right, inner part"),
        ("centre", "a, inner part, end", "b.right, inner part, end"),
        np.array([[0, 4], [1, 3], [2, 5], [4, 3], [5, 3]]),
        np.array([0.16, 0.53, 0.16, 0.35, 0.35]),
        np.zeros(5),
        np.array([0, 2, 1, 3, 4]),
        ((), (), ()),
    )
    at = layout(tree)
    assert np.hypot(*(at[tree.ends[:, 0]] - at[tree.ends[:, 1]]).T) == pytest.approx(
        tree.lengths
    )
    assert crossings(tree, at) == []
