"""Where marks are wanted on a sheet, how near, and on which lines they must lie."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from packer.landmarks.sequence import edges_of, line_spread
from packer.units import SAME_LINE

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.landmarks.mirror import SheetMirror


@dataclass(frozen=True, eq=False)
class Target:
    """Where a mark is wanted, how near, and on which edges and line of symmetry it must lie."""

    spot: NDArray[np.float64]
    within: float
    on: NDArray[np.float64]

    def near(self, lines: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Return which lines run through the target, as nearly as is wanted."""
        with np.errstate(invalid="ignore"):
            near: NDArray[np.bool_] = abs(self.off(lines)) <= self.within
        return near

    def off(self, lines: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return how far lines run from the target, signed."""
        off: NDArray[np.float64] = lines[..., :2] @ self.spot - lines[..., 2]
        return off

    def misses(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return how far points lie from the target; infinite where one is no mark for it."""
        with np.errstate(invalid="ignore"):  # parallel lines cross nowhere
            miss = np.hypot(*(points - self.spot).T)
            beside = abs(points @ self.on[:, :2].T - self.on[:, 2]) > SAME_LINE
            good = ~beside.any(axis=-1) & (miss <= self.within)
        return np.where(good, miss, np.inf)


@dataclass(frozen=True, eq=False)
class LandmarkTask:
    """What is looked for: targets on a sheet, and marks that by hand miss by so much at most."""

    size: tuple[float, float]
    targets: tuple[Target, ...]
    hand: float
    most_error: float
    mirror: SheetMirror | None

    @cached_property
    def _spots(self) -> NDArray[np.float64]:
        return np.array([target.spot for target in self.targets]).reshape(-1, 2)

    @cached_property
    def _within(self) -> NDArray[np.float64]:
        return np.array([target.within for target in self.targets])

    def off(self, lines: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return (targets, n, times) how far (n, times, 3) lines run from the targets, signed."""
        across = np.einsum("kd,ntd->knt", self._spots, lines[..., :2])
        off: NDArray[np.float64] = across - lines[..., 2]
        return off

    def sure(self, off: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Return (targets, n) which lines run through the targets and can be relied on there."""
        near = abs(off[..., 0]) <= self._within[:, None]
        sure: NDArray[np.bool_] = near & (
            line_spread(off, self.size, self.hand) <= self.most_error
        )
        return sure


def lines_under(
    spot: NDArray[np.float64], size: tuple[float, float], mirror: SheetMirror | None
) -> NDArray[np.float64]:
    """Return the edges and the line of symmetry that a point lies on."""
    lines = edges_of(size)
    if mirror is not None:
        lines = np.concatenate([lines, np.array(mirror.axis)[None]])
    return lines[abs(lines[:, :2] @ spot - lines[:, 2]) < SAME_LINE * min(size)]
