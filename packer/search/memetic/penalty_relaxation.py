"""Penalty relaxation: tips of every path that is too short at a target scale are pushed apart.

Some steps of descent on the quadratic penalty, sum over paths of max(0, m d_ij - |p_i - p_j|)^2,
tell how well a local solve from some points would end, at a small part of its cost, and a solve
from where the descent comes to rest ends better than one from the points themselves.

The numbers are in single precision, and many points are moved at once. The steps are those of the
heavy ball (B. T. Polyak, USSR Computational Mathematics and Mathematical Physics 4, 1964).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.deadline import NEVER, Deadline
from packer.local_solver.flexible_lengths import flexible
from packer.local_solver.nonlinear_program import kept_with
from packer.local_solver.solver import StartPoint

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from packer.local_solver.nonlinear_program import NonlinearProgram
    from packer.local_solver.solver import LocalSolver
    from packer.search.memetic.memetic_params import RelaxationParams

    Floats = NDArray[np.float64]
    Singles = NDArray[np.float32]

AT_ONCE: Final = 16_000
"""Paths relaxed at once: so many stay in the processor's cache; not varied."""
TOUCHING: Final = 1e-9
"""Added to every distance, so that two tips on one point are not divided by zero; not varied."""


@dataclass(frozen=True, eq=False)
class PenaltyRelaxation:
    """The penalty of a program: a quadratic for every path that is too short.

    Attributes
    ----------
    leaders
        (leaders,) the tips that are pushed; the others are their mirror images.
    weight
        (leaders,) 2.0 for one that has a mirror image, 1.0 for one that is its own.
    spread, offset
        (2 tips, z) and (2 tips,) the map from the program's variables to coordinates.
    gather
        (2 leaders, z) how each variable follows the coordinates that depend on it.
    lower, upper
        (z,) bounds.
    distance
        (leaders tips,) tree distances.
    flexible
        (leaders tips, w) what each flexible variable adds to them.
    """

    leaders: NDArray[np.intp]
    weight: Singles
    spread: Singles
    offset: Singles
    gather: Singles
    lower: Singles
    upper: Singles
    distance: Singles
    flexible: Singles

    def relax(
        self,
        z: Floats,
        change: Floats,
        target: Floats,
        steps: int,
        params: RelaxationParams,
        deadline: Deadline = NEVER,
    ) -> tuple[Floats, Floats]:
        """Take some steps of descent.

        Parameters
        ----------
        z, change
            (points, z), (points, w) coordinates, and changes of length in the figure's unit.
        target
            (points,) scales asked for.
        steps
            How many.
        params
            Step length and momentum.
        deadline
            When no more points are moved.

        Returns
        -------
        z, penalty
            (points, z) where the tips come to, and (points,) the sum of squares by which the paths
            are still too short, as lengths in the figure's unit.
        """
        count = max(1, AT_ONCE // len(self.distance))
        parts = [slice(k, k + count) for k in range(0, len(z), count)]
        ends = []
        for part in parts:
            if steps and deadline.over:
                steps = 0
            ends.append(self._relax(z[part], change[part], target[part], steps, params))
        return np.concatenate([a for a, _ in ends]), np.concatenate([b for _, b in ends])

    def _relax(
        self, z: Floats, change: Floats, target: Floats, steps: int, params: RelaxationParams
    ) -> tuple[Floats, Floats]:
        n = len(self.offset) // 2
        lengths = self.distance + change.astype(np.float32) @ self.flexible.T
        asked = (target.astype(np.float32)[:, None] * lengths).reshape(-1, len(self.leaders), n)
        at = z.astype(np.float32)
        speed = np.zeros_like(at)
        for _ in range(steps):
            gap, away, lack = self.shortfall(at, asked)
            away += np.float32(TOUCHING)
            push = np.einsum("kij,kcij->kci", lack / away, gap).reshape(len(at), -1)
            speed *= np.float32(params.momentum)
            speed += np.float32(params.step) * (push @ self.gather)
            at += speed
            np.clip(at, self.lower, self.upper, out=at)
        lack = self.shortfall(at, asked)[2]
        penalty = np.einsum("kij,kij,i->k", lack, lack, self.weight).astype(float)
        penalty /= 2 * target * target
        return at.astype(float), penalty

    def shortfall(self, at: Singles, asked: Singles) -> tuple[Singles, Singles, Singles]:
        """Return (points, 2, leaders, tips) differences, their lengths, and what these fall short by."""
        tips = (at @ self.spread.T + self.offset).reshape(len(at), 2, -1)
        gap = tips.take(self.leaders, axis=2)[:, :, :, None] - tips[:, :, None, :]
        away = gap[:, 0] * gap[:, 0]
        away += gap[:, 1] * gap[:, 1]
        np.sqrt(away, out=away)
        lack = asked - away
        np.maximum(lack, 0.0, out=lack)
        return gap, away, lack


def penalty_relaxation_of(program: NonlinearProgram) -> PenaltyRelaxation:
    """Return the penalty of a program."""
    tree = program.problem.tree
    sign, index = program.sign.reshape(-1), program.index.reshape(-1)
    spread = np.zeros((len(sign), program.n_z), dtype=np.float32)
    free = np.flatnonzero(sign)
    spread[free, index[free]] = sign[free]
    leaders = program.problem.leaders
    rows = np.concatenate([leaders, leaders + tree.n_tips])
    weight = 1.0 + (program.problem.mirror[leaders] != leaders)
    # a variable that stands for several coordinates moves by their mean
    gather = spread[rows] / np.maximum(np.abs(spread[rows]).sum(axis=0), 1.0)
    first = np.repeat(leaders, tree.n_tips)
    second = np.tile(np.arange(tree.n_tips), len(leaders))
    singles = [
        weight,
        spread,
        program.offset.reshape(-1),
        gather,
        program.lower,
        program.upper,
        tree.distances[leaders].reshape(-1),
        flexible(tree).share(tree.beyond, first, second),
    ]
    return PenaltyRelaxation(leaders, *(array.astype(np.float32) for array in singles))


def relaxed(
    solver: LocalSolver,
    starts: Sequence[StartPoint],
    change: Floats,
    target: Floats,
    steps: int,
    params: RelaxationParams,
) -> tuple[list[StartPoint], Floats]:
    """Return where relaxation draws each of some start points, and the penalty left there.

    Parameters
    ----------
    solver
        The problem.
    starts
        Where it begins.
    change
        (starts, w) changes of length, in the figure's unit.
    target
        (starts,) scales asked for.
    steps
        How many.
    params
        Step length and momentum.
    """
    ends, penalty = list(starts), np.empty(len(starts))
    for program, group in solver.by_program(starts):
        z = np.stack([starts[k].z for k in group])
        relaxation = kept_with(program, penalty_relaxation_of)
        z, penalty[group] = relaxation.relax(
            z, change[group], target[group], steps, params, solver.deadline
        )
        for k, row in zip(group, z, strict=True):
            ends[k] = StartPoint(program.choice, row)
    return ends, penalty
