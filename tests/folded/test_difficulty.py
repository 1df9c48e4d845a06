"""Difficulty of the classic bases, counted by hand on the textbook patterns."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from packer.creases.pattern import CreasePattern
from packer.folded.checks import findings
from packer.folded.difficulty import _together, difficulty
from packer.folded.form import fold
from packer.folded.layers import flat_base
from packer.model.figure import Figure, Flap
from packer.model.sheet import Sheet
from packer.model.tree import tree_of
from tests.folded.textbook import bird, fish, frog, river, waterbomb

INRADIUS = (math.sqrt(2) - 1) / 2
"""Of a right triangle with its long side 1: the bird base's rabbit ears."""


@pytest.mark.parametrize(
    ("make", "creases", "vertices", "middle", "feature", "layers", "angles"),
    [
        # two diagonals and two middle lines; the centre; all eight triangles in one stack
        (waterbomb, 4, 1, 0, 0.5, 8, 4),
        # the diagonal; three ridges in each half; two hinges in each half and one through both;
        # the centre and two incentres; six faces in each half; 0, 22.5, 45, 67.5, 90 and 135
        # degrees; the short flap's length
        (fish, 1 + 6 + 5, 3, 0, 1 - math.sqrt(0.5), 12, 6),
        # two diagonals; ridges: two lines through the middle, two more in each triangle; hinges:
        # one in each triangle, four across the diagonals; middle, four incentres, four joints;
        # multiples of 22.5 degrees; the middle flap's length
        (bird, 2 + (2 + 8) + (4 + 4), 9, 1, INRADIUS, 24, 8),
        # four lines through the middle; ridges: four lines through it, two more in each of eight
        # triangles; hinges: one to each half side, eight across the axial lines
        (frog, 4 + (4 + 16) + (8 + 8), 17, 1, (2 - math.sqrt(2)) / 4, 48, 8),
    ],
    ids=["waterbomb", "fish", "bird", "frog"],
)
def test_numbers_of_the_classic_bases(make, creases, vertices, middle, feature, layers, angles):
    pattern = make()
    found = difficulty(pattern, fold(pattern))
    assert found.creases == creases
    assert found.vertices == vertices
    assert found.middle_flaps == middle
    assert found.layers == layers
    assert found.angles == angles
    assert found.feature == pytest.approx(feature, abs=1e-12)


def test_a_waterbomb_that_is_decided_comes_together_at_once():
    """Its ridges agree, so no line of it has pairs that differ: all four lines are tied.

    While nothing is decided, one line could be folded first and the others in mirrored pairs:
    then a diagonal's two halves come together, and the two middle lines.
    """
    pattern = waterbomb()
    assert difficulty(pattern, fold(pattern)).together == 2
    base = flat_base(pattern)
    assert difficulty(base.pattern, base.form).together == 4


def test_a_fish_base_is_folded_in_steps():
    """First the diagonal, then each ear through both layers.

    At an incentre the ridge from the right angle and the hinge to the centre are one line, with
    mirrored ridges and hinges beside it; at the centre the two hinges are mirrored, so that this
    line ties both ears: ridge, hinge, ridge. No other line ties more.
    """
    pattern = fish()
    assert difficulty(pattern, fold(pattern)).together == 3


def folded_in_four(upright):
    """A square folded along its level middle line, a valley, and then upright; low part first."""
    tree = tree_of(Figure("four", (Flap("a", "hub", 0.5), Flap("b", "hub", 0.5))))
    points = np.array([(x / 2, y / 2) for y in range(3) for x in range(3)])
    level, border = [(3, 4), (4, 5)], [(0, 1), (1, 2), (2, 5), (5, 8), (7, 8), (6, 7), (3, 6)]
    far = {0.0: (0, 0.0), 0.5: (0, 0.5), 1.0: (1, 0.0)}  # the tip of a, the hub, the tip of b
    return CreasePattern(
        sheet=Sheet(),
        points=points,
        edges=np.array([*level, (1, 4), (4, 7), *border, (0, 3)]),
        roles=("axial", "axial", "hinge", "hinge") + ("border",) * 8,
        folds=("V", "V", *upright) + ("B",) * 8,
        faces=((0, 1, 4, 3), (1, 2, 5, 4), (3, 4, 7, 6), (4, 5, 8, 7)),
        heights=np.abs(points[:, 1] - 0.5),
        tree_points=tuple(far[x] for x in points[:, 0].tolist()),
        tree=tree,
        lengths=tree.lengths,
        tips={"a": 3, "b": 5},
    )


def test_a_sheet_folded_in_four_is_folded_line_after_line():
    """A fold through two layers is a valley in one and a mountain in the other.

    So one straight line comes together at a time. Were both lines all valleys, neither could be
    folded after the other.
    """
    four = folded_in_four("VM")
    form = fold(four)
    assert findings(four, form) == []
    found = difficulty(four, form)
    assert (found.creases, found.vertices, found.layers, found.angles) == (2, 1, 4, 2)
    assert found.together == 1
    assert difficulty(folded_in_four("VV"), form).together == 2


def fan(*degrees):
    """A square pleated along lines from one corner, the angles rising.

    It folds flat whatever the angles, since Kawasaki's theorem asks something of inner vertices
    alone (Demaine and O'Rourke, Geometric Folding Algorithms, 2007, chapter 12).
    """
    tree = tree_of(Figure("fan", (Flap("a", "hub", 0.5), Flap("b", "hub", 0.5))))
    slopes = [math.tan(math.radians(d)) for d in degrees]
    ends = [(1, t) if t < 1 else (1 / t, 1) for t in slopes]
    low, high = [e for e in ends if e[0] == 1], [e for e in ends if e[0] < 1]
    rim = [(1, 0), *low, (1, 1), *high, (0, 1)]
    points = np.array([(0, 0), *rim], dtype=float)
    count, corner = len(rim), 2 + len(low)
    spokes = [k for k in range(2, count) if k != corner]
    border = [(k, k % count + 1) for k in range(1, count)] + [(0, 1), (0, count)]
    first = [1, *spokes]
    faces = [(0, *range(a, b + 1)) for a, b in zip(first, [*spokes, count], strict=True)]
    return CreasePattern(
        sheet=Sheet(),
        points=points,
        edges=np.array([*((0, k) for k in spokes), *border]),
        roles=("axial",) * len(spokes) + ("border",) * len(border),
        folds=("U",) * len(spokes) + ("B",) * len(border),
        faces=tuple(faces),
        heights=np.zeros(len(points)),
        tree_points=((0, 0.0),) * len(points),
        tree=tree,
        lengths=tree.lengths,
        tips={"a": 1, "b": count},
    )


def test_directions_a_tenth_of_a_degree_apart_are_told_apart():
    """30 and 30.05 degrees are one direction to a hand, 60 and 60.2 are two."""
    pattern = fan(30, 30.05, 60, 60.2)
    found = difficulty(pattern, fold(pattern))
    assert (found.creases, found.vertices, found.angles) == (4, 0, 3)


def test_fillers_are_no_middle_flaps():
    pattern = replace(bird(), fillers=("e",), part_of={})
    assert difficulty(pattern, fold(pattern)).middle_flaps == 0


@pytest.mark.parametrize("make", [fish, bird, frog, river])
def test_directions_agree_with_a_plain_count(make):
    """Every pair of creases compared, a tenth of a degree apart or not."""
    pattern = make()
    form = fold(pattern)
    kinds = []
    for a, b in pattern.points[pattern.edges[form.folded]]:
        way = np.degrees(np.arctan2(*(b - a)[::-1])) % 180
        if all(min(abs(way - k), 180 - abs(way - k)) > 0.1 for k in kinds):
            kinds.append(way)
    assert difficulty(pattern, form).angles == len(kinds)


def test_where_nothing_is_folded_nothing_comes_together():
    pattern = waterbomb()
    flat = fold(pattern)
    flat = replace(flat, folded=np.zeros_like(flat.folded))
    assert _together(pattern, flat, np.arange(len(pattern.edges))) == 0
