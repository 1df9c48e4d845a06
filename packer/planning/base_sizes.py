"""The sizes of a packing's base: what a plan is made of, for packings of circles and on a grid."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.errors import OptionError
from packer.folded.layer_count import layer_count
from packer.folded.pleats import pleated_cells
from packer.grid.grid_creases import grid_creases
from packer.grid.grid_packing import GridPacking
from packer.planning.layer_estimate import flap_widths, joint_layers

if TYPE_CHECKING:
    from collections.abc import Mapping

    from packer.creases.pattern import CreasePattern
    from packer.folded.layer_count import LayerCount
    from packer.model.packing import Packing
    from packer.model.sheet import Sheet
    from packer.model.tree import Tree

LENGTHS: Final = (
    "Lengths on the sheet are exact: scale x length. Finished lengths leave out the allowance for "
    "thickness and shaping, a few percent by common practice; a figure that is shaped hard loses "
    "more."
)
LAYERS: Final = (
    "Layers are estimated as length of the hinge curve / folded width, added up over all parts "
    "that meet at a joint: the mean over its width, right to a twentieth for the classic bases. "
    "Thickness is layers x caliper, pressed flat. A crease pattern counts its most layers at any "
    "one point, fillers with them: 0.7 to 3.7 times the estimate on twelve samples."
)
WIDTHS: Final = (
    "Folded widths are 0.41 of a flap's length, as in the classic bases, or the width that was "
    "asked for. A flap narrower than 20 calipers or shorter than 5 mm counts as hard by hand "
    "(common practice)."
)
GRID_LENGTHS: Final = (
    "Lengths on the sheet are whole cells x the side of a cell; a pleat folds away two cells or more. "
    "Finished lengths leave out the allowance for thickness and shaping, a few percent by common "
    "practice; a figure that is shaped hard loses more."
)
GRID_LAYERS: Final = (
    "Layers are counted on the creases of the grid: the most at any one point. Thickness is layers "
    "x caliper, pressed flat."
)
GRID_WIDTHS: Final = (
    "Flaps are folded half a cell wide, as the creases of the grid lie, or as narrow as was asked for. "
    "A flap narrower than 20 calipers or shorter than 5 mm counts as hard by hand (common practice)."
)

MOST_COUNTED: Final = 200
"""Cells along a side up to which a grid is planned: its creases and layers take seconds there."""


@dataclass(frozen=True)
class BaseSizes:
    """Sizes of a base in sheet units.

    Attributes
    ----------
    tree, sheet
        The figure with its twins written out, and what it is packed on.
    kinds
        For each flap "corner", "edge" or "middle".
    on_sheet, finished
        Length of each part on the sheet, and with its pleats folded.
    widths
        Folded width of each flap.
    models
        How the numbers come about, in sentences.
    cells, cell
        Of a grid its cells across and up, and the side of one; none and 0 for circles.
    """

    tree: Tree
    sheet: Sheet
    kinds: Mapping[str, str]
    on_sheet: Mapping[str, float]
    finished: Mapping[str, float]
    widths: Mapping[str, float]
    models: tuple[str, ...]
    cells: tuple[int, ...] = ()
    cell: float = 0.0

    def longest(self) -> tuple[float, tuple[str, str]]:
        """Return the longest way from tip to tip with pleats folded, and its two flaps."""
        lengths = np.array([self.finished[name] for name in self.tree.names])
        apart = self.tree.distances_with(lengths)
        i, j = np.unravel_index(int(apart.argmax()), apart.shape)
        return float(apart[i, j]), (self.tree.flaps[i], self.tree.flaps[j])


def base_sizes(packing: Packing | GridPacking, width: float | None = None) -> BaseSizes:
    """Return the sizes of a base.

    Parameters
    ----------
    packing
        Any packing.
    width
        A width to fold all flaps to, in sheet units; no flap gets wider than it is by nature.
    """
    tree = packing.tree
    if isinstance(packing, GridPacking):
        across = packing.cell / 2 if width is None else min(width, packing.cell / 2)
        folded = {
            name: 2 * sum(b - a for a, b in part.folds)
            for name, part in pleated_cells(packing).items()
        }
        lengths = dict(zip(tree.names, packing.lengths, strict=True))
        return BaseSizes(
            tree,
            packing.problem.sheet,
            packing.kinds,
            {name: cells * packing.cell for name, cells in lengths.items()},
            {n: c * (1 - folded.get(n, 0.0)) * packing.cell for n, c in lengths.items()},
            dict.fromkeys(tree.flaps, across),
            (GRID_LENGTHS, GRID_LAYERS, GRID_WIDTHS),
            packing.cells,
            packing.cell,
        )
    finished = zip(tree.names, packing.finished_lengths, strict=True)
    return BaseSizes(
        tree,
        packing.sheet,
        packing.kinds,
        packing.sheet_lengths,
        {name: packing.scale * length for name, length in finished},
        flap_widths(packing, width),
        (LENGTHS, LAYERS, WIDTHS),
    )


def thickest(
    packing: Packing | GridPacking,
    width: float | None = None,
    pattern: CreasePattern | None = None,
) -> tuple[str, float, LayerCount | None]:
    """Return the thickest joint, its layers, and the layers of the creases where they are counted.

    Parameters
    ----------
    packing, width
        As of `base_sizes`.
    pattern
        The creases; those of a grid follow from it, and without those of circles layers are
        estimated.

    Raises
    ------
    OptionError
        Where a grid has too many cells.
    """
    if isinstance(packing, GridPacking) and pattern is None:
        if max(packing.cells) > MOST_COUNTED:
            across, up = packing.cells
            raise OptionError(
                f"{across} x {up} cells are too many to count layers on; {MOST_COUNTED} along a side "
                "are the most",
                "cells",
            )
        pattern = grid_creases(packing)
    if pattern is not None:
        counted = layer_count(pattern)
        joint, layers = counted.thickest
        return joint, float(layers), counted
    assert not isinstance(packing, GridPacking)
    thick = joint_layers(packing, width)[0]
    return thick.joint, thick.layers, None
