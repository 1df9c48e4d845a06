"""Squares on a grid against circles: what a grid costs at most."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from packer.files.figure_toml import read_figure
from packer.grid.pack_grid import pack_grid
from packer.model.packing import scale_of
from packer.model.problem import pose
from packer.model.sheet import Sheet
from packer.search.options import SearchOptions
from packer.search.pack import pack
from packer.search.stopping import MaxEffort, MaxStarts, TimeLimit
from tests.conftest import SAMPLES

ROUND = [
    "chiton",
    "cuttlefish",
    "feather_star",
    "goby",
    "heron",
    "octopus",
    "sea_horse",
    "shore_crab",
]
"""Figures without wide tips, since circles are drawn about a point, of 21 flaps at most."""


@pytest.mark.slow
@pytest.mark.parametrize("name", ROUND)
def test_circles_gain_at_most_a_root_of_two(name):
    """Max metric and Euclidean distance differ by at most sqrt 2, so the scales do.

    A searched circle packing is no better than the best: it must not pass sqrt 2 times the
    proven square scale; and square tips, read as a circle packing, are at least as large.
    """
    packing = pack_grid(
        read_figure(SAMPLES / f"{name}.toml"), options=SearchOptions(stop=MaxEffort(2))
    )
    tree = packing.tree
    asked = dict(zip(tree.names, map(float, packing.rounded), strict=True))
    figure = replace(
        packing.figure,
        flaps=tuple(replace(f, length=_of(asked, f.name)) for f in packing.figure.flaps),
        rivers=tuple(replace(r, length=_of(asked, r.name)) for r in packing.figure.rivers),
    )
    sheet = Sheet(float(packing.cells[0]), float(packing.cells[1]))
    circles = pack(
        pose(figure, sheet, packing.problem.symmetry),
        options=SearchOptions(stop=(MaxStarts(1), TimeLimit(1)), workers=1),
    )
    square = 1.0
    if packing.status == "proven least":
        # the real optimum may be almost a cell smaller on a mirror line or a ratio
        assert circles.scale <= math.sqrt(2) * square * max(packing.cells) / (
            max(packing.cells) - 1
        )
    tips = scale_of(packing.tips, tree.distances_with(packing.rounded))
    assert tips >= square
    if circles.bound is not None:
        assert circles.bound.scale >= square * (1 - 1e-9)


def _of(asked, name):
    return asked[name] if name in asked else asked[f"{name}.left"]
