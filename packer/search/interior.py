"""The local solver: a feasible primal-dual interior point, linearised anew at each step.

|p_i - p_j| is convex in the variables, so its tangent plane lies below it: whatever satisfies the
linearised constraint satisfies the true one. Every step is therefore feasible without a trust
region or a line search on feasibility, and the slacks are recomputed from the true distances. The
steps are those of the textbooks on primal-dual methods (S. J. Wright, Primal-Dual Interior-Point
Methods, SIAM 1997), with a fixed centring and no predictor.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from scipy.linalg.lapack import dposv

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.search.program import Program

CENTRING: Final = 0.3
TO_BOUNDARY: Final = 0.95
MOST_STEPS: Final = 300
LAZY_FROM: Final = 30
"""Tips from which only near pairs enter the matrix."""
NEAR: Final = 1.7
"""Pairs with a distance below this multiple of m d_ij count as near."""

_UPPER = [(p, q) for p in range(4) for q in range(p, 4)]


@dataclass(frozen=True, eq=False)
class Ascent:
    """Where the local solver ended.

    Attributes
    ----------
    z, change
        The coordinates and the changes of length, in the figure's unit.
    scale
        The largest m they allow.
    gap
        How much more a better multiplier could promise: sum of multipliers times slacks.
    steps
        How many linear systems were solved.
    """

    z: NDArray[np.float64]
    change: NDArray[np.float64]
    scale: float
    gap: float
    steps: int


class Layout:
    """Where each pair's derivatives go in the normal matrix; made once for a program."""

    def __init__(self, program: Program) -> None:
        i, j = program.first, program.second
        self.size = program.n_z + program.n_w + 1
        self.entry = np.stack(
            [program.index[0, i], program.index[1, i], program.index[0, j], program.index[1, j]]
        )
        self.sign = np.stack(
            [program.sign[0, i], program.sign[1, i], -program.sign[0, j], -program.sign[1, j]]
        )
        upper = np.array(_UPPER).T
        a, b = self.entry[upper[0]], self.entry[upper[1]]
        self.place = np.minimum(a, b) * self.size + np.maximum(a, b)
        self.weight = np.where((a == b) & (upper[0] != upper[1])[:, None], 2.0, 1.0)
        self.left, self.right = upper


def ascend(
    program: Program,
    z: NDArray[np.float64],
    change: NDArray[np.float64] | None = None,
    *,
    share: float = 0.7,
    warmth: float = 1.0,
    beat: float = -np.inf,
    tolerance: float = 1e-10,
) -> Ascent:
    """Climb to a local optimum of a program.

    Parameters
    ----------
    program
        What to maximise.
    z, change
        (z,), (w,) where to start: coordinates, and changes of length within their flex.
    share
        Share of the start's own scale at which m begins.
    warmth
        Factor on the first barrier parameter; below one near an optimum.
    beat
        Give up where the gap says that this scale is out of reach (a heuristic: the problem is
        not concave).
    tolerance
        End at a gap below this share of the scale.
    """
    if not program.n_z + program.n_w:
        return Ascent(z, np.zeros(0), program.scale(z, np.zeros(0)), 0.0, 0)
    start = np.zeros(program.n_w) if change is None else change
    return _Climb(program, z, start, share, warmth).run(beat, tolerance)


def polish(program: Program, z: NDArray[np.float64], change: NDArray[np.float64]) -> Ascent:
    """Climb from next to a local optimum to the last digits."""
    near = ascend(program, z, change, share=0.99, warmth=0.01, tolerance=1e-13)
    if near.scale >= program.scale(z, change):
        return near
    return Ascent(z, change, program.scale(z, change), near.gap, near.steps)


class _Climb:
    """The state of one ascent: variables, slacks and multipliers."""

    def __init__(
        self,
        program: Program,
        z: NDArray[np.float64],
        change: NDArray[np.float64],
        share: float,
        warmth: float,
    ) -> None:
        self.program = program
        self.layout = _layout(program)
        inset = 1e-3 * (program.upper - program.lower)
        self.z = _apart(
            program, np.clip(z, program.lower + inset, program.upper - inset), inset
        )
        self.m = share * program.scale(self.z, change)
        self.w = 0.99 * self.m * change
        self.lazy = program.problem.tree.n_tips >= LAZY_FROM
        self.measure()
        slack = np.concatenate([self.s, self.s_rows])
        pull = np.concatenate([program.distance, np.maximum(-program.row_scale, 0.0)])
        self.t = warmth / max(float((pull / slack).sum()), 1e-300)
        self.lam = self.t / self.s
        self.lam_rows = self.t / self.s_rows
        self.lam_low = self.t / (self.z - program.lower)
        self.lam_high = self.t / (program.upper - self.z)
        self.near = np.zeros(len(self.s), dtype=bool)

    def measure(self) -> None:
        """Recompute unit vectors and slacks from the true distances."""
        program = self.program
        p = program.sign * self.z[program.index] + program.offset
        gap = p[:, program.first] - p[:, program.second]
        length = np.sqrt(gap[0] * gap[0] + gap[1] * gap[1])
        self.length = length
        self.unit = gap / length
        if program.n_w:
            length = length + program.bend @ self.w
        self.s = length - self.m * program.distance
        if len(program.rows):
            both = np.concatenate([self.z, self.w])
            self.s_rows = program.rows @ both + program.row_offset + program.row_scale * self.m
        else:
            self.s_rows = np.zeros(0)

    def choose_pairs(self) -> slice | NDArray[np.intp]:
        """Pairs that enter the matrix at this step; new ones get centred multipliers."""
        if not self.lazy:
            return slice(None)
        program = self.program
        level = max(self.m, 0.7 * float((self.length / program.distance).min()))
        near = self.length < NEAR * level * program.distance
        new = near & ~self.near
        self.lam[new] = self.t / self.s[new]
        self.near = near
        return np.flatnonzero(near)

    def run(self, beat: float, tolerance: float) -> Ascent:
        short = False
        steps = 0
        gap = np.inf
        while steps < MOST_STEPS:
            chosen = self.choose_pairs()
            gap, count = self.gap(chosen)
            if gap < tolerance * abs(self.m):
                break
            if gap < 0.03 * self.m and self.m + 2 * gap < beat:
                break
            self.t = (1.0 if short else CENTRING) * gap / count
            alpha = self.step(chosen)
            steps += 1
            if alpha is None:
                break
            short = alpha < 0.2
        change = self.w / self.m
        return Ascent(self.z, change, self.program.scale(self.z, change), gap, steps)

    def gap(self, chosen: slice | NDArray[np.intp]) -> tuple[float, int]:
        """Return the complementarity gap and how many terms it has."""
        program = self.program
        lam, s = self.lam[chosen], self.s[chosen]
        gap = float(lam @ s) + float(self.lam_rows @ self.s_rows)
        gap += float(self.lam_low @ (self.z - program.lower))
        gap += float(self.lam_high @ (program.upper - self.z))
        return gap, len(lam) + len(self.s_rows) + 2 * len(self.z)

    def step(self, chosen: slice | NDArray[np.intp]) -> float | None:
        """Take one step; return the shorter of its two lengths, None where it failed."""
        program, t = self.program, self.t
        d, s, lam = program.distance[chosen], self.s[chosen], self.lam[chosen]
        pull, stiff = t / s, lam / s
        s_low, s_high = self.z - program.lower, program.upper - self.z
        delta = self.solve(chosen, d, pull, stiff, s_low, s_high)
        if delta is None:
            return None
        n_z = program.n_z
        dz, dw, dm = delta[:n_z], delta[n_z:-1], float(delta[-1])
        dp = program.sign * dz[program.index]
        move = dp[:, program.first] - dp[:, program.second]
        ds = self.unit[0] * move[0] + self.unit[1] * move[1] - dm * program.distance
        if program.n_w:
            ds += program.bend @ dw
        ds_rows = program.row_scale * dm
        if len(program.rows):
            ds_rows = program.rows @ delta[:-1] + ds_rows
        pairs = (
            (self.lam_rows, self.s_rows, ds_rows),
            (self.lam_low, s_low, dz),
            (self.lam_high, s_high, -dz),
        )
        changes = [t / slack - lam_ - lam_ / slack * change for lam_, slack, change in pairs]
        d_lam = pull - lam - stiff * ds[chosen]
        primal = max(
            _steepest(ds, self.s), *(_steepest(change, slack) for _, slack, change in pairs)
        )
        dual = max(
            _steepest(d_lam, lam),
            *(_steepest(change, p[0]) for change, p in zip(changes, pairs, strict=True)),
        )
        up = min(1.0, TO_BOUNDARY / primal) if primal > 0 else 1.0
        along = min(1.0, TO_BOUNDARY / dual) if dual > 0 else 1.0
        self.z = self.z + up * dz
        self.w = self.w + up * dw
        self.m += up * dm
        self.lam[chosen] = lam + along * d_lam
        self.lam_rows = self.lam_rows + along * changes[0]
        self.lam_low = self.lam_low + along * changes[1]
        self.lam_high = self.lam_high + along * changes[2]
        self.measure()
        return min(up, along)

    def solve(
        self,
        chosen: slice | NDArray[np.intp],
        d: NDArray[np.float64],
        pull: NDArray[np.float64],
        stiff: NDArray[np.float64],
        s_low: NDArray[np.float64],
        s_high: NDArray[np.float64],
    ) -> NDArray[np.float64] | None:
        """Assemble and solve the normal equations of one step."""
        program, layout, t = self.program, self.layout, self.t
        size, n_z = layout.size, program.n_z
        g = layout.sign[:, chosen] * self.unit[[0, 1, 0, 1]][:, chosen]
        entry = layout.entry[:, chosen].ravel()
        heavy = stiff * g
        matrix = np.bincount(
            layout.place[:, chosen].ravel(),
            (heavy[layout.left] * g[layout.right] * layout.weight[:, chosen]).ravel(),
            minlength=size * size,
        ).reshape(size, size)
        matrix[:n_z, -1] = -np.bincount(entry, (heavy * d).ravel(), minlength=n_z)[:n_z]
        matrix[-1, -1] = (stiff * d) @ d
        right = np.zeros(size)
        right[:n_z] = np.bincount(entry, (pull * g).ravel(), minlength=n_z)[:n_z]
        right[:n_z] += t / s_low - t / s_high
        right[-1] = 1.0 - pull @ d
        if program.n_w:
            self.add_bends(chosen, matrix, right, heavy, pull, stiff, d)
        if len(program.rows):
            full = np.hstack([program.rows, program.row_scale[:, None]])
            matrix += full.T @ ((self.lam_rows / self.s_rows)[:, None] * full)
            right += (t / self.s_rows) @ full
        diagonal = np.einsum("ii->i", matrix)
        diagonal[:n_z] += self.lam_low / s_low + self.lam_high / s_high
        diagonal += 1e-14 * diagonal.max()
        solved: tuple[object, NDArray[np.float64], int] = dposv(matrix.T, right, lower=1)
        _, delta, failed = solved
        return None if failed or not np.isfinite(delta).all() else delta

    def add_bends(
        self,
        chosen: slice | NDArray[np.intp],
        matrix: NDArray[np.float64],
        right: NDArray[np.float64],
        heavy: NDArray[np.float64],
        pull: NDArray[np.float64],
        stiff: NDArray[np.float64],
        d: NDArray[np.float64],
    ) -> None:
        """Add the columns of the flexible lengths."""
        n_z = self.program.n_z
        bend = self.program.bend[chosen]
        cross = np.zeros((n_z, bend.shape[1]))
        entries = self.layout.entry[:, chosen]
        for k in range(4):
            np.add.at(cross, entries[k], heavy[k][:, None] * bend)
        weighted = stiff[:, None] * bend
        matrix[:n_z, n_z:-1] += cross
        matrix[n_z:-1, n_z:-1] += bend.T @ weighted
        matrix[n_z:-1, -1] -= d @ weighted
        right[n_z:-1] += pull @ bend


def _apart(
    program: Program, z: NDArray[np.float64], inset: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return variables whose tips are all apart: where two lie on one point, all move a little."""
    tips = program.tips(z)
    if len(np.unique(tips, axis=0)) == len(tips):
        return z
    golden = np.modf(np.arange(1, len(z) + 1) * 0.618034)[0]
    middle = (program.lower + program.upper) / 2
    return z + np.where(z > middle, -1.0, 1.0) * golden * inset


def _steepest(change: NDArray[np.float64], value: NDArray[np.float64]) -> float:
    """Return the greatest share of a positive value that a full step would take away."""
    return float(np.max(-change / value)) if len(value) else 0.0


def _layout(program: Program) -> Layout:
    layout: Layout | None = program.__dict__.get("_layout")
    if layout is None:
        layout = Layout(program)
        object.__setattr__(program, "_layout", layout)
    return layout
