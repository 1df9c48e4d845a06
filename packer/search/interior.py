"""The local solver: a feasible primal-dual interior point, linearised anew at each step.

|p_i - p_j| is convex in the variables, so its tangent plane lies below it: whatever satisfies the
linearised constraint satisfies the true one. Every step is therefore feasible without a trust
region or a line search on feasibility, and the slacks are recomputed from the true distances. The
steps are those of the textbooks on primal-dual methods (S. J. Wright, Primal-Dual Interior-Point
Methods, SIAM 1997), with a fixed centring and no predictor.

Several climbs of one program are made at once, as rows of the same arrays: on small figures the
calls cost more than the numbers (see `normal.py` for the linear system).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.search.normal import Normal
from packer.search.program import kept_with

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from packer.search.program import Program

    Floats = NDArray[np.float64]

CENTRING: Final = 0.3
LONG_STEP_CENTRING: Final = 0.1
"""Centring after a step longer than `LONG`: the last digits then come in fewer steps.

With it and `TO_BOUNDARY` 480 moves on figures of 24 and 80 flaps took 21.8 and 30.6 steps each; with
a centring of 0.3 throughout and 0.95 they took 27.6 and 37.2, to the same scales.
"""
LONG: Final = 0.7
SHORT: Final = 0.2
"""After a step shorter than this a climb is only centred."""
TO_BOUNDARY: Final = 0.98
MOST_STEPS: Final = 300
ULP: Final = float(np.finfo(float).eps)
LAZY_FROM: Final = 30
"""Tips from which only near pairs enter the matrix."""
NEAR: Final = 1.7
"""Pairs with a distance below this multiple of m d_ij count as near."""
HOPELESS_GAP: Final = 0.2
HOPELESS_REACH: Final = 1.5
"""Give up once the gap is below 0.2 m and m + 1.5 gap does not reach the value to beat.

Over 5204 moves on figures of 20 to 24 flaps this saved 52 % of the steps and lost 7 of 150
improvements; a reach of 1 saved 56 % and lost 19, a reach of 3 saved 46 % and lost 3.
"""
KNOWN_GAP: Final = 1e-5
"""Give up once the gap is below this share of m and a known scale lies within it.

Two of three climbs after moves on 24 flaps ended in a scale already known; the last five digits
of a climb are half of its steps. Two packings of one figure seldom are as near in scale as that.
"""
OWED: Final = 0.3
"""What the multipliers may lack, of a weighted sum of 1, for the gap to be believed.

A climb begins with multipliers far too small, and with them the gap. Of 480 moves on 80 flaps 428
came above the value to beat; without this 393 of them were given up, with it 10.
"""


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

    z: Floats
    change: Floats
    scale: float
    gap: float
    steps: int


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
    return _Climbs(program, z, change, share, warmth).run(beat, np.array(known), tolerance)


def polish(program: Program, z: Floats, change: Floats) -> Ascent:
    """Climb from next to a local optimum to the last digits."""
    near = ascend(program, z, change, share=0.99, warmth=0.01, tolerance=1e-13)
    if near.scale >= program.scale(z, change):
        return near
    return Ascent(z, change, program.scale(z, change), near.gap, near.steps)


class _Climbs:
    """Climbs under way, one a row: variables, slacks and multipliers.

    The slacks `s`, like their multipliers `lam`, are in four groups of columns: pairs, rows of
    the program, lower bounds, upper bounds. At an optimum the multipliers of the first two groups,
    times `weight`, sum to 1.
    """

    def __init__(
        self, program: Program, z: Floats, change: Floats, share: float, warmth: float
    ) -> None:
        self.program = program
        self.normal = kept_with(program, Normal)
        self.lazy = program.problem.tree.n_tips >= LAZY_FROM
        inset = 1e-3 * (program.upper - program.lower)
        inside = np.clip(z, program.lower + inset, program.upper - inset)
        self.z = np.stack([_apart(program, row, inset) for row in inside])
        self.m = share * np.array(
            [program.scale(a, b) for a, b in zip(self.z, change, strict=True)]
        )
        self.w = 0.99 * self.m[:, None] * change
        self.row = np.arange(len(z))
        self.measure()
        self.weight = np.concatenate([program.distance, -program.row_scale])
        heavy = np.maximum(self.weight, 0.0)
        self.t = warmth / (heavy / self.s[:, : len(heavy)]).sum(axis=1)
        self.lam = self.t[:, None] / self.s
        self.near = np.ones_like(self.length, dtype=bool)

    def measure(self) -> None:
        """Recompute unit vectors and slacks from the true distances."""
        program = self.program
        p = program.sign * self.z[:, program.index] + program.offset
        gap = p[:, :, program.first] - p[:, :, program.second]
        self.length = np.sqrt(gap[:, 0] * gap[:, 0] + gap[:, 1] * gap[:, 1])
        self.unit = gap / self.length[:, None]
        slack = self.length - self.m[:, None] * program.distance
        if program.n_w:
            slack += self.w @ program.bend.T
        # what rounding leaves of the last slacks may be none at all
        slack = np.maximum(slack, ULP * self.length)
        groups = [slack, self.z - program.lower, program.upper - self.z]
        if len(program.rows):
            both = np.hstack([self.z, self.w])
            value = both @ program.rows.T + program.row_offset
            groups.insert(1, value + self.m[:, None] * program.row_scale)
        self.s = np.hstack(groups)

    def choose_pairs(self) -> None:
        """Choose the pairs that enter the matrix; new ones get centred multipliers."""
        d = self.program.distance
        level = np.maximum(self.m, 0.7 * (self.length / d).min(axis=1))
        near = self.length < NEAR * level[:, None] * d
        lam = self.lam[:, : len(d)]
        fresh = near & ~self.near
        lam[fresh] = (self.t[:, None] / self.s[:, : len(d)])[fresh]
        lam[~near] = 0.0
        self.near = near

    def run(self, beat: float, known: Floats, tolerance: float) -> list[Ascent]:
        """Step until every climb has ended."""
        ended: dict[int, Ascent] = {}
        length = np.full(len(self.z), LONG)
        steps = 0
        while len(self.row):
            if self.lazy:
                self.choose_pairs()
            gap = np.einsum("kr,kr->k", self.lam, self.s)
            over = gap < tolerance * np.abs(self.m)
            over |= self.hopeless(gap, beat) | self.leads_to(gap, known)
            over |= steps >= MOST_STEPS
            if over.any():
                for k in np.flatnonzero(over):
                    ended[int(self.row[k])] = self.ascent(int(k), float(gap[k]), steps)
                self.keep(~over)
                gap, length = gap[~over], length[~over]
                if not len(self.row):
                    break
            count = self.s.shape[1] - (~self.near).sum(axis=1)
            centring = np.where(length > LONG, LONG_STEP_CENTRING, CENTRING)
            self.t = np.where(length < SHORT, 1.0, centring) * gap / count
            length = self.step()
            steps += 1
            if not length.all():
                lost = length == 0
                for k in np.flatnonzero(lost):
                    ended[int(self.row[k])] = self.ascent(int(k), np.inf, steps)
                self.keep(~lost)
                length = length[~lost]
        return [ended[k] for k in sorted(ended)]

    def hopeless(self, gap: Floats, beat: float) -> NDArray[np.bool_]:
        """Return which climbs, by their gaps, will not reach a value."""
        owed = np.abs(1.0 - self.lam[:, : len(self.weight)] @ self.weight)
        hopeless: NDArray[np.bool_] = (
            (owed < OWED)
            & (gap < HOPELESS_GAP * self.m)
            & (self.m + HOPELESS_REACH * gap < beat)
        )
        return hopeless

    def leads_to(self, gap: Floats, known: Floats) -> NDArray[np.bool_]:
        """Return which climbs end near a known scale."""
        above = known - self.m[:, None]
        near = (above > -gap[:, None]) & (above < 2 * gap[:, None])
        found: NDArray[np.bool_] = near.any(axis=1) & (gap < KNOWN_GAP * self.m)
        return found

    def ascent(self, k: int, gap: float, steps: int) -> Ascent:
        """Return where one climb stands."""
        change = self.w[k] / self.m[k]
        return Ascent(self.z[k], change, self.program.scale(self.z[k], change), gap, steps)

    def keep(self, kept: NDArray[np.bool_]) -> None:
        """Go on with some of the climbs."""
        for name in ("z", "w", "m", "t", "row", "s", "lam", "near", "length", "unit"):
            setattr(self, name, getattr(self, name)[kept])

    def step(self) -> Floats:
        """Take one step of each climb; return the shorter of its two lengths, 0 where none."""
        program, lam, s, t = self.program, self.lam, self.s, self.t[:, None]
        n_z, n_pairs = program.n_z, len(program.first)
        inverse = 1.0 / s
        pull, stiff = t * inverse, lam * inverse
        if self.lazy:
            pull[:, :n_pairs] *= self.near
        delta = self.normal.solve(self.unit, pull, stiff)
        dz, dw, dm = delta[:, :n_z], delta[:, n_z:-1], delta[:, -1:]
        dp = program.sign * dz[:, program.index]
        move = dp[:, :, program.first] - dp[:, :, program.second]
        ds = np.empty_like(s)
        ds[:, :n_pairs] = (self.unit * move).sum(axis=1) - dm * program.distance
        if program.n_w:
            ds[:, :n_pairs] += dw @ program.bend.T
        ds[:, s.shape[1] - 2 * n_z : s.shape[1] - n_z] = dz
        ds[:, s.shape[1] - n_z :] = -dz
        if len(program.rows):
            rows = delta[:, :-1] @ program.rows.T + dm * program.row_scale
            ds[:, n_pairs : n_pairs + rows.shape[1]] = rows
        d_lam = pull - lam - stiff * ds
        primal = (-ds * inverse).max(axis=1)
        dual = (-d_lam / (lam + 1e-300)).max(axis=1)
        with np.errstate(divide="ignore"):
            up = np.where(primal > 0, np.minimum(1.0, TO_BOUNDARY / primal), 1.0)
            along = np.where(dual > 0, np.minimum(1.0, TO_BOUNDARY / dual), 1.0)
        good = np.asarray(np.isfinite(delta).all(axis=1))
        up, along = np.where(good, up, 0.0), np.where(good, along, 0.0)
        moved = up[:, None] * np.where(good[:, None], delta, 0.0)
        self.z = self.z + moved[:, :n_z]
        self.w = self.w + moved[:, n_z:-1]
        self.m = self.m + moved[:, -1]
        self.lam = lam + along[:, None] * np.where(good[:, None], d_lam, 0.0)
        self.measure()
        return np.minimum(up, along)


def _apart(program: Program, z: Floats, inset: Floats) -> Floats:
    """Return variables whose tips are all apart: where two lie on one point, all move a little."""
    tips = program.tips(z)
    order = tips[np.lexsort(tips.T)]
    if (order[1:] != order[:-1]).any(axis=1).all():
        return z
    golden = np.modf(np.arange(1, len(z) + 1) * 0.618034)[0]
    middle = (program.lower + program.upper) / 2
    moved: Floats = z + np.where(z > middle, -1.0, 1.0) * golden * inset
    return moved
