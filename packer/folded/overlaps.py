"""Which layers lie over each other in a folded form, and what keeps them from crossing.

Faces that meet at a flat hinge are one sheet of paper and are taken together. Of two layers that
overlap one is above; the conditions under which no layer passes through another are those of
Justin (Origami Science and Technology 2, 1994), in the words of Akitaya, Demaine and Ku
(J. Inf. Process. 25, 2017): taco-taco, taco-tortilla and transitivity.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import shapely

from packer.creases.plane_graph import joined
from packer.units import LAYER_TOLERANCE

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.creases.pattern import CreasePattern
    from packer.folded.form import FoldedForm


@dataclass(frozen=True, eq=False)
class Layers:
    """The layers of a folded form and where they lie.

    Attributes
    ----------
    layer_of
        (f,) the layer of each face.
    regions
        (n,) each layer's outline in the folded plane, a shapely polygon.
    flipped
        (n,) whether a layer shows its back.
    creases
        (c, 3) folded edges as (edge, layer on its left, layer on its right).
    tolerance
        Length in the folded plane below which layers do not overlap.
    """

    layer_of: NDArray[np.intp]
    regions: NDArray[np.object_]
    flipped: NDArray[np.bool_]
    creases: NDArray[np.intp]
    tolerance: float

    @cached_property
    def cells(self) -> NDArray[np.object_]:
        """(cells,) the parts of the plane that the layers' outlines cut out, shapely polygons."""
        return self._covered[0]

    @cached_property
    def cover(self) -> NDArray[np.bool_]:
        """(cells, n) which layers cover each cell."""
        return self._covered[1]

    @cached_property
    def _cut(self) -> _Cut:
        return _Cut.along(self.regions, self.tolerance)

    @cached_property
    def _covered(self) -> tuple[NDArray[np.object_], NDArray[np.bool_]]:
        cells = self._cut.cells
        every = np.ones(len(cells), dtype=bool)
        # a layer at a time: the pairs of cells and layers would take sixteen times the room
        cover = np.zeros((len(cells), len(self.regions)), dtype=bool, order="F")
        for layer in range(len(self.regions)):
            cover[self._cut.within(layer, every), layer] = True
        some = np.flatnonzero(cover.any(axis=1))
        return cells[some], cover[some]

    @property
    def most(self) -> int:
        """The largest number of layers anywhere."""
        return int(np.count_nonzero(self.cover, axis=1).max())

    def seen(self, rank: NDArray[np.intp], *, back: bool = False) -> dict[int, object]:
        """Return what is seen of each layer that is not hidden, a shapely geometry.

        Parameters
        ----------
        rank
            (n,) the place of each layer in an order, from the bottom.
        back
            Whether the base is looked at from below.
        """
        ordered = np.argsort(rank if back else -rank)
        shown = {}
        bare = np.ones(len(self._cut.cells), dtype=bool)
        for layer in ordered.tolist():  # each hides those that follow it in the order
            rows = self._cut.within(layer, bare)
            if len(rows):
                bare[rows] = False
                shown[layer] = shapely.coverage_union_all(self._cut.cells[rows])
        return dict(sorted(shown.items()))

    @cached_property
    def held(self) -> NDArray[np.uint8]:
        """(n, bytes) for each layer the cells it covers, as bits."""
        return np.packbits(self.cover.T, axis=1)


def layer_numbers(pattern: CreasePattern, form: FoldedForm) -> NDArray[np.intp]:
    """Return (f,) the number of the layer that each face belongs to."""
    left, right = pattern.edge_faces.T
    flat = (left >= 0) & (right >= 0) & ~form.folded
    return joined(len(pattern.faces), left[flat], right[flat])


def layers_of(pattern: CreasePattern, form: FoldedForm) -> Layers:
    """Return the layers of a folded form."""
    layer_of = layer_numbers(pattern, form)
    flipped = np.zeros(int(layer_of.max()) + 1, dtype=bool)
    flipped[layer_of] = form.flipped
    edges = np.flatnonzero(form.folded)
    return Layers(
        layer_of,
        regions_of(pattern, form, layer_of),
        flipped,
        np.column_stack([edges, layer_of[pattern.edge_faces[edges]]]),
        LAYER_TOLERANCE * pattern.sheet.diagonal,
    )


def regions_of(
    pattern: CreasePattern, form: FoldedForm, layer_of: NDArray[np.intp]
) -> NDArray[np.object_]:
    """Return (n,) the outline of each layer in the folded plane, shapely polygons."""
    outlines = shapely.polygons(
        [shapely.LinearRing(form.positions[list(loop)]) for loop in pattern.faces]
    )
    order = np.argsort(layer_of, kind="stable")
    starts = np.searchsorted(layer_of[order], np.arange(int(layer_of.max()) + 2)).tolist()
    return np.array(
        [shapely.coverage_union_all(outlines[order[a:b]]) for a, b in pairwise(starts)],
        dtype=object,
    )


@dataclass(frozen=True, eq=False)
class _Cut:
    """The parts of the plane that outlines cut out, paper or not, with a point in each.

    Attributes
    ----------
    cells
        (m,) shapely polygons, from the left to the right by their points.
    points
        (2, m) x and y.
    inner
        (n,) the regions, without what comes nearer to an outline than the tolerance: that is
        rounding, not paper.
    """

    cells: NDArray[np.object_]
    points: NDArray[np.float64]
    inner: NDArray[np.object_]

    @classmethod
    def along(cls, regions: NDArray[np.object_], tolerance: float) -> _Cut:
        """Cut the plane along all outlines."""
        lines = shapely.union_all(_sides(regions, tolerance / 100), grid_size=tolerance / 100)
        cells = np.array(
            shapely.get_parts(shapely.polygonize(shapely.get_parts(lines))), dtype=object
        )
        inner = shapely.buffer(regions, -tolerance, join_style="mitre")
        shapely.prepare(inner)
        points = shapely.get_coordinates(shapely.point_on_surface(cells))
        order = np.argsort(points[:, 0], kind="stable")
        return cls(cells[order], points[order].T, inner)

    @cached_property
    def bounds(self) -> NDArray[np.float64]:
        """(n, 4) boxes round the regions."""
        boxes: NDArray[np.float64] = shapely.bounds(self.inner)
        return boxes

    def within(self, layer: int, among: NDArray[np.bool_]) -> NDArray[np.intp]:
        """Return the numbers of the cells, of some of them, that a layer covers."""
        (x, y), (west, low, east, high) = self.points, self.bounds[layer]
        first, last = x.searchsorted(west), x.searchsorted(east, "right")
        near = slice(first, last)
        rows = first + np.flatnonzero(among[near] & (y[near] >= low) & (y[near] <= high))
        covered: NDArray[np.intp] = rows[
            shapely.contains_xy(self.inner[layer], x[rows], y[rows])
        ]
        return covered


def _sides(regions: NDArray[np.object_], grid: float) -> NDArray[np.object_]:
    """Return the sides of all outlines on a grid, each once: many layers share one.

    Cut with its copies, each side would cross each other as many times as there are pairs of copies.
    """
    ends, of = shapely.get_coordinates(
        shapely.get_parts(shapely.boundary(regions)), return_index=True
    )
    follows = of[1:] == of[:-1]
    sides = np.round(np.stack([ends[:-1], ends[1:]], axis=1)[follows] / grid)
    later = (sides[:, 0, 0] > sides[:, 1, 0]) | (
        (sides[:, 0, 0] == sides[:, 1, 0]) & (sides[:, 0, 1] > sides[:, 1, 1])
    )
    sides[later] = sides[later, ::-1]
    once = np.unique(sides.reshape(-1, 4), axis=0).reshape(-1, 2, 2)
    lines: NDArray[np.object_] = shapely.linestrings(once * grid)
    return lines


def segments_of(
    pattern: CreasePattern, form: FoldedForm, edges: NDArray[np.intp]
) -> NDArray[np.object_]:
    """Return edges as shapely lines in the folded plane."""
    segments: NDArray[np.object_] = shapely.linestrings(form.positions[pattern.edges[edges]])
    return segments


def on_one_line(
    pattern: CreasePattern,
    form: FoldedForm,
    creases: NDArray[np.intp],
    flipped: NDArray[np.bool_],
) -> NDArray[np.intp]:
    """Return (k, 2) pairs of rows of creases that lie on one line, their layers on one side.

    Parameters
    ----------
    creases
        (c, 3) edges with the layers on their left and right.
    flipped
        (n,) whether a layer shows its back.
    """
    tolerance = LAYER_TOLERANCE * pattern.sheet.diagonal
    edges = creases[:, 0]
    start, end = form.positions[pattern.edges[edges]].transpose(1, 0, 2)
    length = np.hypot(*(end - start).T)
    way = (end - start) / length[:, None]
    # A layer keeps its side of a crease unless it is turned over.
    side = np.where(flipped[creases[:, 1]], -1.0, 1.0)
    least, most = np.minimum(start, end), np.maximum(start, end)
    # Only creases whose boxes touch can lie on one line: swept along x.
    order = np.argsort(least[:, 0], kind="stable")
    stop = np.searchsorted(least[order, 0], most[order, 0] + tolerance, side="right")
    pairs = [np.zeros((0, 2), dtype=np.intp)]
    for at, k in enumerate(order.tolist()):
        rest = order[at + 1 : stop[at]]
        near = (least[rest, 1] <= most[k, 1] + tolerance) & (
            most[rest, 1] >= least[k, 1] - tolerance
        )
        rest = rest[near]
        along = np.stack([(p[rest] - start[k]) @ way[k] for p in (start, end)])
        normal = np.array([-way[k, 1], way[k, 0]])
        off = np.stack([(p[rest] - start[k]) @ normal for p in (start, end)])
        low = np.maximum(along.min(axis=0), 0)
        high = np.minimum(along.max(axis=0), length[k])
        long = np.flatnonzero(high - low > tolerance)
        slope = (off[1, long] - off[0, long]) / (along[1, long] - along[0, long])
        at_low = off[0, long] + slope * (low[long] - along[0, long])
        at_high = off[0, long] + slope * (high[long] - along[0, long])
        on = np.maximum(abs(at_low), abs(at_high)) < tolerance
        other = rest[long[on]]
        other = other[side[other] * np.sign(way[other] @ way[k]) == side[k]]
        pairs.append(np.column_stack([np.minimum(k, other), np.maximum(k, other)]))
    rows = np.concatenate(pairs)
    sorted_rows: NDArray[np.intp] = rows[np.lexsort((rows[:, 1], rows[:, 0]))]
    return sorted_rows
