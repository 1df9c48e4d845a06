"""The local solver: a feasible primal-dual interior point, linearised anew at each step.

|p_i - p_j| is convex in the variables, so its tangent plane lies below it: whatever satisfies the
linearised constraint satisfies the true one. Every step is therefore feasible without a trust
region or a line search on feasibility, and the slacks are recomputed from the true distances. The
steps are those of the textbooks on primal-dual methods (S. J. Wright, Primal-Dual Interior-Point
Methods, SIAM 1997), with a fixed centring and no predictor.

The steps are in `packer.local_solver.newton_steps`, their linear systems in
`packer.local_solver.normal_equations`.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.deadline import NEVER, Deadline
from packer.local_solver.newton_steps import InteriorPointResult, NewtonSteps
from packer.local_solver.params import (
    COLD,
    POLISHING,
    InitialIterate,
    InteriorPointParams,
    Termination,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.local_solver.nonlinear_program import NonlinearProgram

    Floats = NDArray[np.float64]

USUAL: Final = Termination()
LAST_DIGITS: Final = Termination(tolerance=1e-13)


def maximise(
    program: NonlinearProgram,
    z: Floats,
    change: Floats | None = None,
    *,
    initial: InitialIterate = COLD,
    termination: Termination = USUAL,
    params: InteriorPointParams | None = None,
) -> InteriorPointResult:
    """Solve a program from one start point; see `maximise_batch`."""
    start = np.zeros(program.n_w) if change is None else change
    (result,) = maximise_batch(
        program,
        z[None],
        start[None],
        initial=initial,
        termination=termination,
        params=params,
    )
    return result


def maximise_batch(
    program: NonlinearProgram,
    z: Floats,
    change: Floats,
    *,
    initial: InitialIterate = COLD,
    termination: Termination = USUAL,
    params: InteriorPointParams | None = None,
) -> list[InteriorPointResult]:
    """Find a local optimum of a program from each of several start points, all at once.

    Parameters
    ----------
    program
        What to maximise.
    z, change
        (starts, z), (starts, w) coordinates, and changes of length within their flex.
    initial
        First scale and barrier parameter.
    termination
        When a solve ends.
    params
        Parameters of the method.

    Returns
    -------
    list of InteriorPointResult
        One for each start point, in their order.
    """
    if not program.n_z + program.n_w:
        return [
            InteriorPointResult(a, b, program.scale(a, b), 0.0, 0)
            for a, b in zip(z, change, strict=True)
        ]
    steps = NewtonSteps(program, params or InteriorPointParams())
    return steps.run(steps.first(z, change, initial), termination)


def polish(
    program: NonlinearProgram, z: Floats, change: Floats, deadline: Deadline = NEVER
) -> InteriorPointResult:
    """Solve from next to a local optimum to the last digits; the scale does not fall."""
    termination = replace(LAST_DIGITS, deadline=deadline)
    near = maximise(program, z, change, initial=POLISHING, termination=termination)
    scale = program.scale(z, change)
    if near.scale >= scale:
        return near
    return InteriorPointResult(z, change, scale, near.gap, near.steps)
