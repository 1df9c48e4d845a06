"""How a packing lies: as the stick figure is drawn, and nothing but its position changes."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from packer.errors import FigureError
from packer.files.figure_toml import figure_text, parse_figure, read_figure
from packer.grid.pack_grid import pack_grid
from packer.model.laying import POSITIONS, agreement, laid, positions
from packer.model.packing import Packing
from packer.model.problem import pose
from packer.model.sheet import Sheet
from packer.model.stick_layout import layout
from packer.model.tree import tree_of
from packer.search.options import SearchOptions
from packer.search.pack import pack
from packer.search.stopping import MaxStarts
from tests.conftest import SAMPLES

BIRD = """
name = "bird"
symmetry = "book"
[flaps]
beak = { joint = "neck", length = 1 }
wing = { joint = "back", length = 2, pair = true }
tail = { joint = "back", length = 1.5 }
[rivers]
throat = { joints = ["neck", "back"], length = 1 }
[pose]
beak = 0
wing = 100
tail = 180
throat = 180
"""


def directions(figure):
    """The direction of each part in the stick figure, in degrees clockwise from upright."""
    tree, at = tree_of(figure), layout(tree_of(figure))
    ways = [at[a] - at[b] for a, b in tree.ends]
    ways = [way if k < tree.n_tips else -way for k, way in enumerate(ways)]
    return {
        name: math.degrees(math.atan2(*way)) % 360
        for name, way in zip(tree.names, ways, strict=True)
    }


def test_the_stick_figure_is_drawn_as_posed():
    assert directions(parse_figure(BIRD)) == pytest.approx(
        {"beak": 0, "wing.left": 260, "wing.right": 100, "tail": 180, "throat": 180}
    )


def test_parts_without_a_direction_lie_as_is_usual():
    figure = parse_figure(BIRD)
    plain = replace(figure, pose=())
    some = replace(figure, pose=(("wing", 45.0),))
    usual, posed = directions(plain), directions(some)
    assert posed["wing.right"] == pytest.approx(45)
    assert posed["tail"] == pytest.approx(usual["tail"])


def test_a_pose_is_written_and_read():
    figure = parse_figure(BIRD)
    assert figure.pose[1] == ("wing", 100.0)
    assert parse_figure(figure_text(figure)) == figure


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("wings = 3", 'no part is called "wings"; did you mean "wing"'),
        ('wing = "up"', "'up' is not a direction; write degrees"),
        ("wing = inf", "inf is not a direction"),
    ],
)
def test_a_wrong_direction_is_told(line, said):
    with pytest.raises(FigureError, match=said):
        parse_figure(f"{BIRD}\n".replace("wing = 100", line))


@pytest.mark.parametrize("turn", POSITIONS)
@pytest.mark.parametrize("symmetry", ["none", "book", "diagonal"])
def test_whatever_way_it_was_found_it_lies_the_same_way(turn, symmetry):
    figure = replace(parse_figure(BIRD), pose=())
    packing = pack(
        figure, symmetry=symmetry, options=SearchOptions(stop=MaxStarts(1), workers=1)
    )
    if turn not in positions(packing.problem):
        pytest.skip("this position has another mirror line")
    about = packing.points - 0.5
    points = about @ np.array(turn).T + 0.5
    turned = Packing(packing.problem, tuple(map(tuple, points)))
    again = laid(turned)
    assert again.scale == pytest.approx(packing.scale)
    assert laid(again) == again
    # of a drawing that is its own mirror image two positions may agree alike
    agreed = [
        agreement(p.problem, p.points - 0.5, positions(p.problem)) for p in (again, packing)
    ]
    assert agreed[0][0] == pytest.approx(agreed[0].max(), rel=1e-5)
    assert agreed[0][0] == pytest.approx(agreed[1][0], rel=1e-5)


def test_the_head_lies_where_the_drawing_has_it():
    """Of two positions with a mirror line, the one with the beak above the tail."""
    figure = parse_figure(BIRD)
    down = replace(figure, pose=tuple((name, 180 - angle) for name, angle in figure.pose))
    for bird, sign in ((figure, 1), (down, -1)):
        for packed in (
            pack(bird, options=SearchOptions(stop=MaxStarts(1), workers=1)),
            pack_grid(pose(bird)),
        ):
            at = dict(zip(packed.tree.flaps, packed.tips, strict=True))
            assert sign * (at["beak"][1] - at["tail"][1]) > 0
            assert packed.violations() == []


def test_a_place_that_was_asked_for_is_kept():
    figure = parse_figure(
        BIRD.replace('"neck", length = 1 }', '"neck", length = 1, place = "bottom" }')
    )
    packing = pack(figure, options=SearchOptions(stop=MaxStarts(1), workers=1))
    assert packing.tips[0][1] == 0
    assert packing.violations() == []


def test_a_rectangle_has_four_positions():
    assert len(positions(pose(read_figure(SAMPLES / "goby.toml"), Sheet(2, 1), "none"))) == 4
