"""Levels of detail: what is left of a figure when finer parts are left out."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from packer.errors import FigureError
from packer.files.figure_toml import figure_text, parse_figure
from packer.model.figure import Figure, Flap, River
from packer.model.stick_layout import layout
from packer.model.tree import node_distances, tree_of
from tests.strategies import figures


@st.composite
def detailed(draw, **options):
    """Figures whose parts have details from 1 to 3."""
    figure = draw(figures(**options))
    details = st.integers(1, 3)
    return replace(
        figure,
        flaps=tuple(replace(flap, detail=draw(details)) for flap in figure.flaps),
        rivers=tuple(replace(river, detail=draw(details)) for river in figure.rivers),
    )


def level_of(figure, detail):
    """The level, or nothing where it is no figure."""
    try:
        return figure.at(detail)
    except FigureError:
        assume(False)


def node_of(tree, name):
    """The node in the whole tree at which a part of a level ends, by the part's name."""
    stem, _, side = (
        name.rpartition(".") if name.endswith((".left", ".right")) else (name, "", "")
    )
    last = stem.split(" + ")[-1] + (f".{side}" if side else "")
    edge = tree.names.index(last)
    return edge, tree.ends[edge].tolist()


@given(detailed(), st.integers(1, 2))
def test_distances_are_those_of_the_tree_with_the_finer_parts_shrunk_to_nothing(figure, detail):
    level = level_of(figure, detail)
    whole, small = tree_of(figure), tree_of(level)
    parts = {part.name: part for part in figure.parts}
    lengths = np.array(
        [
            length if parts[name].detail <= detail else 0.0
            for name, length in zip(whole.written, whole.lengths, strict=True)
        ]
    )
    apart = node_distances(whole, lengths)
    nodes = []
    for name in small.flaps:
        edge, (a, b) = node_of(whole, name)
        if edge >= whole.n_tips:  # a river that ends in nothing: of its ends the farther one
            far = apart[:, [whole.n_tips + whole.joints.index(j) for j in kept(whole, level)]]
            b = max(a, b, key=lambda node: far[node].min())
            a = b
        nodes.append(a)
    want = apart[np.ix_(nodes, nodes)]
    assert np.allclose(small.distances, want, rtol=1e-12, atol=1e-12)


def kept(whole, level):
    """The joints of a level, as the whole tree names them."""
    return [joint for joint in tree_of(level).joints if joint in whole.joints]


@given(detailed())
def test_the_finest_level_is_the_figure_itself(figure):
    assert figure.at(max(figure.details)) is figure


@given(detailed(flex=True, places=True), st.integers(1, 2))
def test_a_level_is_a_figure_that_can_be_written_and_read(figure, detail):
    level = level_of(figure, detail)
    assert parse_figure(figure_text(level)) == level
    for joint in tree_of(level).neighbours[tree_of(level).n_tips :]:
        assert len(joint) >= 2


def leg(**changes):
    foot = {"heel": 2, "toe": 2, "nail": 3} | changes
    return Figure(
        "bird",
        (
            Flap("head", "hip", 2.0),
            Flap("toe", "ankle", 1.0, place=("edge",), flex=0.1, detail=foot["toe"]),
            Flap("heel", "ankle", 0.5, detail=foot["heel"]),
            Flap("nail", "ankle", 0.2, detail=foot["nail"]),
        ),
        (River("leg", ("hip", "ankle"), 3.0, pair=True, flex=0.2),),
        "book",
    )


def test_a_leg_without_its_toes_is_a_flap():
    assert leg().at(1) == Figure(
        "bird",
        (Flap("head", "hip", 2.0), Flap("leg", "hip", 3.0, pair=True, flex=0.2)),
        (),
        "book",
    )


def test_a_leg_with_one_toe_is_a_flap_with_both_names():
    level = leg(toe=1).at(1)
    assert level.rivers == ()
    assert level.flaps[1].name == "leg + toe"
    assert level.flaps[1].length == 4.0
    assert level.flaps[1].pair
    assert level.flaps[1].place == ("edge",)
    assert level.flaps[1].flex == pytest.approx(0.7 / 4)
    assert tree_of(level).flaps == ("head", "leg + toe.left", "leg + toe.right")


def test_rivers_join_where_nothing_branches_any_more():
    spine = [River(f"ring {k}", (f"j{k}", f"j{k + 1}"), 1.0) for k in range(3)]
    ends = [Flap(f"end {k}", f"j{j}", 2.0) for k, j in enumerate((0, 0, 3, 3))]
    fins = [Flap(f"fin {k}", f"j{k}", 0.5, detail=2) for k in (1, 2)]
    level = Figure("eel", (*ends, *fins), tuple(spine)).at(1)
    assert level.rivers == (River("ring 0 + ring 1 + ring 2", ("j0", "j3"), 3.0),)


def test_a_paired_river_left_out_leaves_pairs():
    figure = leg(heel=1, toe=1, nail=1)
    level = figure.without({"leg"})
    assert {flap.name for flap in level.flaps if flap.pair} == {"toe", "heel", "nail"}
    assert {flap.joint for flap in level.flaps} == {"hip"}


def test_pleats_of_parts_that_join_keep_their_places():
    parts = (
        (Flap("a", "j", 1.0), Flap("b", "j", 1.0)),
        (Flap("fin", "k", 1.0, detail=2), Flap("tail", "k", 2.0, pleats=1, depth=0.2)),
        (River("body", ("k", "j"), 2.0, pleats=(0.25,), depth=0.1),),
    )
    level = Figure("fish", (*parts[0], *parts[1]), parts[2]).at(1)
    tail = level.flaps[-1]
    assert tail.name == "body + tail"
    # counted from j: the pleat at a quarter from k lies at 1.5 of 2, that of the tail at 3 of 4
    assert tail.pleats == pytest.approx((0.375, 0.75))
    assert tail.depth == (0.1, 0.2)
    assert tail.paper == pytest.approx(4 + 0.6)


@pytest.mark.parametrize(
    ("figure", "words"),
    [
        (Figure("x", (Flap("a", "j", 1.0), Flap("b", "j", 1.0, detail=2))), "at detail 1"),
        (
            Figure("x", (Flap("a", "j", 1.0, detail=2), Flap("b", "j", 1.0, detail=2))),
            "no flap",
        ),
    ],
)
def test_a_level_with_too_few_flaps_is_refused(figure, words):
    with pytest.raises(FigureError, match=words):
        figure.at(1)


def test_an_unknown_part_is_refused_with_the_one_meant():
    with pytest.raises(FigureError, match='did you mean "toe"'):
        leg().without({"tow"})


@pytest.mark.parametrize("detail", [0, -1, 1.0, True, "fine", 100])
def test_a_detail_that_is_no_count_is_refused(detail):
    with pytest.raises(FigureError, match="write a whole number from 1"):
        Flap("a", "j", 1.0, detail=detail)


def test_a_level_keeps_the_pose_of_what_is_left():
    figure = replace(
        leg(toe=1), pose=(("head", 0.0), ("leg", 150.0), ("toe", 120.0), ("nail", 90.0))
    )
    assert figure.at(1).pose == (("head", 0.0), ("leg + toe", 120.0))
    assert replace(leg(), pose=figure.pose).at(1).pose == (("head", 0.0), ("leg", 150.0))


@pytest.mark.parametrize("ways", list(product((1, -1), repeat=3)))
@pytest.mark.parametrize("end", [1, 2], ids=["branching", "bare"])
def test_joined_parts_lie_as_they_lay_whichever_way_they_were_written(ways, end):
    """The pose tells a river from its first joint to its second, a flap from joint to tip."""
    spine = [River(f"r{k}", (f"j{k}", f"j{k + 1}")[::way], 1.0) for k, way in enumerate(ways)]
    ends = [Flap(f"head {k}", "j0", 1.0) for k in range(2)]
    fins = [Flap(f"fin {k}", f"j{k}", 1.0, detail=2) for k in (1, 2)]
    fins += [Flap(f"toe {k}", "j3", 1.0, detail=end) for k in range(2)]
    pose = [(flap.name, 40.0 * k) for k, flap in enumerate((*ends, *fins))]
    pose += [(f"r{k}", 120.0 if way == 1 else 300.0) for k, way in enumerate(ways)]
    figure = Figure("eel", (*ends, *fins), tuple(spine), pose=tuple(pose))
    level = figure.at(1)
    name = "r0 + r1 + r2" if end == 1 else level.flaps[-1].name
    assert len(level.pose) == len(level.parts)
    tree = tree_of(level)
    at = dict(zip((*tree.flaps, *tree.joints), layout(tree), strict=True))
    way = at[name if end == 2 else "j3"] - at["j0"]
    # 120 degrees clockwise from upright, three parts of length 1
    assert way == pytest.approx((3 * np.sqrt(3) / 2, -1.5))


def test_of_joined_parts_the_last_along_them_tells_the_direction():
    """However the pieces stand in the name, which begins with the part written first."""
    figure = Figure(
        "x",
        tuple(Flap(f"a {k}", "j2", 1.0) for k in range(2))
        + tuple(Flap(f"t {k}", "j0", 1.0, detail=2) for k in range(2))
        + (Flap("fin", "j1", 1.0, detail=2),),
        (River("shin", ("j0", "j1"), 1.0), River("thigh", ("j1", "j2"), 1.0)),
        pose=(("shin", 10.0), ("thigh", 50.0)),
    )
    # from the joint of the thigh: the thigh first, then the shin, which ran towards it
    assert figure.at(1).pose[-1][1] == 190.0
