"""Classical upper bounds on the scale, each a theorem with a short proof.

All of them look only at what every packing must satisfy: |p_i - p_j| >= m d_ij with the tips on
the sheet. Where lengths may flex, d_ij is the least distance that any permitted lengths give.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np
from scipy.optimize import brentq
from scipy.sparse.csgraph import minimum_spanning_tree

from packer.bounds.point_spread import most_spread, proven_spreads
from packer.model.packing import Bound
from packer.model.tree import least_distances, least_lengths

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from packer.model.problem import Problem, Range
    from packer.model.tree import Tree

ROUNDING: Final = 1e-12
"""Relative amount by which every bound is raised: far above what rounding can take from it.

The formulas are short sums and square roots of positive numbers, wrong by a few parts in 1e16
for each term; a thousand terms stay below 1e-12.
"""


def classical_bounds(problem: Problem) -> list[Bound]:
    """Return the bound of each classical rule, the lowest first."""
    bounds = [
        _farthest_pair(problem),
        *_spread_subsets(problem),
        _quarter_discs(problem),
        _thin_sheet(problem),
        *_discs_inside(problem),
    ]
    return sorted(
        (Bound(float(bound.scale) * (1 + ROUNDING), bound.rule) for bound in bounds),
        key=lambda bound: bound.scale,
    )


def _farthest_pair(problem: Problem) -> Bound:
    """Use that m d_ij is at most the greatest distance that the places of i and j allow.

    Without placements or symmetry: the sheet's diagonal over the longest path.
    """
    d = least_distances(problem.tree)
    low, high = (
        np.array([[end(span) for span in hull] for hull in map(_hull, problem.ranges)])
        for end in (min, max)
    )
    gaps = np.maximum(high[None] - low[:, None], high[:, None] - low[None])
    if problem.symmetry == "book":
        tips = np.arange(len(d))
        gaps[tips, problem.mirror, 1] = 0.0  # mirror images lie on one level
    i, j = np.triu_indices(len(d), 1)
    ratios = np.hypot(*gaps[i, j].T) / d[i, j]
    k = int(ratios.argmin())
    names = problem.tree.flaps
    return Bound(float(ratios[k]), f"longest path, {names[i[k]]} to {names[j[k]]}")


def _hull(ranges: tuple[Range, ...]) -> tuple[tuple[float, float], tuple[float, float]]:
    return (
        (min(r.x[0] for r in ranges), max(r.x[1] for r in ranges)),
        (min(r.y[0] for r in ranges), max(r.y[1] for r in ranges)),
    )


def _spread_subsets(problem: Problem) -> list[Bound]:
    """Use that k tips at mutual distance t or more need m t <= the greatest spread of k points."""
    tree, sheet = problem.tree, problem.sheet
    sizes = [k for k in range(3, tree.n_tips + 1) if k <= max(proven_spreads()) or k % 8 == 0]
    sizes += [tree.n_tips] if tree.n_tips > 2 else []
    best: list[Bound] = []
    distances = least_distances(tree)
    for k in dict.fromkeys(sizes):
        spread, rule = most_spread(k, sheet.width, sheet.height)
        if best and not _are_apart(distances, k, spread / best[0].scale):
            continue  # its bound would be higher
        least = _widest(tree, k)
        if not best or spread / least < best[0].scale:
            best = [Bound(spread / least, f"{k} tips far apart, {rule}")]
    return best


@lru_cache(maxsize=1024)
def _widest(tree: Tree, k: int) -> float:
    """Return the distance that k tips have from each other at least, where it is largest.

    Kept, as a figure is packed on several sheets and its tree has the same on all.
    """
    distances = least_distances(tree)
    return _least_within(distances, widest_subset(distances, k, _levels_of(tree)))


@lru_cache(maxsize=2)
def _levels_of(tree: Tree) -> NDArray[np.float64]:
    """Return the distances that there are between tips, rising."""
    return _levels(least_distances(tree))


def _are_apart(d: NDArray[np.float64], k: int, t: float) -> bool:
    """Return whether k tips lie at least t from each other."""
    return len(_apart(d, _deepest_first(d), t * (1 - ROUNDING), k)) == k


def _levels(d: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the distances that there are, rising."""
    return np.unique(d[np.triu_indices(len(d), 1)])


def widest_subset(
    d: NDArray[np.float64], k: int, levels: NDArray[np.float64] | None = None
) -> list[int]:
    """Return k tips whose least mutual distance is as large as it can be.

    Bisection over that distance t. For each t the largest set of tips at least t apart is found
    by taking the deepest tip left and striking out all that are too near: in a tree the tips too
    near to a deepest one are also too near to each other, so taking it costs at most one of them.
    """
    order = _deepest_first(d)
    levels = _levels(d) if levels is None else levels
    low, high = 0, len(levels) - 1
    best: list[int] = order[:k].tolist()
    while low <= high:
        middle = (low + high) // 2
        chosen = _apart(d, order, levels[middle] * (1 - ROUNDING), k)
        if len(chosen) >= k:
            best, low = chosen[:k], middle + 1
        else:
            high = middle - 1
    return best


def _deepest_first(d: NDArray[np.float64]) -> NDArray[np.intp]:
    """Return the tips by depth, seen from tip 0."""
    return np.argsort(-d[0], kind="stable")


def _apart(d: NDArray[np.float64], order: NDArray[np.intp], t: float, k: int) -> list[int]:
    near = np.zeros(len(d), bool)
    chosen: list[int] = []
    for tip in order.tolist():
        if not near[tip]:
            chosen.append(tip)
            if len(chosen) == k:
                break
            near |= d[tip] < t
    return chosen


def _least_within(d: NDArray[np.float64], tips: list[int]) -> float:
    rows = d[np.ix_(tips, tips)]
    return float(rows[np.triu_indices(len(tips), 1)].min())


def _quarter_discs(problem: Problem) -> Bound:
    """Use that discs of radius m l_i about the tips are disjoint, each with a quarter inside.

    A disc about a point of a rectangle has at least a quarter inside while its radius is at most
    the shorter side; a larger radius is cut down to that.
    """
    w, h = problem.sheet.width, problem.sheet.height
    n = problem.tree.n_tips
    radii = least_lengths(problem.tree)[:n]

    def excess(m: float) -> float:
        return float((np.minimum(m * radii, min(w, h)) ** 2).sum()) * math.pi / 4 - w * h

    high = 2 * math.hypot(w, h) / radii.min()
    if excess(high) <= 0:
        return Bound(math.inf, "quarter discs")
    return Bound(_root(excess, high), "quarter discs")


def _thin_sheet(problem: Problem) -> Bound:
    """Use that neighbours in x-order are at least sqrt(m^2 d^2 - H^2) apart in x, summing to at most W.

    Neighbours in x-order form a path through all tips, which is a spanning tree; its sum is no
    less than that of the least spanning tree, the same for d as for any increasing function of d.
    """
    d = least_distances(problem.tree)
    links = minimum_spanning_tree(d).data
    best = math.inf
    for w, h in (
        (problem.sheet.width, problem.sheet.height),
        (problem.sheet.height, problem.sheet.width),
    ):

        def excess(m: float, w: float = w, h: float = h) -> float:
            return float(np.sqrt(np.maximum((m * links) ** 2 - h * h, 0)).sum()) - w

        best = min(best, _root(excess, 2 * math.hypot(w, h) / float(links.max())))
    return Bound(best, "thin sheet")


def _discs_inside(problem: Problem) -> list[Bound]:
    """Use that a disc on the sheet has m l <= half the shorter side."""
    half = min(problem.sheet.width, problem.sheet.height) / 2
    lengths = least_lengths(problem.tree)
    return [
        Bound(half / float(lengths[tip]), f"disc of {problem.tree.flaps[tip]} on the sheet")
        for tip, ranges in enumerate(problem.ranges)
        if all(box.margin > 0 for box in ranges)
    ]


def _root(excess: Callable[[float], float], high: float) -> float:
    """Return a scale just above the root of an increasing function that is positive at `high`."""
    root = brentq(excess, 0.0, high, xtol=1e-15 * high, rtol=1e-14, maxiter=200)
    return float(root) * (1 + ROUNDING)
