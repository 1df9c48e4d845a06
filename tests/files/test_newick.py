"""Newick notation: the forms of the open standard, written by hand and at random."""

from __future__ import annotations

import pytest
from hypothesis import given

from packer.errors import FigureError
from packer.files.newick import is_newick, parse_newick
from packer.model.figure import Figure, Flap, River
from packer.model.tree import tree_of, walk
from tests.strategies import figures


def test_leaves_are_flaps_and_inner_edges_rivers():
    assert parse_newick("((finger:1,thumb:0.5)arm:2,tail:3);") == Figure(
        "tree",
        (
            Flap("finger", "end of arm", 1),
            Flap("thumb", "end of arm", 0.5),
            Flap("tail", "root", 3),
        ),
        (River("arm", ("root", "end of arm"), 2),),
    )


@pytest.mark.parametrize(
    "text",
    [
        "(a:1,(b:2,c:3):4,'d e''f':5);",
        " ( a : 1 , ( b : 2 , c : 3 ) : 4 , 'd e''f' : 5 ) ; ",
        "(a:1.0,(b:2e0,c:30e-1):4,[a comment: (,;]'d e''f':5);",
        "(a:1,(b:2,c:3):4,\n'd e''f':5)name_of_the_whole;",
    ],
)
def test_the_forms_of_the_standard(text):
    """Felsenstein's description of the standard (1986) and its usual extensions."""
    figure = parse_newick(text)
    lengths = {part.name: part.length for part in (*figure.flaps, *figure.rivers)}
    assert lengths == {"a": 1, "b": 2, "c": 3, "d e'f": 5, "river 1": 4}


def test_parts_without_names_are_counted():
    figure = parse_newick("(:1,:2,(:3,:4):5,);".replace(",);", ");"))
    assert [flap.name for flap in figure.flaps] == ["flap 1", "flap 2", "flap 3", "flap 4"]
    assert [river.name for river in figure.rivers] == ["river 1"]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("(a:1,b:2):3;", "hangs on nothing"),
        ("(a:1,b:2);c", "after the end"),
        ("(a:1)(b:1);", "put a comma before it"),
        ("(a b:1,c:2);", "single quotes"),
        ("(a:1:2,c:2);", "single quotes"),
        ("(a:1,'b:2);", "never closed"),
        ("(a:1,[b:2);", "never closed"),
        ("a;", "at least two flaps"),
        ("(a:1);", "at least two flaps"),
        ("((a:1,b:1)c:1);", "single neighbour"),
        ("(a:nan,b:1);", "finite"),
        ("(a:1,b:0);", "above zero"),
        ("(" * 100_000 + ";", "close every"),
        ("(" * 2**20 + "a;", "far too long"),
    ],
)
def test_what_is_no_tree_is_refused(text, said):
    with pytest.raises(FigureError, match=said) as caught:
        parse_newick(text)
    assert caught.value.source == "the Newick tree"


def test_only_a_tree_is_taken_for_one():
    assert is_newick("(a:1,b:2);\n")
    assert not is_newick("crab (old).toml")
    assert not is_newick("a;")


def test_a_very_deep_tree_is_read():
    depth = 200
    text = "(" * depth + "a:1,b:1" + "".join(f"):1,c{k}:1" for k in range(depth - 1)) + ");"
    assert len(parse_newick(text).flaps) == depth + 1


def newick(figure):
    """Write a tree out from its first joint: names quoted, a river's name on its inner node."""
    tree = tree_of(figure)
    text = {}
    for node, parent, edge in reversed(walk(tree, tree.n_tips)):
        inner = ",".join(text[n] for n, e in tree.neighbours[node] if n != parent and e >= 0)
        name = "" if edge < 0 else "'" + tree.names[edge].replace("'", "''") + "'"
        length = "" if edge < 0 else f":{float(tree.lengths[edge])!r}"
        text[node] = (f"({inner})" if inner else "") + name + length
    return text[tree.n_tips] + ";"


@given(figures(wild_names=True))
def test_a_tree_written_out_has_the_same_distances(figure):
    tree = tree_of(figure)
    again = tree_of(parse_newick(newick(figure)))
    assert set(again.names) == set(tree.names)
    order = [again.flaps.index(name) for name in tree.flaps]
    assert (abs(again.distances[order][:, order] - tree.distances) < 1e-9).all()
