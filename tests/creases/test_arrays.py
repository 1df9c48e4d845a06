"""Rows and columns of the bird base: the search finds them, and their pattern is the base repeated.

A bird base on a unit square has four flaps of 1/2 with tips in the corners and one of (sqrt 2 - 1) / 2
with its tip in the middle, at scale 1 (the textbook's proportions: each of its four triangles is
filled by a rabbit ear). On a 1 : n or 2 : n rectangle of such squares neighbours share two corners.
"""

from __future__ import annotations

import math
from itertools import product

import numpy as np
import pytest
import shapely

from packer.creases.completion.complete import crease_pattern
from packer.files.figure_toml import read_figure
from packer.folded.checks import findings
from packer.folded.form import fold
from packer.model.figure import Figure, Flap
from packer.model.packing import Packing
from packer.model.problem import pose
from packer.model.sheet import Sheet
from packer.search.options import SearchOptions
from packer.search.pack import pack
from packer.search.stopping import MaxStarts
from tests.conftest import SAMPLES
from tests.folded.textbook import bird


def array(across, up):
    """The star of all flaps of bird bases in rows and columns, and their tips."""
    corners = list(product(range(across + 1), range(up + 1)))
    middles = [(x + 0.5, y + 0.5) for x, y in product(range(across), range(up))]
    flaps = [Flap(f"arm {k}", "hub", 0.5) for k in range(len(corners))]
    flaps += [Flap(f"stub {k}", "hub", (math.sqrt(2) - 1) / 2) for k in range(len(middles))]
    problem = pose(Figure("array", tuple(flaps)), Sheet(float(across), float(up)))
    return Packing(problem, tuple(map(tuple, np.array(corners + middles, float).tolist())))


@pytest.mark.parametrize("across", [2, 3])
def test_the_search_finds_a_row_of_bird_bases(across):
    asked = array(across, 1)
    assert asked.scale == pytest.approx(1, rel=1e-12)
    options = SearchOptions(stop=MaxStarts(1), workers=1)
    packing = pack(asked.problem, options=options, proof=1.0 if across == 2 else 0.0)
    assert packing.scale == pytest.approx(1, rel=1e-9)
    assert sorted(np.round(packing.tips, 6).tolist()) == sorted(np.array(asked.tips).tolist())
    if across == 2:
        assert packing.headroom < 1e-6  # no packing is larger: branch and bound


def test_the_sample_is_best_packed_as_two_rows_of_three():
    figure = read_figure(SAMPLES / "feather_star.toml")
    packing = pack(figure, options=SearchOptions(stop=MaxStarts(1), workers=1), proof=0)
    assert packing.scale == pytest.approx(1, rel=1e-9)
    assert sorted(np.round(packing.tips, 6).tolist()) == sorted(
        np.array(array(3, 2).tips).tolist()
    )


def inside(pattern, square, dx, dy):
    """The creases inside a square, moved by (-dx, -dy), as lines by role."""
    lines = {}
    for (a, b), role in zip(pattern.points[pattern.edges], pattern.roles, strict=True):
        middle = (a + b) / 2 - (dx, dy)
        if square.contains(shapely.Point(middle)):
            lines.setdefault(role, []).append(shapely.LineString([a - (dx, dy), b - (dx, dy)]))
    return {role: shapely.union_all(found) for role, found in lines.items()}


@pytest.mark.parametrize(("across", "up"), [(2, 1), (3, 1), (3, 2)])
def test_its_pattern_is_the_textbooks_repeated_and_folds(across, up):
    pattern = crease_pattern(array(across, up))
    assert pattern.fillers == ()
    assert findings(pattern, fold(pattern)) == []
    square = shapely.box(1e-6, 1e-6, 1 - 1e-6, 1 - 1e-6)
    base = inside(bird(), square, 0, 0)
    for dx, dy in product(range(across), range(up)):
        here = inside(pattern, square, dx, dy)
        assert here.keys() == base.keys()
        for role, lines in base.items():
            assert here[role].length == pytest.approx(lines.length, rel=1e-9)
            assert here[role].difference(lines.buffer(1e-7)).length < 1e-9
