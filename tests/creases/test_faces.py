"""Faces over the tree: what folds, what does not turn over, what is in strands."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from packer.creases.faces import misfit, split_rivers, strands, unturned
from packer.creases.pattern import CreasePattern
from packer.model.figure import Figure, Flap
from packer.model.sheet import Sheet
from packer.model.tree import tree_of
from tests.folded.textbook import bird, fish, frog, river, waterbomb


@pytest.fixture(params=[bird, fish, frog, river, waterbomb], name="pattern")
def _pattern(request):
    return request.param()


def test_textbook_bases_fold_rigidly_and_turn_over_at_every_crease(pattern):
    assert misfit(pattern) < 1e-12
    assert unturned(pattern).tolist() == []
    assert set(strands(pattern).values()) == {1}
    assert split_rivers(pattern) == ()


def test_a_height_that_is_wrong_stretches_a_face(pattern):
    heights = pattern.heights.copy()
    heights[int(heights.argmax())] += 1e-3
    assert misfit(replace(pattern, heights=heights)) > 1e-4


def test_a_crease_that_is_left_unfolded_is_found():
    """A sheet that lies flat as it is, with a line across its left half that claims to fold."""
    tree = tree_of(Figure("flat", (Flap("a", "hub", 0.5), Flap("b", "hub", 0.5))))
    points = np.array([(0, 0), (0.5, 0), (1, 0), (1, 1), (0.5, 1), (0, 1)])
    edges = [(0, 1), (1, 2), (2, 3), (3, 4), (4, 5), (0, 5), (1, 4), (0, 4)]
    far = {0.0: (0, 0.0), 0.5: (0, 0.5), 1.0: (1, 0.0)}  # the tip of a, the hub, the tip of b
    flat = CreasePattern(
        sheet=Sheet(),
        points=points,
        edges=np.array(edges),
        roles=("border",) * 6 + ("hinge", "ridge"),
        folds=("B",) * 6 + ("U", "U"),
        faces=((0, 1, 4), (0, 4, 5), (1, 2, 3, 4)),
        heights=points[:, 1],
        tree_points=tuple(far[x] for x in points[:, 0].tolist()),
        tree=tree,
        lengths=tree.lengths,
        tips={"a": 0, "b": 2},
    )
    assert misfit(flat) == 0
    assert unturned(flat).tolist() == [7]
