"""Edges that run on straight are one line: against shapely and a slow search through all pairs."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import combinations, pairwise

import numpy as np
import pytest
import shapely

from packer.creases.completion.complete import completed
from packer.creases.tip_layout import layout_of
from packer.drawing.crease_drawing import LOOKS, crease_drawing
from packer.drawing.grid_drawing import crease_role_drawing
from packer.drawing.marks.strokes import Path
from packer.drawing.marks.styles import line_kind
from packer.drawing.straight_runs import straight_runs
from packer.grid.grid_creases import grid_creases
from packer.model.problem import pose
from tests.folded.textbook import bird
from tests.grid.whole import filled, whole_figure
from tests.strategies import random_figure, scattered

BENT = 1e-11
"""A corner is straight where the way over it is longer than the way past it by less than this share
of the shorter edge: bent by less than 5e-6, while the least bend of these patterns is 1e-4."""


def on_a_grid(seed):
    """A random tree laid on a grid."""
    return filled(whole_figure(seed, 4 + seed % 5, 4, ("none", "book")[seed % 2]), seed)


def circle_packed(seed):
    """The creases of a random tree, packed in circles."""
    figure = random_figure(np.random.default_rng(seed), 4 + seed % 4)
    return completed(layout_of(scattered(pose(figure), seed), 0.9))


def with_random_folds(pattern, seed):
    """The same creases, some valleys and some mountains, whether they fold flat or not."""
    rng = np.random.default_rng(seed)
    folds = [
        fold if role == "border" else "MMMVVF"[int(rng.integers(6))]
        for role, fold in zip(pattern.roles, pattern.folds, strict=True)
    ]
    return replace(pattern, folds=tuple(folds))


PATTERNS = {
    "textbook": lambda _: bird(),
    "grid": lambda seed: grid_creases(on_a_grid(seed)),
    "circles": circle_packed,
}


@pytest.fixture(params=[(name, seed) for name in PATTERNS for seed in range(6)], name="pattern")
def _pattern(request):
    name, seed = request.param
    pattern = PATTERNS[name](seed)
    return with_random_folds(pattern, seed) if seed % 2 else pattern


def keys_of(pattern):
    return list(zip(pattern.roles, pattern.folds, strict=True))


def slow_runs(pattern, key):
    """Ends of the lines of a key: edges put together where no way over a corner is longer than past it."""
    edges = [
        tuple(ends)
        for ends, own in zip(pattern.edges.tolist(), keys_of(pattern), strict=True)
        if own == key
    ]

    def way(*vertices):
        return sum(math.dist(*pattern.points[list(pair)]) for pair in pairwise(vertices))

    lines = [{k} for k in range(len(edges))]
    for k, j in combinations(range(len(edges)), 2):
        shared = set(edges[k]) & set(edges[j])
        if len(shared) == 1:
            (here,) = shared
            a, b = sum(edges[k]) - here, sum(edges[j]) - here
            shorter = min(way(a, here), way(here, b))
            if way(a, here, b) - way(a, b) < BENT * shorter:
                one = next(line for line in lines if k in line)
                other = next(line for line in lines if j in line)
                if one is not other:
                    lines.remove(other)
                    one |= other
    return sorted(
        max(
            (tuple(sorted(ends)) for ends in combinations({v for k in line for v in edges[k]}, 2)),
            key=lambda ends: way(*ends),
        )
        for line in lines
    )  # fmt: skip


def test_lines_are_those_of_a_slow_search(pattern):
    runs = straight_runs(pattern, keys_of(pattern))
    assert set(runs) == set(keys_of(pattern))
    for key, own in runs.items():
        assert sorted(tuple(sorted(run)) for run in own) == slow_runs(pattern, key)


def test_lines_of_a_kind_are_as_long_as_the_union_of_its_edges(pattern):
    for key, own in straight_runs(pattern, keys_of(pattern)).items():
        edges = pattern.edges[[each == key for each in keys_of(pattern)]]
        union = shapely.union_all(shapely.linestrings(pattern.points[edges]))
        lines = shapely.linestrings(pattern.points[np.array(own)])
        assert shapely.length(lines).sum() == pytest.approx(union.length, rel=1e-9)
        assert shapely.union_all(lines).length == pytest.approx(union.length, rel=1e-9)


def test_a_line_passes_where_others_cross_and_ends_where_its_fold_changes():
    pattern = grid_creases(on_a_grid(1))
    runs = straight_runs(pattern, keys_of(pattern))
    assert sum(map(len, runs.values())) < len(pattern.edges) / 2
    turned = [fold if fold in "BF" else "MV"[k % 2] for k, fold in enumerate(pattern.folds)]
    assert sum(
        len(own) for key, own in straight_runs(pattern, turned).items() if key in "MV"
    ) > sum(len(own) for key, own in runs.items() if key[1] == "U")


def test_edges_without_a_key_are_left_out():
    pattern = bird()
    assert straight_runs(pattern, [None] * len(pattern.edges)) == {}
    ridges = [True if role == "ridge" else None for role in pattern.roles]
    assert list(straight_runs(pattern, ridges)) == [True]


@pytest.mark.parametrize("seed", range(4))
def test_drawings_draw_each_line_once(seed):
    """The plate of a grid, its print and that of a circle packing have one path for each line."""
    packing = on_a_grid(seed)
    pattern = with_random_folds(grid_creases(packing), seed)
    drawings = [crease_role_drawing(pattern, packing, 200.0)]
    drawings += [crease_drawing(pattern, 200.0, look) for look in LOOKS]
    for drawing in drawings:
        groups = dict(drawing.groups)
        for (role, fold), own in straight_runs(pattern, keys_of(pattern)).items():
            drawn = groups[line_kind(role, fold)]
            assert all(isinstance(mark, Path) for mark in drawn)
            if role == "border":
                assert len(drawn) == 1
                assert drawn[0].closed
                continue
            assert [sorted(mark.points) for mark in drawn] == [
                sorted(map(tuple, (pattern.points[list(run)] * 200.0).tolist())) for run in own
            ]
