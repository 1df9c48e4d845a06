"""Listed slacks: which paths enter the systems of some climbs, and in what order all slacks stand.

Of the paths of a large figure only a few are near to their length, and each climb has others. So
slacks, multipliers and the like of several climbs are flat arrays: first the listed paths, climb
after climb, then for each climb the rows of its program, its lower bounds and its upper bounds.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeVar

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    T = TypeVar("T", bound=np.generic)
    Floats = NDArray[np.float64]
    Indices = NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class WorkingSet:
    """The slacks of some climbs of one program.

    Attributes
    ----------
    climb
        (paths,) whose each path is.
    begins
        (climbs,) the first path of each climb; each has one at least.
    first, second
        (paths,) its tips, counted through all climbs.
    distance
        (paths,) its length.
    bend
        (paths, w) what each flexible variable adds to its slack.
    sign
        (4, paths) how its slack follows its four coordinates, times its unit vector.
    entry, place
        (4, paths) and (10, paths) where these coordinates and their products stand in the
        right-hand sides and matrices of all climbs.
    double
        (10, paths) 2.0 where one product stands for two equal ones, else 1.0; None where all are 1.0.
    owner
        (slacks,) whose each slack is.
    weight
        (slacks,) how much more it would need for a scale larger by 1: the multipliers of an optimum,
        times this, sum to 1.
    """

    climb: Indices
    begins: Indices
    first: Indices
    second: Indices
    distance: Floats
    bend: Floats
    sign: Floats
    entry: Indices
    place: Indices
    double: Floats | None
    owner: Indices
    weight: Floats

    def paths(self, values: Floats) -> Floats:
        """Return (paths,) the paths' part of (slacks,) values."""
        return values[: len(self.climb)]

    def rest(self, values: Floats) -> Floats:
        """Return (climbs, rows + 2 z) the part of (slacks,) values that belongs to no path."""
        return values[len(self.climb) :].reshape(len(self.begins), -1)

    def sums(self, values: Floats) -> Floats:
        """Return (climbs,) the sums of (slacks,) values."""
        sums: Floats = np.add.reduceat(self.paths(values), self.begins)
        sums += self.rest(values).sum(axis=1)
        return sums

    def largest(self, values: Floats) -> Floats:
        """Return (climbs,) the largest of (slacks,) values."""
        largest: Floats = np.maximum.reduceat(self.paths(values), self.begins)
        np.maximum(largest, self.rest(values).max(axis=1), out=largest)
        return largest


def taken(values: NDArray[T], index: Indices) -> NDArray[T]:
    """Return ``values[..., index]``, several times as fast."""
    return np.take(values, index, axis=-1, mode="clip")
