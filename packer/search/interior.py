"""The local solver: a feasible primal-dual interior point, linearised anew at each step.

|p_i - p_j| is convex in the variables, so its tangent plane lies below it: whatever satisfies the
linearised constraint satisfies the true one. Every step is therefore feasible without a trust
region or a line search on feasibility, and the slacks are recomputed from the true distances. The
steps are those of the textbooks on primal-dual methods (S. J. Wright, Primal-Dual Interior-Point
Methods, SIAM 1997), with a fixed centring and no predictor.

The steps are in `packer.search.steps`, their linear systems in `packer.search.normal`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from packer.search.steps import Ascent, Climbs

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from packer.search.program import Program

    Floats = NDArray[np.float64]


def ascend(
    program: Program,
    z: Floats,
    change: Floats | None = None,
    *,
    share: float = 0.7,
    warmth: float = 1.0,
    beat: float = -np.inf,
    tolerance: float = 1e-10,
) -> Ascent:
    """Climb to a local optimum of a program; see `ascend_all`."""
    start = np.zeros(program.n_w) if change is None else change
    return ascend_all(
        program,
        z[None],
        start[None],
        share=share,
        warmth=warmth,
        beat=beat,
        tolerance=tolerance,
    )[0]


def ascend_all(
    program: Program,
    z: Floats,
    change: Floats,
    *,
    share: float = 0.7,
    warmth: float = 1.0,
    beat: float = -np.inf,
    known: Sequence[float] = (),
    tolerance: float = 1e-10,
) -> list[Ascent]:
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
            Ascent(a, b, program.scale(a, b), 0.0, 0) for a, b in zip(z, change, strict=True)
        ]
    return Climbs(program, z, change, share, warmth).run(beat, np.array(known), tolerance)


def polish(program: Program, z: Floats, change: Floats) -> Ascent:
    """Climb from next to a local optimum to the last digits."""
    near = ascend(program, z, change, share=0.99, warmth=0.01, tolerance=1e-13)
    if near.scale >= program.scale(z, change):
        return near
    return Ascent(z, change, program.scale(z, change), near.gap, near.steps)
