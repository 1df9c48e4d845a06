"""The normal equations of one interior-point step: assembled by counting, solved by Cholesky.

Unknown is the step in (z, w, m). With slack gradients a_r, stiffness lambda_r / s_r and pull
t / s_r, the system is ``sum stiff a a^T delta = e_m + sum pull a``. A path touches four
coordinates and m, so its ten products go straight to their places in the matrix.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np
from scipy.linalg.lapack import dposv

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.search.program import Program

    Floats = NDArray[np.float64]

_LEFT, _RIGHT = np.triu_indices(4)
DENSE_UP_TO: Final = 0.7
"""Share of stressed pairs above which picking them out would cost more than it saves."""
LEAST_PIVOT: Final = 1e-14
"""Added to the diagonal, as a share of its largest entry: loose tips leave the matrix singular."""


class Normal:
    """Where each path's derivatives go in the matrix of a program."""

    def __init__(self, program: Program) -> None:
        self.program = program
        i, j = program.first, program.second
        self.size = program.n_z + program.n_w + 1
        self.entry = np.stack(
            [program.index[0, i], program.index[1, i], program.index[0, j], program.index[1, j]]
        )
        self.sign = np.stack(
            [program.sign[0, i], program.sign[1, i], -program.sign[0, j], -program.sign[1, j]]
        )
        a, b = self.entry[_LEFT], self.entry[_RIGHT]
        self.place = np.minimum(a, b) * self.size + np.maximum(a, b)
        # an off-diagonal product that falls on one coordinate stands for two equal ones
        self.weight = np.where((a == b) & (_LEFT != _RIGHT)[:, None], 2.0, 1.0)
        self.plain = bool((self.weight == 1.0).all())
        self.full = np.hstack([program.rows, program.row_scale[:, None]])

    def solve(self, unit: Floats, pull: Floats, stiff: Floats) -> Floats:
        """Return (climbs, z + w + 1) steps; NaN where the matrix is not positive.

        Parameters
        ----------
        unit
            (climbs, 2, pairs) unit vectors of the paths.
        pull, stiff
            (climbs, slacks) as above; zero for pairs left out.
        """
        matrix, right = self.assemble(unit, pull, stiff)
        delta = np.full_like(right, np.nan)
        for k in range(len(right)):
            diagonal = np.einsum("ii->i", matrix[k])
            diagonal += LEAST_PIVOT * diagonal.max()
            _, step, failed = dposv(matrix[k].T, right[k], lower=1, overwrite_a=1)
            if not failed:
                delta[k] = step
        return delta

    def assemble(self, unit: Floats, pull: Floats, stiff: Floats) -> tuple[Floats, Floats]:
        """Return the (climbs, size, size) matrices, upper halves, and right-hand sides."""
        program, size = self.program, self.size
        climbs, n_z, n_pairs = len(pull), program.n_z, len(program.first)
        matrix = np.empty((climbs, size, size))
        right = np.zeros((climbs, size))
        for k in range(climbs):
            chosen = self.chosen(stiff[k, :n_pairs])
            self.add_paths(matrix, right, k, chosen, unit[k], pull[k], stiff[k])
        low, high = (
            (slice(-2 * n_z, -n_z or None), slice(-n_z, None)) if n_z else (slice(0),) * 2
        )
        right[:, :n_z] += pull[:, low] - pull[:, high]
        right[:, -1] += 1.0
        diagonal = np.einsum("kii->ki", matrix)
        diagonal[:, :n_z] += stiff[:, low] + stiff[:, high]
        if len(self.full):
            rows = slice(n_pairs, n_pairs + len(self.full))
            matrix += np.einsum("ra,kr,rb->kab", self.full, stiff[:, rows], self.full)
            right += pull[:, rows] @ self.full
        return matrix, right

    def chosen(self, stiff: Floats) -> slice | NDArray[np.intp]:
        """Return the pairs that enter the matrix."""
        held = np.flatnonzero(stiff)
        return held if len(held) < DENSE_UP_TO * len(stiff) else slice(None)

    def add_paths(
        self,
        matrix: Floats,
        right: Floats,
        k: int,
        chosen: slice | NDArray[np.intp],
        unit: Floats,
        pull: Floats,
        stiff: Floats,
    ) -> None:
        """Write the paths' part of one climb's system."""
        program, size, n_z = self.program, self.size, self.program.n_z
        n_pairs = len(program.first)
        d = program.distance[chosen]
        pull, stiff = pull[:n_pairs][chosen], stiff[:n_pairs][chosen]
        g = self.sign[:, chosen] * unit[[0, 1, 0, 1]][:, chosen]
        heavy = stiff * g
        product = heavy[_LEFT] * g[_RIGHT]
        if not self.plain:
            product *= self.weight[:, chosen]
        place, entry = self.place[:, chosen].ravel(), self.entry[:, chosen].ravel()
        matrix[k] = np.bincount(place, product.ravel(), size * size).reshape(size, size)
        matrix[k, :n_z, -1] = -np.bincount(entry, (heavy * d).ravel(), n_z)[:n_z]
        matrix[k, -1, -1] = (stiff * d) @ d
        right[k, :n_z] = np.bincount(entry, (pull * g).ravel(), n_z)[:n_z]
        right[k, -1] = -(pull @ d)
        if program.n_w:
            bend = program.bend[chosen]
            cross = np.zeros((n_z, program.n_w))
            np.add.at(cross, entry, (heavy[:, :, None] * bend).reshape(-1, program.n_w))
            weighted = stiff[:, None] * bend
            matrix[k, :n_z, n_z:-1] = cross
            matrix[k, n_z:-1, n_z:-1] = bend.T @ weighted
            matrix[k, n_z:-1, -1] = -(d @ weighted)
            right[k, n_z:-1] = pull @ bend
