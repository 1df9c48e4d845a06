"""Polygons of a pattern, the sides between them, and the regions that sides from border to border cut."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from packer.creases.plane_graph import joined
from packer.units import SAME_PLACE, STRAIGHT

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.creases.pattern import CreasePattern


@dataclass(frozen=True, eq=False)
class Side:
    """An axial crease from one tip straight to the next: a side of two polygons.

    Attributes
    ----------
    tips
        The flaps of the two tips, by index.
    edges
        Edges of the pattern along it.
    beside
        The polygons on its left and right.
    """

    tips: tuple[int, int]
    edges: tuple[int, ...]
    beside: tuple[int, int]


@dataclass(frozen=True, eq=False)
class Regions:
    """The pieces into which cuts divide a sheet, joined as a tree.

    Attributes
    ----------
    of_face
        (f,) the region of each face.
    cuts
        The sides whose two tips lie on the border.
    beside
        (cuts, 2) the regions on the two sides of each cut.
    """

    of_face: NDArray[np.intp]
    cuts: tuple[Side, ...]
    beside: NDArray[np.intp]

    @property
    def count(self) -> int:
        """How many regions there are."""
        return len(self.cuts) + 1


def polygons_of(pattern: CreasePattern) -> NDArray[np.intp]:
    """Return (f,) the polygon of active paths that each face lies in."""
    left, right = pattern.edge_faces.T
    across = (left >= 0) & (right >= 0) & ~_on_axis(pattern)
    return joined(len(pattern.faces), left[across], right[across])


def regions(pattern: CreasePattern, between: tuple[Side, ...]) -> Regions:
    """Return the regions of a pattern and the cuts between them, which are among its sides."""
    tips = [pattern.tips[name] for name in pattern.tree.flaps]
    cuts = tuple(
        side for side in between if all(pattern.on_border[tips[tip]] for tip in side.tips)
    )
    cut_edges = np.zeros(len(pattern.edges), dtype=bool)
    for cut in cuts:
        cut_edges[list(cut.edges)] = True
    left, right = pattern.edge_faces.T
    across = (left >= 0) & (right >= 0) & ~cut_edges
    of_face = joined(len(pattern.faces), left[across], right[across])
    beside = np.array([of_face[pattern.edge_faces[cut.edges[0]]] for cut in cuts])
    return Regions(of_face, cuts, beside.reshape(-1, 2))


def _on_axis(pattern: CreasePattern) -> NDArray[np.bool_]:
    """Return (e,) whether an edge lies on the axis: axial, border, or a gusset at height 0."""
    tolerance = SAME_PLACE * pattern.sheet.diagonal
    low = (pattern.heights[pattern.edges] < tolerance).all(axis=1)
    flat: NDArray[np.bool_] = low & np.isin(pattern.roles, ["border", "axial", "gusset"])
    return flat


def sides(pattern: CreasePattern, polygon_of: NDArray[np.intp]) -> tuple[Side, ...]:
    """Return the inner straight creases on the axis from one tip to the next."""
    tip_at = {vertex: k for k, vertex in enumerate(pattern.tips[n] for n in pattern.tree.flaps)}
    inner = _on_axis(pattern) & (np.array(pattern.roles) != "border")
    made = []
    for vertex, tip in tip_at.items():
        for edge in pattern.edges_at[vertex]:
            if inner[edge]:
                run, end = _run(pattern, inner, tip_at, vertex, edge)
                other = tip_at.get(end)
                if other is not None and tip < other:
                    left, right = polygon_of[pattern.edge_faces[edge]].tolist()
                    made.append(Side((tip, other), tuple(run), (left, right)))
    return tuple(made)


def _run(
    pattern: CreasePattern,
    inner: NDArray[np.bool_],
    tip_at: dict[int, int],
    start: int,
    edge: int,
) -> tuple[list[int], int]:
    """Follow a crease straight on from a vertex to the next tip, or to where it ends."""
    run = [edge]
    while True:
        a, b = pattern.edges[run[-1]].tolist()
        here = b if a == start else a
        if here in tip_at:
            return run, here
        way = pattern.points[here] - pattern.points[start]
        for k in pattern.edges_at[here]:
            c, d = pattern.edges[k].tolist()
            onward = pattern.points[d if c == here else c] - pattern.points[here]
            turn = abs(way[0] * onward[1] - way[1] * onward[0])
            size = np.hypot(*way) * np.hypot(*onward)
            if inner[k] and turn < STRAIGHT * size and way @ onward > 0:
                run.append(k)
                start = here
                break
        else:
            return run, here
