"""The local solver: a feasible primal-dual interior point, linearised anew at each step.

|p_i - p_j| is convex in the variables, so its tangent plane lies below it: whatever satisfies the
linearised constraint satisfies the true one. Every step is therefore feasible without a trust
region or a line search on feasibility, and the slacks are recomputed from the true distances. The
steps are those of the textbooks on primal-dual methods (S. J. Wright, Primal-Dual Interior-Point
Methods, SIAM 1997), with a fixed centring and no predictor.

The steps are in `packer.local_solver.newton_steps`, their linear systems in `packer.local_solver.normal_equations`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from packer.local_solver.newton_steps import InteriorPointResult, NewtonIterates

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from packer.local_solver.nonlinear_program import NonlinearProgram

    Floats = NDArray[np.float64]


def maximise(
    program: NonlinearProgram,
    z: Floats,
    change: Floats | None = None,
    *,
    share: float = 0.7,
    warmth: float = 1.0,
    beat: float = -np.inf,
    tolerance: float = 1e-10,
) -> InteriorPointResult:
    """Climb to a local optimum of a program; see `maximise_batch`."""
    start = np.zeros(program.n_w) if change is None else change
    return maximise_batch(
        program,
        z[None],
        start[None],
        share=share,
        warmth=warmth,
        beat=beat,
        tolerance=tolerance,
    )[0]


def maximise_batch(
    program: NonlinearProgram,
    z: Floats,
    change: Floats,
    *,
    share: float = 0.7,
    warmth: float = 1.0,
    beat: float = -np.inf,
    known: Sequence[float] = (),
    tolerance: float = 1e-10,
) -> list[InteriorPointResult]:
    """Climb to local optima of a program, from several starts at once.

    Parameters
    ----------
    program
        What to maximise.
    z, change
        (starts, z), (starts, w) coordinates, and changes of length within their flex.
    share
        Share of each start's own scale at which m begins.
    warmth
        Factor on the first barrier parameter; below one near an optimum.
    beat
        Give up where the gap says that this scale is out of reach (a heuristic: the problem is
        not concave).
    known
        Scales of optima that are not to be reached again.
    tolerance
        End at a gap below this share of the scale.
    """
    if not program.n_z + program.n_w:
        return [
            InteriorPointResult(a, b, program.scale(a, b), 0.0, 0)
            for a, b in zip(z, change, strict=True)
        ]
    return NewtonIterates(program, z, change, share, warmth).run(
        beat, np.array(known), tolerance
    )


def polish(program: NonlinearProgram, z: Floats, change: Floats) -> InteriorPointResult:
    """Climb from next to a local optimum to the last digits."""
    near = maximise(program, z, change, share=0.99, warmth=0.01, tolerance=1e-13)
    if near.scale >= program.scale(z, change):
        return near
    return InteriorPointResult(z, change, program.scale(z, change), near.gap, near.steps)
