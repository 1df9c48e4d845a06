"""The two sides of the sheet on the base: what shows the front, what the back, and raw edges.

Where the sheet's own edge runs along a flap, its paper can be turned over to show the other side: a
colour change is easy there.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from packer.creases.faces import edges_of_faces

if TYPE_CHECKING:
    from packer.folded.layers import FlatBase


@dataclass(frozen=True)
class PartSides:
    """The sides of the paper on one flap or river.

    Attributes
    ----------
    name
        Of the part, as the figure calls it.
    front, back
        Shares of what shows of it, from above and from below, that are the paper's front and back;
        both zero where other parts hide it.
    raw_edge
        Length of the sheet's edge along it, in sheet units.
    """

    name: str
    front: float
    back: float
    raw_edge: float


def paper_sides(base: FlatBase) -> tuple[PartSides, ...]:
    """Return the sides of the paper on each part of the figure, fillers left out.

    The base is looked at as it lies flat, all flaps to one side. Without a layer order only raw
    edges are known.
    """
    pattern = base.pattern
    over = edges_of_faces(pattern)
    names = [pattern.part_of.get(name, "") for name in pattern.tree.names]
    raw: dict[str, float] = defaultdict(float)
    ends = pattern.points[pattern.edges]
    lengths = np.hypot(*(ends[:, 0] - ends[:, 1]).T)
    for role, length, sides in zip(
        pattern.roles, lengths.tolist(), pattern.edge_faces.tolist(), strict=True
    ):
        if role == "border":
            raw[names[over[max(sides)]]] += length
    shown: dict[tuple[str, bool], float] = defaultdict(float)
    if base.order is not None:
        for face, area, back in _showing(base):
            shown[names[over[face]], back] += area
    parts = []
    for name in dict.fromkeys(n for n in names if n):
        of_front, of_back = shown[name, False], shown[name, True]
        total = of_front + of_back or 1.0
        parts.append(PartSides(name, of_front / total, of_back / total, raw[name]))
    return tuple(parts)


def _showing(base: FlatBase) -> list[tuple[int, float, bool]]:
    """Return (face, area, whether its back shows) of all that shows from above and from below."""
    pattern, form, order = base.pattern, base.form, base.order
    assert order is not None
    layers = order.layers
    outlines = shapely.polygons(
        [shapely.LinearRing(form.positions[list(loop)]) for loop in pattern.faces]
    )
    visible = []
    faces_of = [np.flatnonzero(layers.layer_of == k) for k in range(len(layers.regions))]
    for cell, cover in zip(layers.cells, layers.cover, strict=True):
        rows = np.flatnonzero(cover)
        rank = order.rank[rows]
        for layer, below in ((rows[rank.argmax()], False), (rows[rank.argmin()], True)):
            faces = faces_of[layer]
            areas = shapely.area(shapely.intersection(outlines[faces], cell))
            back = bool(layers.flipped[layer]) != below
            visible += [
                (int(face), float(area), back)
                for face, area in zip(faces, areas, strict=True)
                if area > 0
            ]
    return visible
