"""The two sides of the sheet on the base: what shows the front, what the back, and raw edges.

Where the sheet's own edge runs along a flap, its paper can be turned over to show the other side: a
colour change is easy there.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from functools import lru_cache, partial
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from packer.creases.faces import edges_of_faces

if TYPE_CHECKING:
    from numpy.typing import NDArray

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
    for paper in shown_paper(base):
        shown[names[over[paper.face]], paper.back] += paper.region.area
    parts = []
    for name in dict.fromkeys(n for n in names if n):
        of_front, of_back = shown[name, False], shown[name, True]
        total = of_front + of_back or 1.0
        parts.append(PartSides(name, of_front / total, of_back / total, raw[name]))
    return tuple(parts)


@dataclass(frozen=True, eq=False)
class ShownPaper:
    """A region of the sheet that shows on the base, from above or from below.

    Attributes
    ----------
    face
        The face of the pattern that it is of.
    region
        On the sheet, a shapely geometry.
    back
        Whether the paper's back shows there.
    """

    face: int
    region: Any
    back: bool


@lru_cache(maxsize=2)
def shown_paper(base: FlatBase) -> tuple[ShownPaper, ...]:
    """Return all paper that shows from above and from below; nothing without a layer order."""
    if base.order is None:
        return ()
    pattern, form, layers = base.pattern, base.form, base.order.layers
    faces_of = [np.flatnonzero(layers.layer_of == k) for k in range(len(layers.regions))]
    # what is seen of each layer, with each of its faces
    rows = [
        (region, face, bool(layers.flipped[layer]) != below)
        for below in (False, True)
        for layer, region in base.order.seen(back=below).items()
        for face in faces_of[layer].tolist()
    ]
    outlines = shapely.polygons(
        [shapely.LinearRing(form.positions[list(loop)]) for loop in pattern.faces]
    )
    parts = shapely.intersection(
        [region for region, _, _ in rows], outlines[[face for _, face, _ in rows]]
    )
    return tuple(
        ShownPaper(
            face, shapely.transform(part, partial(_unfolded, form.transforms[face])), back
        )
        for (_, face, back), part, some in zip(
            rows, parts, (shapely.area(parts) > 0).tolist(), strict=True
        )
        if some
    )


def _unfolded(
    transform: NDArray[np.float64], points: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return (n, 2) points of the folded plane on the sheet, by the map of their face."""
    unfolded: NDArray[np.float64] = (points - transform[:, 2]) @ transform[:, :2]
    return unfolded
