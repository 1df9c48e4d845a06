"""Plans against the classic bases, whose layers and widths can be counted on the folded form."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from packer.errors import OptionError, SheetError
from packer.limits import SIDE
from packer.model.figure import Figure, Flap, River
from packer.model.packing import Packing
from packer.model.problem import pose
from packer.model.sheet import Sheet
from packer.planning.layer_estimate import flap_widths, hinge_lengths, joint_layers
from packer.planning.paper import Paper, named_paper
from packer.planning.plan import plan, sheet_for
from tests.strategies import packings

CORNERS = ((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0))
SIDES = ((0.5, 0.0), (1.0, 0.5), (0.5, 1.0), (0.0, 0.5))
ROOT = math.sqrt(2)


def star(lengths, tips, sheet=None):
    figure = Figure("star", tuple(Flap(f"f{k}", "hub", x) for k, x in enumerate(lengths)))
    return Packing(pose(figure, sheet or Sheet()), tuple(tips))


# Demaine and O'Rourke, Geometric Folding Algorithms (2007), chapter 16: the classic bases as stars
BIRD = star([0.5] * 4 + [(ROOT - 1) / 2], [*CORNERS, (0.5, 0.5)])
FROG = star([ROOT / 4] * 5 + [(2 - ROOT) / 4] * 4, [*CORNERS, (0.5, 0.5), *SIDES])


def test_the_classic_bases_are_packed_at_scale_one():
    assert BIRD.scale == pytest.approx(1)
    assert FROG.scale == pytest.approx(1)


def layers_of(packing, flap):
    return hinge_lengths(packing)["hub", flap] / flap_widths(packing)[flap]


def test_layers_of_the_classic_bases_are_those_of_the_folded_form():
    # counted on the folded bases: 22.5 degree wedges, 4 to a corner, 8 to an edge, 16 to the middle
    assert layers_of(BIRD, "f0") == pytest.approx(4, rel=0.06)
    assert sum(layers_of(BIRD, f"f{k}") for k in range(4)) == pytest.approx(16, rel=0.06)
    assert layers_of(FROG, "f4") == pytest.approx(16, rel=0.06)
    assert layers_of(FROG, "f5") == pytest.approx(8, rel=0.06)


def test_a_flap_folded_to_half_its_width_has_twice_the_layers():
    wide, slim = joint_layers(BIRD)[0], joint_layers(BIRD, SLIM := 0.1)[0]
    assert slim.width == SLIM
    assert slim.layers / wide.layers == pytest.approx(wide.width / SLIM)


def test_a_river_has_a_hinge_at_each_end():
    figure = Figure(
        "line",
        (Flap("a", "j", 1), Flap("b", "j", 1), Flap("c", "k", 1), Flap("d", "k", 1)),
        (River("r", ("j", "k"), 1),),
    )
    packing = Packing(pose(figure, Sheet(3, 2)), ((0, 0), (0, 2), (3, 0), (3, 2)))
    assert packing.scale == pytest.approx(1)
    hinges = hinge_lengths(packing)
    # around the joint k the river's rim lies 2 from the tips a and b: arcs cut off by the sheet
    # and by each other, from the side at (2, 0) to where both circles meet at (root 3, 1)
    assert hinges["k", "r"] == pytest.approx(2 * 2 * math.asin(1 / 2), rel=1e-3)
    assert hinges["j", "r"] == pytest.approx(hinges["k", "r"], rel=1e-6)
    assert hinges["j", "a"] == pytest.approx(math.pi / 2, rel=1e-3)


def test_a_joint_is_as_wide_as_its_longest_flap_and_a_river_counts_where_none_is():
    figure = Figure(
        "chain",
        (Flap("a", "j", 0.5), Flap("b", "j", 0.5), Flap("c", "l", 0.5), Flap("d", "l", 0.5)),
        (River("r", ("j", "k"), 1), River("s", ("k", "l"), 2)),
    )
    packing = Packing(pose(figure, Sheet(4, 1)), ((0, 0), (0, 1), (4, 0), (4, 1)))
    widths = {row.joint: row.width / packing.scale for row in joint_layers(packing)}
    kite = math.tan(math.pi / 8)
    assert widths == pytest.approx({"j": 0.5 * kite, "k": 2 * kite, "l": 0.5 * kite})


def test_sizes_are_scale_times_length_times_the_sheet():
    made = plan(BIRD, Sheet(350, 350, "mm"), named_paper("kami"), allowance=0.1)
    sizes = {part.name: part for part in made.parts}
    assert sizes["f0"].on_sheet == pytest.approx(175)
    assert sizes["f0"].finished == pytest.approx(157.5)
    assert sizes["f0"].width == pytest.approx(175 * math.tan(math.pi / 8))
    assert made.length == pytest.approx(0.9 * 350)  # two long flaps end to end
    assert made.thickness == pytest.approx(made.layers * 0.08)
    assert made.narrowest.name == "f4"
    assert made.stock[0][0].name == "square 350"


def test_a_sheet_with_a_unit_plans_itself_and_any_unit_will_do():
    inches = star([1, 1], [(0, 0), (8, 8)], Sheet(8, 8, "in"))
    assert plan(inches).sheet.width == pytest.approx(203.2)
    assert plan(BIRD, Sheet(35, 35, "cm")).length == pytest.approx(0.95 * 350)


@settings(deadline=None, max_examples=40)
@given(packings(max_flaps=6), st.floats(5, 300), st.floats(0, 0.3))
def test_the_sheet_that_wishes_need_grants_them_and_is_the_smallest(packing, wish, allowance):
    name = packing.tree.written[0]
    lengths = packing.sheet_lengths
    pairs = zip(packing.tree.names, packing.tree.written, strict=True)
    shortest = min(lengths[part] for part, written in pairs if written == name)
    longer = max(packing.sheet.width, packing.sheet.height)
    assume(longer * wish / shortest < 0.5 * SIDE.most)  # two tips may lie all but on each other
    cut = sheet_for(packing, {name: wish}, allowance=allowance)

    def least(sheet):
        mm = sheet.width / packing.sheet.width
        return shortest * mm * (1 - allowance)

    assert least(cut) >= wish * (1 - 1e-6)
    shorter = min(cut.width, cut.height)
    smaller = (
        Sheet(*(side * (shorter - 1) / shorter for side in (cut.width, cut.height)), "mm")
        if shorter > 1
        else None
    )
    assert smaller is None or least(smaller) < wish
    assert shorter == pytest.approx(round(shorter))


def test_a_wish_that_needs_a_sheet_of_more_than_a_kilometre_is_refused():
    """Two tips lie all but on each other, so that a flap of 300 mm takes 300 m, and 3 km on the longer side."""
    tight = star([1, 1], [(0, 0), (0.002, 0)], Sheet(1, 10))
    with pytest.raises(OptionError, match="ask for less"):
        sheet_for(tight, {tight.tree.written[0]: 300.0})


def test_wishes_may_stand_for_many_parts():
    figure = Figure(
        "crab", (Flap("front leg", "j", 2, pair=True), Flap("hind leg", "j", 1, pair=True))
    )
    packing = Packing(pose(figure, Sheet()), CORNERS)
    short = packing.scale * 1
    for wish in ("*leg", "hind leg", "hind leg.left", "HIND*"):
        cut = sheet_for(packing, {wish: 60}, allowance=0)
        assert cut.width == math.ceil(60 / short - 1e-6)
    figure_long = sheet_for(packing, {}, 150, allowance=0)
    assert figure_long.width == math.ceil(
        150 / (packing.scale * packing.distances.max()) - 1e-6
    )


def test_what_is_hard_by_hand_is_said():
    assert plan(BIRD, Sheet(350, 350, "mm")).warnings == ()
    tiny = plan(BIRD, Sheet(40, 40, "mm"), Paper("card", 250))
    assert len(tiny.warnings) == 2
    assert "14 times the paper" in tiny.warnings[0]
    assert "thick" in tiny.warnings[1]
    assert "4.1 mm long" in plan(BIRD, Sheet(21, 21, "mm"), allowance=0.05).warnings[0]
    assert "large enough" in plan(BIRD, Sheet(2000, 2000, "mm")).warnings[0]


@pytest.mark.parametrize(
    ("make", "error", "said"),
    [
        (lambda: plan(BIRD), SheetError, "only a ratio"),
        (lambda: plan(BIRD, Sheet(2, 2)), SheetError, "no unit"),
        (lambda: plan(BIRD, Sheet(200, 300, "mm")), SheetError, "another shape"),
        (lambda: plan(BIRD, Sheet(200, 202, "mm")), SheetError, "another shape"),
        (lambda: plan(BIRD, Sheet(9, 9, "mm"), allowance=1), OptionError, "no allowance"),
        (
            lambda: plan(BIRD, Sheet(9, 9, "mm"), width=math.nan),
            OptionError,
            "cannot be wished for",
        ),
        (lambda: sheet_for(BIRD, {}), OptionError, "nothing is wished"),
        (lambda: sheet_for(BIRD, {"leg": 60}), OptionError, 'no part is called "leg"'),
        (lambda: sheet_for(BIRD, {"f0": -1}), OptionError, "cannot be wished for"),
        (lambda: sheet_for(BIRD, {}, np.inf), OptionError, "cannot be wished for"),
    ],
)
def test_wrong_wishes_are_told(make, error, said):
    with pytest.raises(error, match=said):
        make()
