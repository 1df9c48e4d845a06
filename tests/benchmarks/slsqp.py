"""Multistart with scipy's SLSQP: a plain baseline that knows nothing of trees.

All pairs are constraints, with exact derivatives, in the same variables as the search (sides,
axes and twins are the same linear map), so that only the solver and the starts differ.
"""

from __future__ import annotations

from time import process_time

import numpy as np
from scipy.optimize import minimize

from packer.local_solver.nonlinear_program import compile_program
from packer.local_solver.range_assignment import assigned_ranges


def multistart(problem, seconds, seed, start):
    """Return the best scale from starts made by `start`, after so many CPU seconds.

    The solve under way when time is up is finished, which favours the baseline.
    """
    rng = np.random.default_rng(seed)
    best, began = 0.0, process_time()
    while process_time() - began < seconds:
        points = start(problem, rng)
        program = compile_program(problem, assigned_ranges(problem, points, rng))
        best = max(best, climb(program, program.variables(points)))
    return best


def climb(program, z):
    """Return the scale that SLSQP reaches from some coordinates."""
    nothing = np.zeros(program.n_w)
    i, j, d = program.first, program.second, program.distance
    row = np.arange(len(i))
    discs = program.rows[program.row_scale < 0]
    disc_offset = program.row_offset[program.row_scale < 0]
    disc_scale = program.row_scale[program.row_scale < 0]

    def gaps(v):
        p = program.sign * v[:-1][program.index] + program.offset
        return p[:, i] - p[:, j]

    def slack(v):
        paths = np.hypot(*gaps(v)) - v[-1] * d
        return np.concatenate(
            [paths, discs[:, : len(z)] @ v[:-1] + disc_offset + disc_scale * v[-1]]
        )

    def slope(v):
        gap = gaps(v)
        unit = gap / np.maximum(np.hypot(*gap), 1e-300)
        out = np.zeros((len(i), len(v)))
        for axis in (0, 1):
            for tip, way in ((i, 1.0), (j, -1.0)):
                np.add.at(
                    out,
                    (row, program.index[axis, tip]),
                    way * unit[axis] * program.sign[axis, tip],
                )
        out[:, -1] = -d
        return np.vstack([out, np.hstack([discs[:, : len(z)], disc_scale[:, None]])])

    end = minimize(
        lambda v: -v[-1],
        np.append(z, 0.7 * program.scale(z, nothing)),
        jac=lambda v: -np.eye(len(v))[-1],
        bounds=[*zip(program.lower, program.upper, strict=True), (0, None)],
        constraints={"type": "ineq", "fun": slack, "jac": slope},
        method="SLSQP",
        options={"maxiter": 200, "ftol": 1e-9},
    )
    inside = np.clip(end.x[:-1], program.lower, program.upper)
    return program.scale(inside, nothing)
