"""The figure: what makes a tree, how pairs spread, what it looks like written out."""

from __future__ import annotations

from dataclasses import FrozenInstanceError, replace

import pytest
from hypothesis import given

from packer.errors import FigureError
from packer.model.figure import Figure, Flap, River, beyond_pairs
from packer.model.tree import tree_of
from tests.strategies import figures


def limb(**changes):
    """A trunk with one paired arm of two fingers, a head and a tail."""
    return Figure(
        "limb",
        (
            Flap("head", "neck", 1),
            Flap("finger", "hand", 0.5),
            Flap("thumb", "hand", 0.4),
            Flap("tail", "hip", 2),
        ),
        (River("arm", ("neck", "hand"), 1.5, pair=True), River("trunk", ("neck", "hip"), 1)),
        **changes,
    )


def test_a_limb_with_fingers_is_written_once():
    tree = tree_of(limb())
    assert tree.flaps == (
        "head", "finger.left", "finger.right", "thumb.left", "thumb.right", "tail",
    )  # fmt: skip
    assert tree.rivers == ("arm.left", "arm.right", "trunk")
    assert tree.joints == ("neck", "hand.left", "hand.right", "hip")


def test_each_hand_has_its_own_fingers():
    tree = tree_of(limb())
    d = tree.distances
    at = {name: k for k, name in enumerate(tree.flaps)}
    assert d[at["finger.left"], at["thumb.left"]] == pytest.approx(0.9)
    assert d[at["finger.left"], at["thumb.right"]] == pytest.approx(0.5 + 1.5 + 1.5 + 0.4)
    assert d[at["finger.left"], at["tail"]] == pytest.approx(0.5 + 1.5 + 1 + 2)


def test_all_beyond_a_paired_river_is_paired():
    figure = limb()
    assert beyond_pairs(figure) == {"hand"}
    longer = replace(
        figure,
        flaps=(*figure.flaps, Flap("nail", "knuckle", 0.1)),
        rivers=(*figure.rivers, River("bone", ("hand", "knuckle"), 0.2)),
    )
    assert beyond_pairs(longer) == {"hand", "knuckle"}
    tree = tree_of(longer)
    assert {"nail.left", "nail.right"} <= set(tree.flaps)
    assert {"bone.left", "bone.right"} <= set(tree.rivers)


def test_a_pair_written_again_beyond_a_pair_changes_nothing():
    figure = limb()
    again = replace(
        figure, flaps=tuple(replace(f, pair=f.joint == "hand") for f in figure.flaps)
    )
    assert tree_of(again).flaps == tree_of(figure).flaps
    assert (tree_of(again).distances == tree_of(figure).distances).all()


def test_twins_count_as_two():
    """One pair makes a figure, and so does one flap beyond a paired river."""
    assert tree_of(Figure("pair", (Flap("a", "hub", 1.0, pair=True),))).n_tips == 2
    river = River("arm", ("hub", "wrist"), 1.0, pair=True)
    assert tree_of(Figure("hands", (Flap("hand", "wrist", 1.0),), (river,))).n_tips == 2
    with pytest.raises(FigureError, match="at least two flaps"):
        Figure("one", (Flap("a", "hub", 1.0),))


def test_a_figure_never_changes():
    with pytest.raises(FrozenInstanceError):
        limb().name = "other"  # type: ignore[misc]


def test_values_become_plain_floats_and_tuples():
    flap = Flap("a", "j", 1, place=[[0, 1], "edge"])  # type: ignore[arg-type]
    assert (flap.length, flap.place) == (1.0, ((0.0, 1.0), "edge"))
    assert isinstance(flap.length, float)


def test_a_name_is_any_text_but_half_a_character():
    Flap("\x00 <script>'\"\\ \u202e 海星", "j", 1)
    with pytest.raises(FigureError, match="half a character"):
        Flap("\ud800", "j", 1)


def test_flex_on_all_parts():
    flexed = limb().with_flex(0.2)
    assert {part.flex for part in (*flexed.flaps, *flexed.rivers)} == {0.2}


@given(figures(wild_names=True, flex=True))
def test_twins_are_equal_in_all_but_their_end(figure):
    tree = tree_of(figure)
    for k, twin in enumerate(tree.twin.tolist()):
        assert tree.twin[twin] == k
        assert tree.lengths[twin] == tree.lengths[k]
        assert tree.flex[twin] == tree.flex[k]
        if twin > k:
            assert tree.names[k] == tree.written[k] + ".left"
            assert tree.names[twin] == tree.written[k] + ".right"
        elif twin == k:
            assert tree.names[k] == tree.written[k]
