"""Pleats in a crease pattern: lines across all paper of a part, made after the flat base.

They run square to the axis: along them the paper of every layer lies equally far along the part. A
layer that shows its back is folded the other way, so which fold a line needs in each face follows
from whether the folding has turned the face over.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from packer.creases.faces import edges_of_faces, offset_on
from packer.model.pleats import pleats_of
from packer.model.tree import node_distances
from packer.units import SAME_POINT

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from numpy.typing import NDArray

    from packer.creases.pattern import CreasePattern
    from packer.folded.form import FoldedForm
    from packer.grid.grid_packing import GridPacking
    from packer.model.packing import Packing
    from packer.model.pleats import Pleats
    from packer.model.sheet import Point


@dataclass(frozen=True)
class PleatCrease:
    """The line of one fold of a pleat in one face.

    Attributes
    ----------
    part
        The flap or river, by the name of its edge of the tree.
    pleat
        Which of its pleats, counted from 0 where its length is.
    fold
        "M" or "V", seen from the front of the sheet.
    ends
        The two ends of the line, in sheet units.
    """

    part: str
    pleat: int
    fold: Literal["M", "V"]
    ends: tuple[Point, Point]


@dataclass(frozen=True)
class PleatedPart:
    """Where the pleats of a part are, whatever its size.

    Attributes
    ----------
    start
        The joint from which its length counts.
    folds
        For each pleat its two folds, as fractions of the part's paper.
    """

    start: str
    folds: tuple[tuple[float, float], ...]


def pleated_parts(packing: Packing) -> dict[str, PleatedPart]:
    """Return the pleated parts of a packing, by the names of the edges of its tree."""
    tree = packing.tree
    parts = {part.name: part for part in packing.figure.parts}
    pleated: dict[str, PleatedPart] = {}
    for k, name in enumerate(tree.names):
        part = parts[tree.written[k]]
        if not part.folded_away.depths:
            continue
        paper = packing.lengths[k]
        pleats = pleats_of(part.pleats, part.depth, paper - part.folded_away.taken)
        start = tree.ends[k, 1 if k < tree.n_tips else 0]
        pleated[name] = PleatedPart(
            tree.joints[start - tree.n_tips],
            tuple((a / paper, b / paper) for a, b in pleats.folds),
        )
    return pleated


def pleated_cells(packing: GridPacking) -> dict[str, PleatedPart]:
    """Return the pleated parts of a grid packing, their folds on whole cells.

    Each depth is the nearest whole number of cells, at least one, and less where the part's cells
    do not suffice; the folds are as near to where they were asked as they can be.
    """
    tree = packing.tree
    parts = {part.name: part for part in packing.figure.parts}
    cells: dict[str, PleatedPart] = {}
    for k, name in enumerate(tree.names):
        pleats = parts[tree.written[k]].folded_away
        if pleats.depths:
            folds = whole_folds(pleats, packing.lengths[k], packing.unit)
            start = tree.joints[tree.ends[k, 1 if k < tree.n_tips else 0] - tree.n_tips]
            paper = packing.lengths[k]
            cells[name] = PleatedPart(start, tuple((a / paper, b / paper) for a, b in folds))
    return cells


def whole_folds(pleats: Pleats, paper: int, unit: float) -> tuple[tuple[int, int], ...]:
    """Return the two folds of each pleat in cells along the paper of a part.

    Parameters
    ----------
    pleats
        As asked, in the figure's unit.
    paper
        Cells that the part takes: more than two for each pleat.
    unit
        Length of the figure that is one cell.
    """
    depths = [max(1, round(depth / unit)) for depth in pleats.depths]
    while max(depths) > paper - 2 * sum(depths):
        depths[depths.index(max(depths))] -= 1
    finished, gone, last = paper - 2 * sum(depths), 0, 0
    folds = []
    for middle, depth in zip(pleats.middles, depths, strict=True):
        turn = math.floor(middle / pleats.length * finished + depth / 2 + 0.5)
        last = min(max(turn, depth, last), finished)
        folds.append((last + gone, last + gone + depth))
        gone += 2 * depth
    return tuple(folds)


def pleat_creases(
    pattern: CreasePattern, form: FoldedForm, parts: Mapping[str, PleatedPart]
) -> tuple[PleatCrease, ...]:
    """Return the lines of all pleats.

    The first fold of a pleat, counted from the part's start, is a mountain in the layers that
    show their front, and the second a valley; so all pleats of a part lie the same way. Where paper
    ends or turns back just at a fold there is nothing to fold.

    Parameters
    ----------
    pattern
        The creases of the flat base.
    form
        That base folded.
    parts
        The pleated parts, by name.

    Raises
    ------
    PatternError
        Where a face lies over no one edge of the tree.
    """
    over = edges_of_faces(pattern)
    tree = pattern.tree
    inside = (pattern.edge_faces >= 0).all(axis=1)
    flat = {frozenset(two) for two in pattern.edges[inside & ~form.folded].tolist()}
    between = node_distances(tree, pattern.lengths)
    creases: list[PleatCrease] = []
    for name, part in parts.items():
        from_start = between[tree.n_tips + tree.joints.index(part.start)]
        size = pattern.built[name]
        lines = [
            (k, n, share * size)
            for k, two in enumerate(part.folds)
            for n, share in enumerate(two)
        ]
        pieces = [e for e, piece in enumerate(tree.names) if pattern.part_of.get(piece) == name]
        for face in np.flatnonzero(np.isin(over, pieces)).tolist():
            along = _along(pattern, face, int(over[face]), from_start)
            for k, which, place in lines:
                mountain = bool(form.flipped[face]) == bool(which)
                creases += [
                    PleatCrease(name, k, "M" if mountain else "V", ends)
                    for ends in _line_at(pattern, face, along, place, flat)
                ]
    return tuple(creases)


def _along(
    pattern: CreasePattern, face: int, edge: int, from_start: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return how far along the part each corner of a face lies, in sheet units."""
    first, second = from_start[pattern.tree.ends[edge]]
    offsets = np.array([offset_on(pattern, v, edge) for v in pattern.faces[face]])
    along: NDArray[np.float64] = first + offsets if second > first else first - offsets
    return along


def _line_at(
    pattern: CreasePattern,
    face: int,
    along: NDArray[np.float64],
    place: float,
    flat: set[frozenset[int]],
) -> Iterator[tuple[Point, Point]]:
    """Give the lines of a face on which the part is so far along: one where it is convex.

    A line along an edge that stays `flat` (by its two vertices) belongs to the face before it;
    along the border, or a crease, no paper goes on beyond it, so there is none.
    """
    loop = pattern.faces[face]
    corners = pattern.points[list(loop)]
    near = np.abs(along - place) <= SAME_POINT * pattern.sheet.diagonal
    along = np.where(near, place, along)
    beyond = along >= place
    ends: list[NDArray[np.float64]] = []
    for k in np.flatnonzero(beyond != np.roll(beyond, -1)).tolist():
        after = (k + 1) % len(corners)
        share = (place - along[k]) / (along[after] - along[k])
        ends.append(corners[k] + share * (corners[after] - corners[k]))
    if len(ends) > 2:
        way = ends[1] - ends[0]
        ends.sort(key=lambda end: float(end @ way))
    closed = [
        (corners[k], corners[k - 1])
        for k in np.flatnonzero(near & np.roll(near, 1)).tolist()
        if frozenset((loop[k], loop[k - 1])) not in flat
    ]
    for a, b in zip(ends[::2], ends[1::2], strict=True):
        middle = (a + b) / 2
        edge = any((one - middle) @ (other - middle) <= 0 for one, other in closed)
        if not edge and np.hypot(*(b - a)) > SAME_POINT * pattern.sheet.diagonal:
            yield (float(a[0]), float(a[1])), (float(b[0]), float(b[1]))
