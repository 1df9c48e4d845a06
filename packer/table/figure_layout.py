"""A figure laid out on the mat: drawn as its plates draw it, with its lengths asked for."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from packer.model.stick_layout import layout
from packer.model.tree import tree_of
from packer.table.draft import Draft, DraftNode, DraftPart

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.model.figure import Figure, Flap, River
    from packer.model.sheet import Point

FINER: Final = ("detail", "pleats", "depth", "width")
PLAIN: Final = {"detail": 1, "pleats": 0, "depth": 0.0, "width": 0}
"""What a line of a figure may say besides, and what it says where it says nothing."""

SIZE: Final = 560.0
"""Pixels of the mat that a drawing from a file takes in its larger direction."""


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
        parts.append(part_of(river, near, far))
    for flap in figure.flaps:
        joint = node(index_of(number, flap.joint), flap.joint)
        parts.append(part_of(flap, joint, node(index_of(flaps, flap.name), "")))
    return draft_with(figure, tuple(nodes.values()), parts, unit)


def _axis_of(
    twin: NDArray[np.intp], ends: NDArray[np.intp], places: NDArray[np.float64]
) -> float:
    """Return where the mirror line of a layout stands: in the middle between twins."""
    for edge, other in enumerate(twin.tolist()):
        if other != edge:
            return float((places[ends[edge, 0], 0] + places[ends[other, 0], 0]) / 2)
    return float((places[:, 0].min() + places[:, 0].max()) / 2)


def part_of(
    part: Flap | River, near: int, far: int, bends: tuple[Point, ...] = ()
) -> DraftPart:
    """Return a part of a figure as one of a draft, its length asked for."""
    place = getattr(part, "place", ())
    finer = tuple(
        (key, getattr(part, key))
        for key in FINER
        if getattr(part, key, 0) not in {0, PLAIN[key]}
    )
    return DraftPart(
        part.name, near, far, bends, part.length, part.pair, place, part.flex, finer
    )


def draft_with(
    figure: Figure, nodes: tuple[DraftNode, ...], parts: list[DraftPart], unit: float
) -> Draft:
    """Return the draft of a figure, its parts in the figure's own order."""
    written: tuple[Flap | River, ...] = (*figure.flaps, *figure.rivers)
    order = {part.name: k for k, part in enumerate(written)}
    return Draft(
        figure.name,
        figure.symmetry,
        figure.sheet,
        figure.whole_rivers,
        nodes,
        tuple(sorted(parts, key=lambda part: order[part.name])),
        unit,
    )
