"""What is put on the table first: a figure file, a sketch, a saved packing, or nothing."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.drawing.stick_layout import layout
from packer.errors import FigureError
from packer.files.figure_toml import read_figure
from packer.files.newick import is_newick, parse_newick
from packer.files.packing_json import read_packing
from packer.model.problem import pose
from packer.model.tree import tree_of
from packer.sketch.mirror import find_mirror
from packer.sketch.stick_tree import figure_of_sketch
from packer.sketch.svg_reader import read_sketch
from packer.table.draft import Draft, DraftNode, DraftPart, figure_of_draft
from packer.table.state import State, drafted, of_packing

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.model.figure import Figure, Flap, River
    from packer.model.sheet import Point
    from packer.sketch.stick_tree import Reading

SIZE: Final = 560.0
"""Pixels of the mat that a drawing from a file takes in its larger direction."""


def opened(subject: str | None) -> tuple[State, str]:
    """Return what an argument of the command means, and the stem of the names of its files.

    Parameters
    ----------
    subject
        A figure file, a drawing (SVG), a packing file or a tree in Newick notation; None for an
        empty table.

    Raises
    ------
    PackerError
        Where the file is wrong.
    """
    if subject is None:
        return drafted(State(), Draft()), "figure"
    if is_newick(subject):
        return _of_figure(parse_newick(subject)), "tree"
    path = Path(subject)
    stem = path.name.partition(".")[0]
    if path.suffix == ".svg":
        sketch = read_sketch(path)
        try:
            reading = figure_of_sketch(sketch, stem.replace("_", " "))
        except FigureError as error:
            raise error.found_in(subject) from None
        return drafted(State(), draft_of_reading(reading)), stem
    if path.suffix == ".json":
        packing = read_packing(path)
        draft = replace(
            draft_of_figure(packing.figure), sheet=packing.sheet, symmetry=packing.symmetry
        )
        return of_packing(draft, replace(packing, problem=pose(figure_of_draft(draft)))), stem
    return _of_figure(read_figure(path)), stem


def _of_figure(figure: Figure) -> State:
    return drafted(State(), draft_of_figure(figure))


def draft_of_figure(figure: Figure) -> Draft:
    """Return a draft that means a figure, drawn as its plates draw it, with its lengths asked for."""
    tree = tree_of(figure)
    places = layout(tree) * (1, -1)
    low, high = places.min(axis=0), places.max(axis=0)
    unit = SIZE / float(max(high - low))
    if figure.symmetry == "none" and (tree.twin == np.arange(len(tree.twin))).all():
        places = places - (low + high) / 2
    else:
        places = places - (_axis_of(tree.twin, tree.ends, places), (low + high)[1] / 2)
    number = {name: tree.n_tips + k for k, name in enumerate(tree.joints)}
    flaps = {name: k for k, name in enumerate(tree.flaps)}
    nodes: dict[int, DraftNode] = {}
    parts: list[DraftPart] = []

    def node(index: int, name: str) -> int:
        x, y = places[index] * unit
        nodes.setdefault(index, DraftNode(len(nodes) + 1, (float(x), float(y)), name))
        return nodes[index].number

    def index_of(names: dict[str, int], name: str) -> int:
        return names[name] if name in names else names[f"{name}.left"]

    for river in figure.rivers:
        near, far = (node(index_of(number, joint), joint) for joint in river.joints)
        parts.append(_part(river, near, far))
    for flap in figure.flaps:
        joint = node(index_of(number, flap.joint), flap.joint)
        parts.append(_part(flap, joint, node(index_of(flaps, flap.name), "")))
    return _draft(figure, tuple(nodes.values()), parts, unit)


def _axis_of(
    twin: NDArray[np.intp], ends: NDArray[np.intp], places: NDArray[np.float64]
) -> float:
    """Return where the mirror line of a layout stands: in the middle between twins."""
    for edge, other in enumerate(twin.tolist()):
        if other != edge:
            return float((places[ends[edge, 0], 0] + places[ends[other, 0], 0]) / 2)
    return float((places[:, 0].min() + places[:, 0].max()) / 2)


def _part(part: Flap | River, near: int, far: int, bends: tuple[Point, ...] = ()) -> DraftPart:
    place = getattr(part, "place", ())
    return DraftPart(part.name, near, far, bends, part.length, part.pair, place, part.flex)


def _draft(
    figure: Figure, nodes: tuple[DraftNode, ...], parts: list[DraftPart], unit: float
) -> Draft:
    """Return the draft of a figure, its parts in the figure's own order."""
    order = {part.name: k for k, part in enumerate((*figure.flaps, *figure.rivers))}
    return Draft(
        figure.name,
        figure.symmetry,
        figure.sheet,
        figure.whole_rivers,
        nodes,
        tuple(sorted(parts, key=lambda part: order[part.name])),
        unit,
    )


def draft_of_reading(reading: Reading) -> Draft:
    """Return a draft that means the figure read from a sketch, with the strokes as drawn."""
    net, figure = reading.net, reading.figure
    mirror = find_mirror(net)
    if mirror is not None and mirror.across is not None:  # has a joint that is not drawn
        return draft_of_figure(figure)
    places = net.places
    turned = np.eye(2)
    middle = (places.min(axis=0) + places.max(axis=0)) / 2
    if mirror is not None:
        nx, ny = mirror.axis.normal
        nx, ny = (nx, ny) if nx > 0 else (-nx, -ny)
        turned = np.array([[nx, ny], [-ny, nx]])
        foot = np.array(mirror.axis.at)
        middle = foot + ((middle - foot) @ turned[1]) * turned[1]
    factor = SIZE / float(np.ptp(places, axis=0).max())

    def put(points: NDArray[np.float64]) -> list[Point]:
        return [(float(x), float(y)) for x, y in (points - middle) @ turned.T * factor]

    away = {b for _, b in mirror.twins} if mirror is not None else set()
    kept = [k for k in range(len(net.parts)) if k not in away]
    by_name = {part.name: part for part in (*figure.flaps, *figure.rivers)}
    at = put(places)
    names: dict[int, str] = {}
    parts: list[DraftPart] = []
    drawn = asked = 0.0
    for k in kept:
        piece, part = net.parts[k], by_name[reading.names[k]]
        near, far = piece.ends
        degree = [sum(node in other.ends for other in net.parts) for node in (near, far)]
        flap = hasattr(part, "joint")
        outward = degree[0] > 1 if flap else _leads_away(mirror, near)
        line = put(piece.line)
        if math.dist(line[0], at[near]) > math.dist(line[-1], at[near]):
            line.reverse()
        if not outward:
            near, far = far, near
            line.reverse()
        if flap:
            names[near] = part.joint
        else:
            names[near], names[far] = part.joints
        parts.append(_part(part, near + 1, far + 1, tuple(line[1:-1])))
        drawn += piece.length * factor
        asked += part.length
    symmetric = figure.symmetry != "none"
    on_line = mirror.joints if mirror is not None else set()
    ends = {end - 1 for part in parts for end in (part.near, part.far)}
    alone = set(mirror.on_axis) if mirror is not None else set()
    for k in alone:
        on_line = on_line | set(net.parts[k].ends)
    nodes = tuple(
        DraftNode(
            node + 1,
            (0.0, at[node][1]) if symmetric and node in on_line else at[node],
            names.get(node, ""),
        )
        for node in sorted(ends)
    )
    return _draft(figure, nodes, parts, drawn / asked)


def _leads_away(mirror: object, near: int) -> bool:
    """Whether a river's first end is that on the mirror line, as its figure writes it."""
    return mirror is None or near in getattr(mirror, "joints", ())
