"""Duplicates: start points so near to a known packing that a local solve would end there.

More than half of the solves after operators would end in the packing they came from or in another
of the population.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from packer.units import ACTIVE

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from packer.local_solver.solver import LocalOptimum, LocalSolver


@dataclass(frozen=True, eq=False)
class KnownPackings:
    """Packings of one problem that are known.

    Attributes
    ----------
    points
        (packings, tips, 2)
    held
        (packings, tips) 1.0 where an active path holds a tip, 0.0 where it is a rattler.
    radius
        Distance from its place below which a tip counts as near, in sheet units.
    """

    points: NDArray[np.float64]
    held: NDArray[np.float64]
    radius: float

    def near(self, points: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Return (several,) whether (several, tips, 2) points are duplicates of a known packing.

        They are if every tip that an active path holds in the packing lies near to its place there.
        """
        off = self.points - points[:, None]
        away = np.einsum("pktc,pktc,kt->pkt", off, off, self.held)
        duplicate: NDArray[np.bool_] = (away.max(axis=2) < self.radius**2).any(axis=1)
        return duplicate


def known_packings(
    solver: LocalSolver, optima: Sequence[LocalOptimum], distance: float
) -> KnownPackings:
    """Return some optima as known packings.

    Parameters
    ----------
    solver
        The problem.
    optima
        The packings.
    distance
        How far tips may stray, as a share of the diagonal of one tip's share of the sheet.
    """
    points = np.stack([solver.points(optimum) for optimum in optima])
    held = np.stack([_held(solver, optimum) for optimum in optima])
    share = solver.problem.sheet.diagonal / math.sqrt(points.shape[1])
    return KnownPackings(points, held, distance * share)


def _held(solver: LocalSolver, optimum: LocalOptimum) -> NDArray[np.float64]:
    """Return (tips,) 1.0 where an active path or its mirror image ends, else 0.0."""
    program = solver.program(optimum.choice)
    mirror = program.problem.mirror
    active = program.slack(optimum.z, optimum.change, optimum.scale * (1 + ACTIVE)) <= 0
    held = np.zeros(len(mirror))
    for end in (program.first[active], program.second[active]):
        held[end] = held[mirror[end]] = 1.0
    return held
