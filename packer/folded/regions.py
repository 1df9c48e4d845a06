"""Regions of a pattern: what axial creases from border to border cut the sheet into."""

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
class Cut:
    """An axial crease from one tip on the border to another.

    Attributes
    ----------
    tips
        The flaps of the two tips, by index.
    edges
        Edges of the pattern along it.
    """

    tips: tuple[int, int]
    edges: tuple[int, ...]


@dataclass(frozen=True, eq=False)
class Regions:
    """The pieces into which cuts divide a sheet, joined as a tree.

    Attributes
    ----------
    of_face
        (f,) the region of each face.
    cuts
        The cuts.
    beside
        (cuts, 2) the regions on the two sides of each cut.
    """

    of_face: NDArray[np.intp]
    cuts: tuple[Cut, ...]
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


def regions(pattern: CreasePattern) -> Regions:
    """Return the regions of a pattern and the cuts between them."""
    cuts = tuple(_cuts(pattern))
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


def _cuts(pattern: CreasePattern) -> list[Cut]:
    """Return the inner straight creases on the axis from one border tip to another."""
    tip_at = {vertex: k for k, vertex in enumerate(pattern.tips[n] for n in pattern.tree.flaps)}
    inner = _on_axis(pattern) & (np.array(pattern.roles) != "border")
    made = []
    for vertex, tip in tip_at.items():
        if not pattern.on_border[vertex]:
            continue
        for edge in pattern.edges_at[vertex]:
            if inner[edge]:
                run, end = _run(pattern, inner, tip_at, vertex, edge)
                other = tip_at.get(end)
                if other is not None and pattern.on_border[end] and tip < other:
                    made.append(Cut((tip, other), tuple(run)))
    return made


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
