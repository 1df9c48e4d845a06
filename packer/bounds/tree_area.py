"""The tree area bound: the paper of the whole tree must fit on the sheet and around its edges.

Theorem. Root the tree at any of its points; let h_i be the depth of tip i below it, or less, and
s_i = m h_i <= half the shorter side of the sheet. In a packing of scale m,

    m^2 S <= W H + (pi / 4) (sum of the four largest s_i^2) + 2 (W + H) t + sum_i cap(s_i, t)

for every t >= 0, where cap(s, t) is the area of a disc of radius s beyond a chord at distance t
from its centre, and S comes from the tree alone: S(joint) = sum over its branches, and
S -> (sqrt S + sqrt(pi) l)^2 along an edge of length l.

Proof. (1) *Area in the plane.* For a point v of the tree at depth h_v let R_v be the union of the
discs (p_i, m (h_i - h_v)) of the tips below v. Two tips i, j from different branches at v have
d_ij >= (h_i - h_v) + (h_j - h_v), so their discs do not overlap: areas add up at a joint. Along an
edge of length l the region grows to R + (disc of radius m l), whose area is at least
(sqrt |R| + sqrt(pi) m l)^2 by the Brunn-Minkowski inequality. So R at the root has area m^2 S or
more. Depths cut down to any h_i' <= h_i only make the discs smaller, and an edge counts as far as
it lies above the cut.

(2) *Corners.* What lies outside the sheet lies in four strips, each beyond one side, and in four
quadrants beyond the corners. A point q of the quadrant at corner c and a point p of the sheet see
c under an angle of at least a right one, so |q - c| <= |q - p|: the part in the quadrant lies in
a quarter disc of the radius of some tip that reaches c. No tip reaches two corners, as 2 s_i is at
most their distance, so four different tips at most are used.

(3) *Strips.* Along a side, let each point x belong to the tip whose disc reaches deepest beyond
it, and let T be the set that belongs to a tip at distance y from the side. Its part of the strip
is the integral over T of f(u) = sqrt(s^2 - u^2) - y, where positive. No tip reaches two opposite
sides. Let a tip lie at distances x, y from two adjacent sides and own sets of lengths t1 and t2 on
them, with f and g its depths. For every t >= 0 the two integrals together are at most

    t (t1 + t2) + (integral of (f - t)+) + (integral of (g - t)+) <= t (t1 + t2) + cap(s, t)

by the lemma below. Summed over all tips, with all t1 + t2 together at most 2 (W + H), this gives
the theorem.

Lemma. Let F(x, y) be the area of P = {w > y + t, u > -x} plus that of Q = {u < -(x + t), w < y}
within the unit disc, for x, y, t >= 0 (u along the first side, w outwards across it; then -u is
outwards across the second side). Then F <= cap(1, t).

Proof. dF/dx = max(C, 0) - B - min(y, B) for x < 1 - t, with C = sqrt(1 - x^2) - y - t and
B = sqrt(1 - (x + t)^2), since P grows and Q shrinks along lines of these lengths. Here
h = C - B - min(y, B) increases with x: so does sqrt(1 - x^2) - sqrt(1 - (x + t)^2), and B
falls. If C reaches zero at some x0 < 1 - t, then h(x0) <= 0, so h <= 0 before it and dF/dx <= 0
throughout: F is largest at x = 0. Otherwise dF/dx = h increases, F is convex in x and largest at
x = 0 or x = 1 - t. From x = 1 - t on Q is empty and F = |P| <= cap(1, y + t) <= cap(1, t). At
x = 0, F = cap(1, y + t)/2 + cap(1, t) - G(t, y), where G(a, b) is the area of the disc with
u > a and w > b, and cap(1, y + t)/2 = G(0, y + t). It remains that G(0, c) <= G(t, c - t) for
c = y + t; if c >= 1 the left side is zero. Moving (a, b) from (0, c) along a + b = c < 1 with
a < b, dG/da = k(b) - k(a) for k(z) = z + sqrt(1 - z^2); with a = sin A, b = sin B this is
sqrt 2 (sin(B + pi/4) - sin(A + pi/4)), which is positive as A < B < pi/2 - A. So G rises up to
a = b and, being symmetric, is least at the ends. []
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np
from scipy.optimize import brentq

from packer.bounds.bound_params import DEFAULT
from packer.bounds.classical_rules import ROUNDING
from packer.model.packing import Bound
from packer.model.tree import least_lengths, node_distances, walk

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from packer.bounds.bound_params import BoundParams
    from packer.model.problem import Problem
    from packer.model.tree import Tree

NEARLY_LEAST: Final = 1e-6
"""How near to its least the area beyond the strips is sought, as a share of the widest radius: flat there,
it is larger by a share of some 1e-12."""


def area_bound(
    problem: Problem, known: float = math.inf, params: BoundParams = DEFAULT
) -> Bound:
    """Return the best tree area bound over roots at joints and inside rivers, and over cuts.

    Parameters
    ----------
    problem
        What is packed; its symmetry and placements are not used.
    known
        A bound known already; where none is lower, the scale returned is infinite.
    params
        The roots and the cuts.
    """
    best, where = known, ""
    half = min(problem.sheet.width, problem.sheet.height) / 2
    for parts, depths, name in _rootings_kept(problem.tree, params):
        vain = math.nan
        for cut in params.area_cuts:
            depth = cut * float(depths.max())
            # as deep as counts at the best scale: where another cut gave as much, nothing is excluded
            here = min(depth, half / best) if math.isfinite(best) else depth
            if here == vain:
                continue
            bound = _bound_at(problem, parts, depths, depth, best)
            if bound < best:
                best, where, vain = bound, name, math.nan
            else:
                vain = here
    if not where:
        return Bound(math.inf, "tree area")
    return Bound(best * (1 + ROUNDING), f"tree area from {where}")


Parts = list[tuple[int, int, float, float]]
"""Edges from the tips inwards: (node, parent, depth of the node, depth of the parent)."""


@lru_cache(maxsize=1)
def _rootings_kept(
    tree: Tree, params: BoundParams
) -> tuple[tuple[Parts, NDArray[np.float64], str], ...]:
    """Return the roots, kept as a figure is packed on several sheets and its tree is the same on all."""
    return tuple(_rootings(tree, params))


def _rootings(
    tree: Tree, params: BoundParams
) -> Iterator[tuple[Parts, NDArray[np.float64], str]]:
    """Roots at joints, and at some points inside rivers: all, or those nearest to the middle."""
    lengths, inside = least_lengths(tree), params.area_roots
    apart = node_distances(tree, lengths)
    farthest = apart[:, : tree.n_tips].max(axis=1)
    rivers = tree.ends[tree.n_tips :]
    reach = np.concatenate([farthest[tree.n_tips :], farthest[rivers].min(axis=1)])
    weight = np.repeat([1, inside], [len(tree.joints), len(rivers)])
    order = np.argsort(reach, kind="stable")
    near = np.empty(len(reach), dtype=bool)
    near[order] = np.cumsum(weight[order]) * tree.n_nodes <= params.area_nodes
    for joint in range(tree.n_tips, tree.n_nodes):
        if not near[joint - tree.n_tips]:
            continue
        deep = apart[joint]
        parts = [
            (node, parent, float(deep[node]), float(deep[parent]))
            for node, parent, edge in reversed(walk(tree, joint))
            if edge >= 0
        ]
        yield parts, deep[: tree.n_tips], f"joint {tree.joints[joint - tree.n_tips]}"
    for river in range(tree.n_tips, len(tree.names)):
        if not near[len(tree.joints) + river - tree.n_tips]:
            continue
        a, b = tree.ends[river].tolist()
        length = float(lengths[river])
        for step in range(1, inside + 1):
            at = length * step / (inside + 1)
            deep = np.minimum(apart[a] + at, apart[b] + length - at)
            parts = [
                (
                    node,
                    -1 if edge == river else parent,
                    float(deep[node]),
                    0.0 if edge == river else float(deep[parent]),
                )
                for node, parent, edge in reversed(walk(tree, a))
                if edge >= 0
            ]
            parts.append((a, -1, at, 0.0))
            yield parts, deep[: tree.n_tips], f"river {tree.names[river]}"


def plane_area(parts: Parts, n_tips: int, cut: float) -> float:
    """Return S: the least area of the whole tree's paper in the plane, at scale one."""
    # without a call for each part: the sum is made thousands of times, for 1000 tips over 2000 parts
    area = [0.0] * (len(parts) + 2)  # by nodes; a root inside a river is the last
    share, root = math.sqrt(math.pi), math.sqrt
    for node, parent, low, high in parts:
        here = 0.0 if node < n_tips else area[node]
        grown = (low if low < cut else cut) - high
        if grown > 0:
            here = (root(here) + share * grown) ** 2
        area[parent] += here
    return area[parts[-1][1]]


def outside_area(radii: NDArray[np.float64], width: float, height: float) -> float:
    """Return the most that discs about points of a rectangle can have outside it, as a union.

    Parameters
    ----------
    radii
        (n,) at most half the shorter side.
    width, height
        Of the rectangle.
    """
    squares, widest = radii * radii, float(radii.max())
    corners = math.pi / 4 * float(np.sort(squares)[-4:].sum())

    def strips(t: float) -> float:
        return 2 * (width + height) * t + float(caps(radii, t).sum())

    def slope(t: float) -> float:
        chords = 2 * float(np.sqrt(np.maximum(squares - t * t, 0.0)).sum())
        return 2 * (width + height) - chords

    # convex in t: each value is a bound, so the minimum need not be exact
    if slope(0.0) >= 0:
        return corners + strips(0.0)
    least = brentq(slope, 0.0, widest, xtol=NEARLY_LEAST * widest)
    return corners + strips(least)


def caps(radii: NDArray[np.float64], t: float) -> NDArray[np.float64]:
    """Return (n,) areas of discs beyond a chord at distance t from their centres."""
    share = np.clip(t / radii, 0.0, 1.0)
    area: NDArray[np.float64] = radii**2 * (np.arccos(share) - share * np.sqrt(1 - share**2))
    return area


def _bound_at(
    problem: Problem, parts: Parts, depths: NDArray[np.float64], cut: float, best: float
) -> float:
    """Return the least scale that this root and cut exclude; inf where it is not below `best`."""
    w, h = problem.sheet.width, problem.sheet.height

    def excess(m: float) -> float:
        # depths beyond half the shorter side are cut back to it
        here = min(cut, min(w, h) / 2 / m)
        radii = m * np.minimum(depths, here)
        area = m * m * plane_area(parts, len(depths), here)
        beyond = area * (1 - ROUNDING) - w * h
        # where the area alone is no more than the sheet's, what lies outside need not be known
        return beyond - outside_area(radii, w, h) * (1 + ROUNDING) if beyond > 0 else beyond

    # A scale that is excluded excludes all above it, since a packing can be shrunk; so any
    # excluded value found is a bound, whether or not the excess is monotone.
    high = best if math.isfinite(best) else 2 * math.hypot(w, h) / float(depths.max())
    if excess(high) <= 0:
        return math.inf
    low = high / 4
    while high > low * (1 + 1e-6):
        middle = math.sqrt(low * high)
        if excess(middle) > 0:
            high = middle
        else:
            low = middle
    return high
