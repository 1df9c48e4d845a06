"""The normal equations of one interior-point step: assembled by `bincount`, solved by Cholesky.

Unknown is the step in (z, w, m). With slack gradients a_r, stiffness lambda_r / s_r and pull
t / s_r, the system is ``sum stiff a a^T delta = e_m + sum pull a``. A path touches four
coordinates and m, so its ten products go straight to their places in the matrix. The systems of
several solves are assembled at once (`packer.local_solver.working_set`).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.linalg.lapack import dposv

from packer.local_solver.working_set import WorkingSet, taken

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.local_solver.nonlinear_program import NonlinearProgram

    Floats = NDArray[np.float64]
    Indices = NDArray[np.intp]

_LEFT, _RIGHT = np.triu_indices(4)


class NormalEquations:
    """Where each path's derivatives go in the matrix of a program."""

    def __init__(self, program: NonlinearProgram) -> None:
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
        twice = (a == b) & (_LEFT != _RIGHT)[:, None]
        self.double = np.where(twice, 2.0, 1.0) if twice.any() else None
        self.full = np.hstack([program.rows, program.row_scale[:, None]])
        self.rest = np.concatenate([-program.row_scale, np.zeros(2 * program.n_z)])

    def working_set(self, near: NDArray[np.bool_]) -> WorkingSet:
        """Return the slacks of some solves with (solves, pairs) paths: at least one for each."""
        program, tips = self.program, self.program.sign.shape[1]
        solve, pair = np.divmod(np.flatnonzero(near), near.shape[1])
        count = near.sum(axis=1)
        distance = taken(program.distance, pair)
        return WorkingSet(
            solve,
            np.cumsum(count) - count,
            taken(program.first, pair) + solve * tips,
            taken(program.second, pair) + solve * tips,
            distance,
            program.bend[pair],
            taken(self.sign, pair),
            taken(self.entry, pair) + solve * self.size,
            taken(self.place, pair) + solve * self.size**2,
            None if self.double is None else taken(self.double, pair),
            np.concatenate([solve, np.repeat(np.arange(len(near)), len(self.rest))]),
            np.concatenate([distance, np.tile(self.rest, len(near))]),
        )

    def solve(
        self,
        working: WorkingSet,
        unit: Floats,
        pull: Floats,
        stiff: Floats,
        least_pivot: float = 1e-14,
    ) -> Floats:
        """Return (solves, z + w + 1) steps; NaN where the matrix is not positive definite.

        Parameters
        ----------
        working
            The slacks that enter.
        unit
            (2, paths) unit vectors.
        pull, stiff
            (slacks,) as above.
        least_pivot
            Added to the diagonal, as a share of its largest entry.
        """
        matrix, right = self.assemble(working, unit, working.paths(pull), working.paths(stiff))
        self.add_rest(matrix, right, working.rest(pull), working.rest(stiff))
        delta = np.full_like(right, np.nan)
        for k in range(len(right)):
            diagonal = np.einsum("ii->i", matrix[k])
            diagonal += least_pivot * diagonal.max()
            _, step, failed = dposv(matrix[k].T, right[k], lower=1, overwrite_a=1)
            if not failed:
                delta[k] = step
        return delta

    def assemble(
        self, working: WorkingSet, unit: Floats, pull: Floats, stiff: Floats
    ) -> tuple[Floats, Floats]:
        """Return the paths' part of the (solves, size, size) matrices, upper halves, and right sides."""
        size, n_z, solves, d = (
            self.size,
            self.program.n_z,
            len(working.begins),
            working.distance,
        )
        g = working.sign * unit[[0, 1, 0, 1]]
        heavy = stiff * g
        product = heavy[_LEFT] * g[_RIGHT]
        if working.double is not None:
            product *= working.double
        cells = solves * size
        matrix = _added(working.place, product, cells * size).reshape(solves, size, size)
        column = _added(working.entry, heavy * d, cells).reshape(solves, size)
        matrix[:, :n_z, -1] = -column[:, :n_z]
        matrix[:, -1, -1] = np.add.reduceat(stiff * d * d, working.begins)
        right = _added(working.entry, pull * g, cells).reshape(solves, size)
        right[:, -1] = 1.0 - np.add.reduceat(pull * d, working.begins)
        if self.program.n_w:
            self.add_bends(working, matrix, right, heavy, pull, stiff)
        return matrix, right

    def add_bends(
        self,
        working: WorkingSet,
        matrix: Floats,
        right: Floats,
        heavy: Floats,
        pull: Floats,
        stiff: Floats,
    ) -> None:
        """Add the part of the flexible lengths."""
        n_z, bend, d = self.program.n_z, working.bend, working.distance
        solves, size, n_w = len(matrix), self.size, bend.shape[1]
        weighted = stiff[:, None] * bend
        cross = np.zeros((solves * size, n_w))
        np.add.at(cross, working.entry, heavy[:, :, None] * bend)
        matrix[:, :n_z, n_z:-1] = cross.reshape(solves, size, n_w)[:, :n_z]
        matrix[:, n_z:-1, -1] = -np.add.reduceat(d[:, None] * weighted, working.begins)
        right[:, n_z:-1] = np.add.reduceat(pull[:, None] * bend, working.begins)
        parts = np.split(np.arange(len(d)), working.begins[1:])
        for k, part in enumerate(parts):
            matrix[k, n_z:-1, n_z:-1] = bend[part].T @ weighted[part]

    def add_rest(self, matrix: Floats, right: Floats, pull: Floats, stiff: Floats) -> None:
        """Add the part of the rows of the program and of the bounds."""
        n_z, rows = self.program.n_z, len(self.full)
        low, high = slice(rows, rows + n_z), slice(rows + n_z, None)
        right[:, :n_z] += pull[:, low] - pull[:, high]
        diagonal = np.einsum("kii->ki", matrix)
        diagonal[:, :n_z] += stiff[:, low] + stiff[:, high]
        if rows:
            matrix += np.einsum("ra,kr,rb->kab", self.full, stiff[:, :rows], self.full)
            right += pull[:, :rows] @ self.full


def _added(place: NDArray[np.intp], values: Floats, size: int) -> Floats:
    """Return (size,) the sums of the values that have one place."""
    return np.asarray(np.bincount(place.ravel(), values.ravel(), size), dtype=np.float64)
