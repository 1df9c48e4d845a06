"""Which creases of a folded form lie across which layers, asked for few pairs at a time.

The conditions are those of `packer.folded.overlaps`; here they are only asked where an order could
break them: a crease can only be crossed by layers that lie between the two that meet at it.
"""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import shapely

from packer.folded.overlaps import on_one_line, regions_of, segments_of
from packer.units import LAYER_TOLERANCE

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.creases.pattern import CreasePattern
    from packer.folded.form import FoldedForm


class Crossings:
    """The layers and creases of a folded form, ready to be asked whether they cross.

    Attributes
    ----------
    creases
        (c, 3) folded edges as (edge, layer on its left, layer on its right).
    lines
        (c,) the creases as shapely lines in the folded plane.
    inner
        (n,) the layers' regions, a trifle smaller than they are.
    reach
        (c, 2) least and greatest x of each crease.
    """

    def __init__(
        self,
        pattern: CreasePattern,
        form: FoldedForm,
        layer_of: NDArray[np.intp],
        creases: NDArray[np.intp],
        flipped: NDArray[np.bool_],
    ) -> None:
        self.pattern, self.form, self.creases, self.flipped = pattern, form, creases, flipped
        self.tolerance = LAYER_TOLERANCE * pattern.sheet.diagonal
        self.lines = segments_of(pattern, form, creases[:, 0])
        regions = regions_of(pattern, form, layer_of)
        self.inner = shapely.buffer(regions, -self.tolerance, join_style="mitre")
        shapely.prepare(self.inner)
        self._line_box, self._box = shapely.bounds(self.lines), shapely.bounds(self.inner)
        self.reach = self._line_box[:, [0, 2]]

    @cached_property
    def tacos(self) -> NDArray[np.intp]:
        """(k, 2) pairs of creases on one line whose four layers must not alternate."""
        return on_one_line(self.pattern, self.form, self.creases, self.flipped)

    def across(self, rows: NDArray[np.intp], layers: NDArray[np.intp]) -> NDArray[np.bool_]:
        """Return whether each crease of `rows` lies across the layer beside it."""
        a, b = self._line_box[rows], self._box[layers]
        near = ((a[:, :2] < b[:, 2:]) & (b[:, :2] < a[:, 2:])).all(axis=1)
        # A line along an axis has a box without width: it is near where it runs inside.
        here = np.flatnonzero(near)
        crossing = np.zeros(len(rows), dtype=bool)
        crossing[here] = shapely.intersects(self.inner[layers[here]], self.lines[rows[here]])
        return crossing

    def faults(self, rank: NDArray[np.intp]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        """Return all that an order of layers, given by their ranks, breaks.

        Returns
        -------
        (k, 2) array
            Rows of `creases`, and a layer between the two of each that it lies across.
        (m, 2) array
            Pairs of rows whose layers alternate.
        """
        crossed = self.tortillas(np.arange(len(self.creases)), np.argsort(rank))
        pair = np.sort(rank[self.creases[:, 1:]], axis=1)
        a, b = pair[self.tacos[:, 0]], pair[self.tacos[:, 1]]
        swap = (a[:, 0] > b[:, 0])[:, None]
        a, b = np.where(swap, b, a), np.where(swap, a, b)
        alternate = (a[:, 0] < b[:, 0]) & (b[:, 0] < a[:, 1]) & (a[:, 1] < b[:, 1])
        return crossed, self.tacos[alternate]

    def tortillas(self, asked: NDArray[np.intp], at: NDArray[np.intp]) -> NDArray[np.intp]:
        """Return (k, 2) creases of `asked` with layers between their two that they lie across.

        Parameters
        ----------
        asked
            Rows of `creases`.
        at
            Layers in their order, those of all these creases among them.
        """
        place = np.zeros(len(self.flipped), dtype=np.intp)
        place[at] = np.arange(len(at))
        pair = np.sort(place[self.creases[asked, 1:]], axis=1)
        counts = pair[:, 1] - pair[:, 0] - 1
        rows = np.repeat(np.arange(len(pair)), counts)
        first = np.repeat(np.cumsum(counts) - counts, counts)
        layers = at[np.repeat(pair[:, 0] + 1, counts) + np.arange(len(rows)) - first]
        rows = asked[rows]
        return np.column_stack([rows, layers])[self.across(rows, layers)]

    def column(self, low: float, high: float) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        """Return the rows of `creases` and the layers that reach between two x."""
        rows = np.flatnonzero((self.reach[:, 0] <= high) & (self.reach[:, 1] >= low))
        inside = np.flatnonzero((self._box[:, 0] < high) & (self._box[:, 2] > low))
        return rows, np.union1d(inside, self.creases[rows, 1:])
