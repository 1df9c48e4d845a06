"""How a grid packing lies: in the position that agrees with the stick figure best."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from packer.model.laying import BETTER, agreement, positions

if TYPE_CHECKING:
    from packer.grid.grid_packing import GridPacking


def laid_grid(packing: GridPacking) -> GridPacking:
    """Return a grid packing turned, or turned over, so that it agrees with the figure best.

    Places that the figure asks for are kept; one that cannot be turned stays as it is.
    """
    problem = packing.problem
    middle = np.array(packing.cells) / 2
    about = np.array(packing.tips, dtype=float) - middle
    flips = positions(problem)
    if packing.cells[0] != packing.cells[1]:
        flips = tuple(flip for flip in flips if flip[0][1] == 0)
    agreed = agreement(problem, about, flips)
    least = agreed[0] + BETTER * max(float(np.abs(agreed).max()), 1e-300)
    for k in np.argsort(-agreed, kind="stable"):
        if agreed[k] <= least:
            break
        points = about @ np.array(flips[k]).T + middle
        turned = replace(packing, tips=tuple((x, y) for x, y in points.tolist()))
        if not turned.violations():
            return turned
    return packing
