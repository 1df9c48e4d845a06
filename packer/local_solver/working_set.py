"""The working set: which paths enter the systems of some solves, and the order of all slacks.

Of the paths of a large figure only a few are nearly active, and other ones in each solve. So the
slacks and multipliers of several solves are flat arrays: first the paths of the working sets, solve
after solve, then for each solve the rows of its program, its lower bounds and its upper bounds.
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
    """The slacks of some solves of one program.

    Attributes
    ----------
    solve
        (paths,) the solve that each path belongs to.
    begins
        (solves,) the first path of each solve; each has at least one.
    first, second
        (paths,) the tips of each path, numbered through all solves.
    distance
        (paths,) tree distance of its tips.
    bend
        (paths, w) what each flexible variable adds to its slack.
    sign
        (4, paths) derivatives of its slack by its four coordinates, over the unit vector.
    entry, place
        (4, paths) and (10, paths) where these coordinates and their products stand in the
        right-hand sides and matrices of all solves.
    double
        (10, paths) 2.0 where one product stands for two equal ones, else 1.0; None where all are 1.0.
    owner
        (slacks,) the solve that each slack belongs to.
    weight
        (slacks,) minus the derivative of each slack by the scale: the multipliers of an optimum,
        times this, sum to 1.
    """

    solve: Indices
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
        return values[: len(self.solve)]

    def rest(self, values: Floats) -> Floats:
        """Return (solves, rows + 2 z) the part of (slacks,) values that belongs to no path."""
        return values[len(self.solve) :].reshape(len(self.begins), -1)

    def sums(self, values: Floats) -> Floats:
        """Return (solves,) the sums of (slacks,) values."""
        sums: Floats = np.add.reduceat(self.paths(values), self.begins)
        sums += self.rest(values).sum(axis=1)
        return sums

    def largest(self, values: Floats) -> Floats:
        """Return (solves,) the largest of (slacks,) values."""
        largest: Floats = np.maximum.reduceat(self.paths(values), self.begins)
        np.maximum(largest, self.rest(values).max(axis=1), out=largest)
        return largest


def taken(values: NDArray[T], index: Indices) -> NDArray[T]:
    """Return ``values[..., index]``, several times as fast."""
    return np.take(values, index, axis=-1, mode="clip")
