"""The certificate of a packing: multipliers on active paths that hold every stressed tip.

A packing is a point of the program "maximise m subject to |p_i - p_j| >= m d_ij"; it is a local
optimum only if multipliers >= 0 on its active paths balance at every tip in all directions in
which the tip is free to move (Karush 1939; Kuhn and Tucker, 2nd Berkeley Symposium, 1951).
Degenerate packings, such as a square grid of equal flaps, have many such sets of multipliers; a
path is stressed if *any* of them gives it a positive multiplier, and a flap is loose only if
none of its paths is stressed.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from scipy.optimize import linprog
from scipy.sparse import csr_matrix, hstack

from packer.model.packing import scale_of
from packer.units import ACTIVE, BALANCE, ON_EDGE

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from packer.model.packing import Packing
    from packer.model.problem import Problem, Range

    Floats = NDArray[np.float64]

Stress = tuple[tuple[int, int, float], ...]

CENTRING_STEPS: Final = 100
"""Newton steps at most; 5 to 15 were needed on stars of up to 100 flaps."""

MOST_CONTACTS: Final = 500
"""Active paths and discs on edges, mirror images once, of what gets a certificate: the linear program takes 5 s
for 420 in rows and columns, 30 s for 760 and minutes for 1900."""


@dataclass(frozen=True)
class Certificate:
    """What holds a packing at its scale.

    Attributes
    ----------
    stress
        (tip, tip, multiplier) with i < j, multipliers times tree distances summing to one;
        (i, i, multiplier) where a tip's own disc rests on an edge of the sheet. Empty where no
        multipliers balance: the packing is then no local optimum. Empty as well where contacts are
        more than `MOST_CONTACTS`; `beyond_certificate` tells.
    residual
        Largest force left over on any tip in a direction in which it is free, per unit of
        summed multiplier times distance.
    coordinates, rank
        Free coordinates of the stressed tips that no edge of the sheet takes, and the rank of
        the stressed paths in them.
    """

    stress: Stress
    residual: float
    coordinates: int
    rank: int

    @property
    def strict(self) -> bool:
        """Whether the stressed part is a strict local maximum, in floating point.

        Stressed paths cannot lengthen to first order; if their rank is the number of stressed
        coordinates, no motion at all is left. A packing with stress that is not strict may be a
        saddle: three equal flaps in three corners of a square are the classic trap.
        """
        return bool(self.stress) and self.rank == self.coordinates


def certify(problem: Problem, points: ArrayLike, lengths: ArrayLike | None = None) -> Stress:
    """Return the stress of a packing; see `certificate`."""
    return certificate(problem, points, lengths).stress


def beyond_certificate(packing: Packing) -> bool:
    """Return whether a packing has more contacts than a certificate is sought for."""
    lengths = np.array(packing.lengths)
    return len(_contacts(packing.problem, packing.points, lengths)) > MOST_CONTACTS


def certificate(
    problem: Problem, points: ArrayLike, lengths: ArrayLike | None = None
) -> Certificate:
    """Find multipliers of largest support, at their analytic centre.

    The support comes from one linear program: maximise sum t subject to balance, y >= t and
    0 <= t <= 1, over multipliers y of any size; each t is then 1 or 0 (Freund, Roundy and Todd,
    MIT Sloan working paper 1674-85, 1985). Among the multipliers on that support the one that
    maximises sum log y is taken: it is unique and so has every symmetry of the packing.

    Parameters
    ----------
    problem
        What is packed.
    points
        (n, 2) tips in sheet units.
    lengths
        (edges,) lengths used; those asked for by default.
    """
    p = np.asarray(points, float)
    tree = problem.tree
    used = tree.lengths if lengths is None else np.asarray(lengths, float)
    contacts = _contacts(problem, p, used)
    forces, walls = _directions(problem, p, contacts)
    n = len(contacts)
    if n > MOST_CONTACTS:
        return Certificate((), np.inf, 0, 0)
    stacked = np.hstack([forces, walls])
    weights = np.r_[[c.length for c in contacts], np.zeros(walls.shape[1])]
    balance = _significant(stacked)
    support = _largest_support(balance)
    if not support[:n].any():
        return Certificate((), np.inf, 0, 0)
    y = np.zeros(len(support))
    y[support] = _centre(balance[:, support], weights[support])
    held = support[:n]
    stressed = _stress(contacts, y[:n])
    tips = {tip for i, j, _ in stressed for tip in (i, j)}
    free = _free_coordinates(problem, p, tips, walls, support[n:])
    rank = int(np.linalg.matrix_rank(forces[free][:, held])) if free.any() else 0
    return Certificate(
        stressed, float(np.abs(stacked @ y).max(initial=0.0)), int(free.sum()), rank
    )


# --- contacts: active paths and discs that rest on an edge, mirror images taken together


@dataclass(frozen=True)
class _Contact:
    """Pairs that are mirror images of each other, with the force each puts on each tip."""

    pairs: tuple[tuple[int, int], ...]
    forces: tuple[tuple[int, float, float], ...]
    length: float


def _contacts(problem: Problem, p: Floats, lengths: Floats) -> list[_Contact]:
    d = problem.tree.distances_with(lengths)
    discs = _discs_on_edges(problem, p, lengths)
    scale = scale_of(p, d, [(gap, lengths[tip]) for tip, gap, _ in discs])
    if not scale > 0:
        return []
    tight = scale * (1 + ACTIVE)
    contacts: list[_Contact] = []
    mirror = problem.mirror
    i, j = np.triu_indices(len(p), 1)
    near = np.hypot(*(p[i] - p[j]).T) <= tight * d[i, j]
    seen: set[tuple[int, int]] = set()
    for a, b in zip(i[near].tolist(), j[near].tolist(), strict=True):
        if (a, b) in seen:
            continue
        c, e = sorted((int(mirror[a]), int(mirror[b])))
        orbit = tuple(dict.fromkeys([(a, b), (c, e)]))
        seen.update(orbit)
        forces = []
        for k, m in orbit:
            u = (p[k] - p[m]) / np.hypot(*(p[k] - p[m]))
            forces += [(k, u[0], u[1]), (m, -u[0], -u[1])]
        contacts.append(_Contact(orbit, tuple(forces), float(d[a, b]) * len(orbit)))
    for tip, gap, inward in discs:
        if gap <= tight * lengths[tip] and tip <= mirror[tip]:
            # a twin's mirror image carries the same: count it, at the mirrored tip
            orbit = tuple(dict.fromkeys([(tip, tip), (int(mirror[tip]), int(mirror[tip]))]))
            contacts.append(
                _Contact(orbit, ((tip, *inward),), float(lengths[tip]) * len(orbit))
            )
    return contacts


def _discs_on_edges(
    problem: Problem, p: Floats, lengths: Floats
) -> list[tuple[int, float, tuple[float, float]]]:
    """For each tip that keeps its disc on the sheet: (tip, distance to an edge, inward normal)."""
    w, h = problem.sheet.width, problem.sheet.height
    walls = []
    for tip, (x, y) in enumerate(p.tolist()):
        if problem.keeps_disc(tip, (x, y)):
            walls += [
                (tip, x, (1.0, 0.0)),
                (tip, w - x, (-1.0, 0.0)),
                (tip, y, (0.0, 1.0)),
                (tip, h - y, (0.0, -1.0)),
            ]
    return walls


# --- directions in which tips are free


def _free_directions(
    problem: Problem, p: Floats
) -> list[tuple[tuple[float, float], bool, bool, int]]:
    """Free directions of one tip of each mirrored pair: (unit vector, may go back, may go on, tip).

    Where several ranges meet in one point (a corner, for a tip bound to any edge), only what all
    of them allow counts as free.
    """
    tolerance = ON_EDGE * min(problem.sheet.width, problem.sheet.height)
    directions: list[tuple[tuple[float, float], bool, bool, int]] = []
    for tip, ranges in enumerate(problem.ranges):
        if tip > problem.mirror[tip]:
            continue
        here = [box for box in ranges if _holds(box, p[tip], tolerance)] or list(ranges)
        if here[0].on_axis and problem.symmetry == "diagonal":
            axes = [((0.5**0.5, 0.5**0.5), 0)]
        else:
            axes = [((1.0, 0.0), 0), ((0.0, 1.0), 1)]
        for u, k in axes:
            spans = [(box.x, box.y)[k] for box in here]
            back = all(p[tip, k] - low > tolerance for low, _ in spans)
            on = all(high - p[tip, k] > tolerance for _, high in spans)
            if back or on:
                directions.append((u, back, on, tip))
    return directions


def _holds(box: Range, point: Floats, tolerance: float) -> bool:
    return all(
        low - tolerance <= c <= high + tolerance
        for c, (low, high) in zip(point, (box.x, box.y), strict=True)
    )


def _directions(problem: Problem, p: Floats, contacts: list[_Contact]) -> tuple[Floats, Floats]:
    """Force of each contact in each free direction, and the reactions of what blocks one way."""
    tolerances = _free_directions(problem, p)
    at: dict[int, list[int]] = {}
    for row, (_, _, _, tip) in enumerate(tolerances):
        at.setdefault(tip, []).append(row)
    forces = np.zeros((len(tolerances), len(contacts)))
    for column, contact in enumerate(contacts):
        for tip, fx, fy in contact.forces:
            for row in at.get(tip, ()):
                ux, uy = tolerances[row][0]
                forces[row, column] += ux * fx + uy * fy
    blocked = [
        (row, 1.0 if on else -1.0)
        for row, (_, back, on, _) in enumerate(tolerances)
        if back != on
    ]
    walls = np.zeros((len(tolerances), len(blocked)))
    for column, (row, sign) in enumerate(blocked):
        walls[row, column] = sign
    return forces, walls


def _free_coordinates(
    problem: Problem, p: Floats, tips: set[int], walls: Floats, pressed: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Rows of stressed tips whose motion no pressed edge of the sheet takes."""
    tolerances = _free_directions(problem, p)
    blocked = np.abs(walls[:, pressed]).sum(axis=1) > 0
    rows = [
        tip in tips and not taken for (*_, tip), taken in zip(tolerances, blocked, strict=True)
    ]
    return np.array(rows, dtype=bool)


# --- multipliers


def _significant(stacked: Floats) -> Floats:
    """Return orthonormal rows that span those of a matrix, rounding left out.

    A nearly degenerate packing is known to some 1e-9 only, and its forces with it; without this
    such a packing would have more equations than any multipliers can meet to the last digit.
    """
    if 0 in stacked.shape:
        return stacked
    _, s, vt = np.linalg.svd(stacked, full_matrices=False)
    rows: Floats = vt[s > BALANCE * s[0]]
    return rows


def _largest_support(stacked: Floats) -> NDArray[np.bool_]:
    """Columns that are positive in some y >= 0 with stacked @ y = 0."""
    rows, n = stacked.shape
    if n == 0 or rows == 0:
        return np.ones(n, bool)
    a = csr_matrix(stacked)
    solved = linprog(
        np.r_[-np.ones(n), np.zeros(n)],
        A_eq=hstack([a, a]),  # y = t + rest
        b_eq=np.zeros(rows),
        bounds=[(0, 1)] * n + [(0, None)] * n,
        method="highs",
        options={"primal_feasibility_tolerance": 1e-9},
    )
    if solved.x is None:
        return np.zeros(n, bool)
    chosen: NDArray[np.bool_] = np.asarray(solved.x[:n]) > 0.5
    return chosen


def _centre(stacked: Floats, weights: Floats) -> Floats:
    """Return the y > 0 with stacked @ y = 0 and weights @ y = 1 that maximises sum log y."""
    rows = np.vstack([stacked, weights])
    goal = np.zeros(len(rows))
    goal[-1] = 1.0
    u, s, vt = np.linalg.svd(rows, full_matrices=True)
    rank = int((s > s[0] * 1e-9).sum())
    null = vt[rank:].T
    least = vt[:rank].T @ ((u[:, :rank].T @ goal) / s[:rank])
    y = _inner_point(least, null)
    for _ in range(CENTRING_STEPS):
        if null.shape[1] == 0:
            break
        gradient = null.T @ (1 / y)
        hessian = (null / y[:, None] ** 2).T @ null
        step = null @ np.linalg.lstsq(hessian, gradient, rcond=None)[0]
        decrement = float(np.sqrt(np.sum((step / y) ** 2)))
        y = y + step / (1 + decrement)  # damped Newton keeps y > 0 (self-concordance)
        if decrement < 1e-13:
            break
    return y


def _inner_point(least: Floats, null: Floats) -> Floats:
    """Return least + null z with its smallest entry as large as a linear program can make it."""
    if null.shape[1] == 0:
        return np.maximum(least, np.finfo(float).tiny)
    k = null.shape[1]
    solved = linprog(
        np.r_[np.zeros(k), -1.0],
        A_ub=np.hstack([-null, np.ones((len(least), 1))]),
        b_ub=least,
        bounds=[(None, None)] * k + [(None, 1.0)],
        method="highs",
    )
    y: Floats = least + null @ solved.x[:k]
    return np.maximum(y, np.finfo(float).eps)


def _stress(contacts: list[_Contact], y: Floats) -> Stress:
    total: dict[tuple[int, int], float] = {}
    for contact, multiplier in zip(contacts, y.tolist(), strict=True):
        if multiplier > 0:
            for pair in contact.pairs:
                total[pair] = total.get(pair, 0.0) + multiplier
    return tuple((i, j, value) for (i, j), value in sorted(total.items()))
