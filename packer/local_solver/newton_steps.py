"""The steps of the local solver: several climbs under way in one program.

Their variables are rows of the same arrays, their slacks stand one after the other: on small
figures the calls cost more than the numbers. On large ones only near paths enter the system of a
step, and a step that makes another one too short is halved. The solver itself is described in
`packer.local_solver.interior_point`, the order of the slacks in `packer.local_solver.working_set`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.local_solver.nonlinear_program import kept_with
from packer.local_solver.normal_equations import NormalEquations
from packer.local_solver.working_set import taken

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.local_solver.nonlinear_program import NonlinearProgram

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
"""Tips from which only near paths are listed.

On random figures of 40 and 80 flaps they are 25 and 14 % of all, on 89 equal flaps 7 %; a step then takes
.10, .33 and .36 ms, and .15, .57 and .70 when all paths were in the arrays and near ones in the matrix.
"""
NEAR: Final = 1.7
"""Paths shorter than this multiple of what is asked for are near."""
ROUNDING: Final = 1e-9
"""Share of the scale by which a listed path may seem too short."""
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
class InteriorPointResult:
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


class NewtonIterates:
    """Climbs under way: variables `z`, `w` and `m` by rows, slacks `s` and multipliers `lam` as listed."""

    def __init__(
        self, program: NonlinearProgram, z: Floats, change: Floats, share: float, warmth: float
    ) -> None:
        self.program = program
        self.normal = kept_with(program, NormalEquations)
        self.lazy = program.problem.tree.n_tips >= LAZY_FROM
        inset = 1e-3 * (program.upper - program.lower)
        inside = np.clip(z, program.lower + inset, program.upper - inset)
        self.z = np.stack([_apart(program, row, inset) for row in inside])
        self.m = share * np.array(
            [program.scale(a, b) for a, b in zip(self.z, change, strict=True)]
        )
        self.w = 0.99 * self.m[:, None] * change
        self.row = np.arange(len(z))
        self.allowed = self.survey()
        self.list_paths(self.short() if self.lazy else np.ones(self.allowed.shape, dtype=bool))
        # every path counts for the first barrier parameter, listed or not
        paths = (1.0 / (self.allowed - self.m[:, None])).sum(axis=1)
        disc = np.maximum(-program.row_scale, 0.0)
        discs = (disc / self.listed.rest(self.s)[:, : len(disc)]).sum(axis=1)
        self.t = warmth / (paths + discs)
        self.lam = self.t[self.listed.owner] / self.s

    def survey(self) -> Floats:
        """Return (climbs, pairs) the scale that each path allows, listed or not."""
        program = self.program
        p = self.coordinates(self.z) + program.offset
        gap = taken(p, program.first) - taken(p, program.second)
        length: Floats = np.sqrt(gap[:, 0] * gap[:, 0] + gap[:, 1] * gap[:, 1])
        if program.n_w:
            length += self.w @ program.bend.T
        return length / program.distance

    def coordinates(self, z: Floats) -> Floats:
        """Return (climbs, 2, tips) coordinates of (climbs, z) variables, but for their offset."""
        return taken(z, self.program.index) * self.program.sign

    def apart(self, p: Floats) -> Floats:
        """Return (2, paths) how much farther each listed path leads than where it begins."""
        flat = p.transpose(1, 0, 2).reshape(2, -1)
        return taken(flat, self.listed.first) - taken(flat, self.listed.second)

    def short(self) -> NDArray[np.bool_]:
        """Return (climbs, pairs) which paths are short enough to be listed."""
        level = np.maximum(self.m, 0.7 * self.allowed.min(axis=1))
        near: NDArray[np.bool_] = self.allowed < NEAR * level[:, None]
        return near

    def list_paths(self, near: NDArray[np.bool_]) -> None:
        """List some of the (climbs, pairs) paths, with their unit vectors and slacks."""
        self.near, self.listed = near, self.normal.listed(near)
        self.measure()

    def measure(self) -> None:
        """Recompute unit vectors and slacks from the true distances."""
        program, listed = self.program, self.listed
        gap = self.apart(self.coordinates(self.z) + program.offset)
        length = np.sqrt(gap[0] * gap[0] + gap[1] * gap[1])
        self.unit = gap / length
        slack = length - self.m[listed.climb] * listed.distance
        if program.n_w:
            slack += np.einsum("pw,pw->p", listed.bend, self.w[listed.climb])
        # what rounding leaves of the last slacks may be none at all
        slack = np.maximum(slack, ULP * length)
        rest = [self.z - program.lower, program.upper - self.z]
        if len(program.rows):
            both = np.hstack([self.z, self.w])
            value = both @ program.rows.T + program.row_offset
            rest.insert(0, value + self.m[:, None] * program.row_scale)
        self.s = np.concatenate([slack, np.hstack(rest).ravel()])

    def list_again(self) -> None:
        """List the paths that are near now, if any is new; those get centred multipliers."""
        near = self.short()
        new = near & ~self.near
        if not new.any():
            return
        lam, rest = np.zeros(near.shape), self.listed.rest(self.lam)
        lam[self.near] = self.listed.paths(self.lam)
        fresh = new[near]
        self.list_paths(near)
        centred = self.t[self.listed.climb] / self.listed.paths(self.s)
        self.lam = np.concatenate([np.where(fresh, centred, lam[near]), rest.ravel()])

    def run(self, beat: float, known: Floats, tolerance: float) -> list[InteriorPointResult]:
        """Step until every climb has ended."""
        ended: dict[int, InteriorPointResult] = {}
        length = np.full(len(self.z), LONG)
        steps = 0
        while len(self.row):
            if self.lazy:
                self.list_again()
            gap = self.listed.sums(self.lam * self.s)
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
            count = np.bincount(self.listed.owner)
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
        owed = np.abs(1.0 - self.listed.sums(self.lam * self.listed.weight))
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

    def ascent(self, k: int, gap: float, steps: int) -> InteriorPointResult:
        """Return where one climb stands."""
        change = self.w[k] / self.m[k]
        return InteriorPointResult(
            self.z[k], change, self.program.scale(self.z[k], change), gap, steps
        )

    def keep(self, kept: NDArray[np.bool_]) -> None:
        """Go on with some of the climbs."""
        self.lam = self.lam[kept[self.listed.owner]]
        for name in ("z", "w", "m", "t", "row", "allowed"):
            setattr(self, name, getattr(self, name)[kept])
        self.list_paths(self.near[kept])

    def step(self) -> Floats:
        """Take one step of each climb; return the shorter of its two lengths, 0 where none."""
        listed, lam = self.listed, self.lam
        inverse = 1.0 / self.s
        pull, stiff = self.t[listed.owner] * inverse, lam * inverse
        delta = self.normal.solve(listed, self.unit, pull, stiff)
        good = np.asarray(np.isfinite(delta).all(axis=1))
        delta[~good] = 0.0
        ds = self.slopes(delta)
        d_lam = pull - lam - stiff * ds
        primal = listed.largest(-ds * inverse)
        dual = listed.largest(-d_lam / (lam + 1e-300))
        with np.errstate(divide="ignore"):
            up = np.where(primal > 0, np.minimum(1.0, TO_BOUNDARY / primal), 1.0)
            along = np.where(dual > 0, np.minimum(1.0, TO_BOUNDARY / dual), 1.0)
        up, along = np.where(good, up, 0.0), np.where(good, along, 0.0)
        self.lam = lam + along[listed.owner] * d_lam
        up = self.moved(delta, up)
        self.measure()
        return np.minimum(up, along)

    def slopes(self, delta: Floats) -> Floats:
        """Return how the slacks change along (climbs, z + w + 1) steps, in their order."""
        program, listed, n_z = self.program, self.listed, self.program.n_z
        dz, dw, dm = delta[:, :n_z], delta[:, n_z:-1], delta[:, -1]
        away = (self.unit * self.apart(self.coordinates(dz))).sum(axis=0)
        of_paths = away - dm[listed.climb] * listed.distance
        if program.n_w:
            of_paths += np.einsum("pw,pw->p", listed.bend, dw[listed.climb])
        rest = [dz, -dz]
        if len(program.rows):
            rest.insert(0, delta[:, :-1] @ program.rows.T + dm[:, None] * program.row_scale)
        return np.concatenate([of_paths, np.hstack(rest).ravel()])

    def moved(self, delta: Floats, up: Floats) -> Floats:
        """Take (climbs,) shares of (climbs, z + w + 1) steps; return what is left of them.

        A share is halved until no path that is not listed is too short; listed ones cannot be.
        """
        n_z, z, w, m = self.program.n_z, self.z, self.w, self.m
        while True:
            by = up[:, None] * delta
            self.z, self.w, self.m = z + by[:, :n_z], w + by[:, n_z:-1], m + by[:, -1]
            if not self.lazy:
                return up
            self.allowed = self.survey()
            crossed = self.allowed.min(axis=1) < self.m * (1 - ROUNDING)
            if not crossed.any():
                return up
            up = np.where(crossed, 0.5 * up, up)


def _apart(program: NonlinearProgram, z: Floats, inset: Floats) -> Floats:
    """Return variables whose tips are all apart: where two lie on one point, all move a little."""
    tips = program.tips(z)
    order = tips[np.lexsort(tips.T)]
    if (order[1:] != order[:-1]).any(axis=1).all():
        return z
    golden = np.modf(np.arange(1, len(z) + 1) * 0.618034)[0]
    middle = (program.lower + program.upper) / 2
    moved: Floats = z + np.where(z > middle, -1.0, 1.0) * golden * inset
    return moved
