"""A crease pattern refuses what is none, and says why."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from packer.errors import PatternError
from tests.folded import textbook


@pytest.fixture(scope="module", name="pattern")
def _pattern():
    return textbook.bird()


def changed(array, index, value):
    """A copy of an array with one entry changed."""
    copy = np.array(array)
    copy[index] = value
    return copy


def broken(pattern):
    """(part of the message, what is replaced) for every rule of a pattern."""
    n, e = len(pattern.points), len(pattern.edges)
    inner = pattern.roles.index("ridge")
    over = list(pattern.tree_points)
    return [
        ("arrays", {"points": pattern.points[:, :1]}),
        ("not finite", {"points": changed(pattern.points, (0, 0), np.nan)}),
        ("not finite", {"heights": changed(pattern.heights, 0, np.inf)}),
        ("roles and", {"roles": pattern.roles[:-1]}),
        ("heights and", {"heights": pattern.heights[:-1]}),
        ("tree points for", {"tree_points": tuple(over[:-1])}),
        ("ends at a vertex", {"edges": changed(pattern.edges, (0, 0), n)}),
        ("has a vertex", {"faces": ((0, 1, n), *pattern.faces[1:])}),
        ("off the sheet", {"points": changed(pattern.points, (0, 0), -0.1)}),
        ("is none of", {"roles": ("spine", *pattern.roles[1:])}),
        ("is none of", {"folds": (*pattern.folds[:-1], "X")}),
        ('"B" belongs', {"folds": ("B",) * e}),
        ("needs a length", {"lengths": changed(pattern.lengths, 0, 0.0)}),
        ("vertex of its tip", {"tips": {}}),
        ("no flap of the tree", {"fillers": ("filler 1",)}),
        ("does not have", {"tree_points": ((99, 0.0), *over[1:])}),
        ("beyond the ends", {"tree_points": ((0, 9.0), *over[1:])}),
        ("counter-clockwise", {"faces": (pattern.faces[0][::-1], *pattern.faces[1:])}),
        ("miss the sheet's area", {"faces": pattern.faces[1:]}),
        ("V - E + F", {"points": np.vstack([pattern.points, [0.4, 0.4]]),
                       "heights": np.append(pattern.heights, 0.0),
                       "tree_points": (*over, over[0])}),
        ("its role asks for", {"roles": changed(pattern.roles, inner, "border"),
                               "folds": changed(pattern.folds, inner, "B")}),
    ]  # fmt: skip


def test_every_rule_that_is_broken_is_named(pattern):
    for message, changes in broken(pattern):
        with pytest.raises(PatternError, match=re.escape(message)):
            replace(pattern, **changes)


def test_numbers_of_a_pattern_are_its_own(pattern):
    """Arrays are copies that cannot be written to."""
    points = pattern.points.copy()
    own = replace(pattern, points=points)
    points[0] = 7.0
    assert own.points.tolist() == pattern.points.tolist()
    with pytest.raises(ValueError, match="read-only"):
        own.points[0] = 7.0


def test_folds_say_whether_mountains_and_valleys_are_known(pattern):
    assert not pattern.decided
    folds = ["B" if role == "border" else "M" for role in pattern.roles]
    assert pattern.with_folds(folds).decided
    assert pattern.creases == sum(role != "border" for role in pattern.roles)


def test_edges_at_a_vertex_turn_counter_clockwise(pattern):
    """The angles from each to the next add up to one full turn."""
    for vertex, around in enumerate(pattern.edges_at):
        angles = []
        for k in around:
            a, b = pattern.edges[k]
            way = pattern.points[b if a == vertex else a] - pattern.points[vertex]
            angles.append(float(np.arctan2(way[1], way[0])) % (2 * np.pi))
        turns = np.diff([*angles, angles[0]]) % (2 * np.pi)
        assert turns.sum() == pytest.approx(2 * np.pi)
        assert sorted(around) == np.flatnonzero((pattern.edges == vertex).any(axis=1)).tolist()
