"""Springs: every path that is too short at a wished scale pushes its two tips apart.

Some steps downhill show how well a climb from some points would end, at a small part of its
cost: of 2000 moves on 22 flaps 292 improved a packing, and of these 160 were among the quarter
with the least energy as they stood, 197 after 25 steps, 216 after 50; of 42 on 80 flaps 24, 37 and
37. A climb from where the springs came to rest also finds more: 198 improvements in place of
166, 427 packings worth keeping in place of 382.

The numbers are in single precision, and many points are moved at once. The steps are those of the
heavy ball (B. T. Polyak, USSR Computational Mathematics and Mathematical Physics 4, 1964).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.local_solver.flexible_lengths import flexible
from packer.local_solver.nonlinear_program import kept_with
from packer.local_solver.solver import StartPoint

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from packer.local_solver.nonlinear_program import NonlinearProgram
    from packer.local_solver.solver import LocalSolver

    Floats = NDArray[np.float64]
    Singles = NDArray[np.float32]

LENGTH: Final = 0.3
"""Share of the way that one spring alone would push its tips."""
MOMENTUM: Final = 0.8
"""Of seven pairs of length and momentum from .15 to .5 and .5 to .9 this was among the three that told
most after 25 steps on 22, 25 and 80 flaps."""
AT_ONCE: Final = 16_000
"""Springs moved at once: so many stay in the processor's cache."""
TOUCHING: Final = 1e-9
"""Distance below which two tips do not know where to go."""


@dataclass(frozen=True, eq=False)
class PenaltyRelaxation:
    """A program with a spring between every two tips.

    Attributes
    ----------
    leaders
        (leaders,) the tips that are pushed; the others are their mirror images.
    count
        (leaders,) 2.0 for one that has a mirror image, 1.0 for one that is its own.
    spread, offset
        (2 tips, z) and (2 tips,) the map from the program's variables to coordinates.
    gather
        (2 leaders, z) its transpose's part: how each variable follows its coordinates.
    lower, upper
        (z,) bounds.
    distance
        (leaders tips,) lengths of the paths.
    give
        (leaders tips, w) what each flexible variable adds to them.
    """

    leaders: NDArray[np.intp]
    count: Singles
    spread: Singles
    offset: Singles
    gather: Singles
    lower: Singles
    upper: Singles
    distance: Singles
    give: Singles

    def relax(
        self, z: Floats, change: Floats, scale: Floats, steps: int
    ) -> tuple[Floats, Floats]:
        """Let the springs push.

        Parameters
        ----------
        z, change
            (points, z), (points, w) coordinates, and changes of length in the figure's unit.
        scale
            (points,) wished.
        steps
            How often they push.

        Returns
        -------
        z, energy
            (points, z) where the tips come to, and (points,) the sum of squares of what the
            paths still lack, as lengths in the figure's unit.
        """
        count = max(1, AT_ONCE // len(self.distance))
        parts = [slice(k, k + count) for k in range(0, len(z), count)]
        found = [self._relax(z[part], change[part], scale[part], steps) for part in parts]
        return np.concatenate([a for a, _ in found]), np.concatenate([b for _, b in found])

    def _relax(
        self, z: Floats, change: Floats, scale: Floats, steps: int
    ) -> tuple[Floats, Floats]:
        n = len(self.offset) // 2
        lengths = self.distance + change.astype(np.float32) @ self.give.T
        asked = (scale.astype(np.float32)[:, None] * lengths).reshape(-1, len(self.leaders), n)
        at = z.astype(np.float32)
        speed = np.zeros_like(at)
        for _ in range(steps):
            gap, away, lack = self.stretch(at, asked)
            away += np.float32(TOUCHING)
            push = np.einsum("kij,kcij->kci", lack / away, gap).reshape(len(at), -1)
            speed *= np.float32(MOMENTUM)
            speed += np.float32(LENGTH) * (push @ self.gather)
            at += speed
            np.clip(at, self.lower, self.upper, out=at)
        lack = self.stretch(at, asked)[2]
        energy = np.einsum("kij,kij,i->k", lack, lack, self.count).astype(float)
        energy /= 2 * scale * scale
        return at.astype(float), energy

    def stretch(self, at: Singles, asked: Singles) -> tuple[Singles, Singles, Singles]:
        """Return (points, 2, leaders, tips) gaps, their lengths, and what these lack."""
        tips = (at @ self.spread.T + self.offset).reshape(len(at), 2, -1)
        gap = tips.take(self.leaders, axis=2)[:, :, :, None] - tips[:, :, None, :]
        away = gap[:, 0] * gap[:, 0]
        away += gap[:, 1] * gap[:, 1]
        np.sqrt(away, out=away)
        lack = asked - away
        np.maximum(lack, 0.0, out=lack)
        return gap, away, lack


def penalty_relaxation_of(program: NonlinearProgram) -> PenaltyRelaxation:
    """Return the springs of a program."""
    tree = program.problem.tree
    sign, index = program.sign.reshape(-1), program.index.reshape(-1)
    spread = np.zeros((len(sign), program.n_z), dtype=np.float32)
    free = np.flatnonzero(sign)
    spread[free, index[free]] = sign[free]
    leaders = program.problem.leaders
    rows = np.concatenate([leaders, leaders + tree.n_tips])
    count = 1.0 + (program.problem.mirror[leaders] != leaders)
    # a variable that stands for several coordinates goes as far as they do on the average
    gather = spread[rows] / np.maximum(np.abs(spread[rows]).sum(axis=0), 1.0)
    beyond = tree.beyond
    used = (beyond[:, leaders, None] != beyond[:, None, :]).reshape(len(beyond), -1)
    singles = [
        count,
        spread,
        program.offset.reshape(-1),
        gather,
        program.lower,
        program.upper,
        tree.distances[leaders].reshape(-1),
        flexible(tree).share(used),
    ]
    return PenaltyRelaxation(leaders, *(array.astype(np.float32) for array in singles))


def rested(
    shop: LocalSolver,
    start_points: Sequence[StartPoint],
    change: Floats,
    scale: Floats,
    steps: int,
) -> tuple[list[StartPoint], Floats]:
    """Return where springs draw each of some footholds, and the energy that is left there.

    Parameters
    ----------
    shop
        The problem.
    footholds
        Where the springs are let go.
    change
        (footholds, w) changes of length, in the figure's unit.
    scale
        (footholds,) wished.
    steps
        How often they push.
    """
    found, energy = list(start_points), np.empty(len(start_points))
    for program, group in shop.by_program(start_points):
        z = np.stack([start_points[k].z for k in group])
        springs = kept_with(program, penalty_relaxation_of)
        z, energy[group] = springs.relax(z, change[group], scale[group], steps)
        for k, row in zip(group, z, strict=True):
            found[k] = StartPoint(program.choice, row)
    return found, energy
