"""What the grid costs: the scale of a grid packing against that of a circle packing."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from packer.errors import PackingError
from packer.units import HOLDS

if TYPE_CHECKING:
    from packer.grid.grid_packing import GridPacking
    from packer.model.packing import Packing


@dataclass(frozen=True)
class GridCost:
    """Scales on one and the same sheet, in sheet units per unit of the figure's length.

    Attributes
    ----------
    grid
        Of the grid packing, as far as whole cells keep the lengths.
    least
        Of its flap or river that rounding made the shortest for its length.
    circles
        Of the circle packing.
    """

    grid: float
    least: float
    circles: float

    @property
    def share(self) -> float:
        """The grid's scale as a share of the circles'.

        With lengths that are kept exactly and both packings the best, it lies between 1 / sqrt 2
        and 1: max metric and Euclidean distance differ by at most sqrt 2.
        """
        return self.grid / self.circles


def grid_cost(grid: GridPacking, circles: Packing) -> GridCost:
    """Compare a grid packing with a circle packing of the same figure on the same sheet.

    Raises
    ------
    PackingError
        Where they answer different figures or sheets.
    """
    a, b = grid.problem.sheet, circles.sheet
    same = np.allclose((a.width, a.height), (b.width, b.height), rtol=HOLDS, atol=0)
    if not same or a.unit != b.unit or grid.tree.names != circles.tree.names:
        raise PackingError(
            "a grid and a circle packing are compared on one sheet for one figure; pack both again"
        )
    return GridCost(grid.scale, grid.least_scale, circles.scale)
