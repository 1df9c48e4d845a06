"""Pleats: pairs of folds across a part that shorten it, as the segments of a body do.

The paper of a pleated part runs on to the first fold of a pleat, back by the pleat's depth to the
second, and on again: each pleat takes twice its depth of paper, and the two folds are one depth
apart on the paper.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import accumulate, pairwise

from packer.errors import FigureError
from packer.units import HOLDS


@dataclass(frozen=True)
class Pleats:
    """The pleats of one part, in order from where its length is counted.

    Parameters
    ----------
    middles
        Where the middle of each lies on the finished part, in the figure's unit.
    depths
        How deep each is, in the same unit.
    length
        Finished length of the part.
    """

    middles: tuple[float, ...] = ()
    depths: tuple[float, ...] = ()
    length: float = 1.0

    @property
    def taken(self) -> float:
        """Paper that they take, beside the finished length."""
        return 2 * math.fsum(self.depths)

    @property
    def folds(self) -> tuple[tuple[float, float], ...]:
        """Where the two folds of each pleat lie along the paper, in the figure's unit."""
        before = accumulate((2 * depth for depth in self.depths), initial=0.0)
        return tuple(
            (middle + gone + depth / 2, middle + gone + 1.5 * depth)
            for middle, depth, gone in zip(self.middles, self.depths, before, strict=False)
        )


def pleats_of(
    pleats: int | tuple[float, ...], depth: float | tuple[float, ...], length: float
) -> Pleats:
    """Return the pleats of a part one by one.

    Parameters
    ----------
    pleats
        How many, which then divide the length evenly; or where each is, as rising fractions of
        the length.
    depth
        The depth of all, or of each.
    length
        Finished length of the part.

    Raises
    ------
    FigureError
        Where a pleat has no depth or does not lie within the part; its entry is the key.
    """
    count = pleats if isinstance(pleats, int) else len(pleats)
    depths = depth if isinstance(depth, tuple) else (depth,) * count
    if not count:
        if any(depths) or (not isinstance(depth, tuple) and depth):
            raise FigureError(
                "a depth without pleats; write how many pleats, as in 4", "pleats"
            )
        return Pleats((), (), length)
    if len(depths) != count:
        raise FigureError(
            f"{len(depths)} depths do not fit {count} pleats; write one for each, or one for all",
            "depth",
        )
    for d in depths:
        if not 0 < d < math.inf:
            raise FigureError(
                f"a depth of {d:g} is no pleat; write a length above zero, such as 0.1", "depth"
            )
    shares = (
        tuple(k / (count + 1) for k in range(1, count + 1))
        if isinstance(pleats, int)
        else pleats
    )
    if any(not a < b for a, b in pairwise((0.0, *shares, 1.0))):
        raise FigureError(
            f"{list(shares)} are no places; write rising fractions of the length between 0 and 1",
            "pleats",
        )
    middles = tuple(share * length for share in shares)
    for middle, d in zip(middles, depths, strict=True):
        if d > 2 * min(middle, length - middle) * (1 + HOLDS):
            raise FigureError(
                f"a pleat {d:g} deep reaches over the end of a part {length:g} long; write at "
                f"most {2 * min(middle, length - middle):.3g}",
                "depth",
            )
    return Pleats(middles, depths, length)
