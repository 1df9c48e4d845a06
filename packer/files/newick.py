"""A tree in Newick notation, the open one-line standard for weighted trees.

``((finger:1,thumb:0.5)arm:2,tail:3);`` is a figure of three flaps and the river "arm". Read are
nested parentheses, names (bare, or in single quotes with a doubled quote for a quote), lengths
after a colon and comments in brackets. Underscores stay as written (common practice).
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Final

from packer.errors import FigureError
from packer.model.figure import Figure, Flap, River, check_lengths

SOURCE: Final = "the Newick tree"
"""What errors call a tree that stands in no file."""

MOST_CHARACTERS: Final = 2**20
"""Longest text read."""

_TOKEN: Final = re.compile(
    r"\s+|\[[^\]]*\]|(?P<quoted>'(?:[^']|'')*')|(?P<mark>[(),:;])|(?P<bare>[^\s()\[\],:;']+)"
)


@dataclass
class _Node:
    parent: _Node | None
    name: str = ""
    length: str | None = None
    children: list[_Node] = field(default_factory=list)


def is_newick(text: str) -> bool:
    """Return whether a command's argument is meant as a tree rather than as a file's name."""
    return "(" in text and text.rstrip().endswith(";")


def parse_newick(text: str) -> Figure:
    """Make a figure, named "tree", of a tree in Newick notation.

    Every leaf is a flap and every inner edge a river, named as in the text or else "flap 1",
    "river 1" and so on.

    Raises
    ------
    FigureError
        Where the text is no such tree, a length is missing or the figure is none.
    """
    try:
        figure = _figure(_parse(text))
        check_lengths(figure)
    except FigureError as error:
        raise error.found_in(SOURCE) from None
    return figure


def _parse(text: str) -> _Node:
    """Build the nodes with a stack in place of recursion, so that depth cannot end the run."""
    if len(text) > MOST_CHARACTERS:
        raise FigureError("it is far too long; write it as a figure file")
    root = here = _Node(None)
    last = ""
    for place, kind, value in _tokens(text):
        if last == ";":
            raise FigureError(f'"{value}" stands after the end; remove it', _at(place))
        if kind == "text":
            _label(here, value, last == ":", place)
        elif last == ":":
            raise FigureError("a length is missing after the colon; write a number", _at(place))
        else:
            here = _moved(here, value, place)
        last = value if kind == "mark" else ""
    if last != ";":
        raise FigureError('it does not end in ";"; add one')
    return root


def _moved(here: _Node, mark: str, place: int) -> _Node:
    """Return the node to go on with after a mark."""
    if mark == "(":
        if here.children or here.name or here.length is not None:
            raise FigureError('"(" where none can stand; put a comma before it', _at(place))
        return _child(here)
    if mark == ",":
        return _child(_parent(here, mark, place))
    if mark == ")":
        return _parent(here, mark, place)
    if mark == ";" and here.parent is not None:
        raise FigureError('a ")" is missing before ";"; close every "("', _at(place))
    return here


def _tokens(text: str) -> list[tuple[int, str, str]]:
    tokens: list[tuple[int, str, str]] = []
    at = 0
    while at < len(text):
        match = _TOKEN.match(text, at)
        if match is None:
            raise FigureError(f'"{text[at]}" is never closed; close it', _at(at))
        if match["quoted"]:
            tokens.append((at, "text", match["quoted"][1:-1].replace("''", "'")))
        elif match["mark"]:
            tokens.append((at, "mark", match["mark"]))
        elif match["bare"]:
            tokens.append((at, "text", match["bare"]))
        at = match.end()
    return tokens


def _label(node: _Node, value: str, is_length: bool, place: int) -> None:
    if is_length and node.length is None:
        node.length = value
    elif not is_length and not node.name and node.length is None:
        node.name = value
    else:
        raise FigureError(
            f'"{value}" where none can stand; put names with blanks in single quotes',
            _at(place),
        )


def _child(parent: _Node) -> _Node:
    node = _Node(parent)
    parent.children.append(node)
    return node


def _parent(node: _Node, mark: str, place: int) -> _Node:
    if node.parent is None:
        raise FigureError(f'"{mark}" without a "(" before it; add one', _at(place))
    return node.parent


def _at(place: int) -> str:
    return f"character {place + 1}"


def _figure(root: _Node) -> Figure:
    if root.length is not None:
        raise FigureError("the whole tree has a length, and it hangs on nothing; remove it")
    flaps: list[Flap] = []
    rivers: list[River] = []
    joints = {id(root): root.name or "root"}
    todo = list(reversed(root.children))
    while todo:
        node = todo.pop()
        parent = joints[id(node.parent)]
        if node.children:
            name = node.name or f"river {len(rivers) + 1}"
            joints[id(node)] = f"end of {name}"
            joint = joints[id(node)]
            rivers.append(River(name, (parent, joint), _length(node, f"rivers.{name}")))
            todo.extend(reversed(node.children))
        else:
            name = node.name or f"flap {len(flaps) + 1}"
            flaps.append(Flap(name, parent, _length(node, f"flaps.{name}")))
    return Figure("tree", tuple(flaps), tuple(rivers))


def _length(node: _Node, entry: str) -> float:
    if node.length is None:
        raise FigureError('"length" is missing; write it after a colon', entry)
    try:
        return float(node.length)
    except ValueError:
        raise FigureError(
            f'"{node.length}" is not a number; write a length such as 1.5', f"{entry}.length"
        ) from None
