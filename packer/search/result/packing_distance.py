"""How different two packings of one figure are, whatever their names and which way they lie."""

from __future__ import annotations

from dataclasses import replace
from itertools import groupby
from typing import TYPE_CHECKING, Final

import numpy as np
from scipy.optimize import linear_sum_assignment

from packer.model.subtree_isomorphism import centres, limbs_at

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from packer.model.packing import Packing
    from packer.model.problem import Problem
    from packer.model.subtree_isomorphism import RootedSubtree

    Floats = NDArray[np.float64]

ELSEWHERE: Final = 0.25
"""Distance between two tips, as a share of the sheet's shorter side, that counts in full."""


def difference(one: Packing, other: Packing) -> float:
    """Return the share of all flap length that lies elsewhere, from 0 to 1.

    A flap lies elsewhere by the distance between its tips in the two packings, in full from
    `ELSEWHERE` on; a flap that is loose in both counts nothing, since it may lie anywhere. The
    sheet is turned and mirrored, and equal limbs exchange their names, in the way that makes the
    share smallest. So mirror images, rotations and relabelled twins have difference zero, and a
    shift of every tip by a hundredth of the side has one of 0.04 at most.

    Equal limbs at a joint are matched by an optimal assignment of what their own best matchings
    cost, from the tips inwards, which is the least over all automorphisms that keep the joint.

    Parameters
    ----------
    one, other
        Packings of one problem, with their stress.
    """
    problem = one.problem
    joints = centres(problem)
    mine = limbs_at(problem, joints[0])
    theirs = [limbs_at(problem, joint) for joint in joints]
    shapes = [limb.shape for limb in mine]
    weight = _weights(one, other)
    least = np.inf
    for points in _isometries(problem, other.points):
        costs = weight * _away(problem, one.points, points)
        crossed = weight * _away(problem, one.points, points[problem.mirror])
        for limbs in theirs:
            if [limb.shape for limb in limbs] == shapes:
                least = min(least, _matched(mine, limbs, costs, crossed))
    return float(least / sum(one.lengths[: one.tree.n_tips]))


def oriented_like(packing: Packing, model: Packing) -> Packing:
    """Return a packing turned and mirrored on its sheet so that its tips lie nearest to a model's.

    Positions that break a placement are left out; where no other is nearer, the packing itself
    is returned.

    Parameters
    ----------
    packing, model
        Packings of one problem.
    """
    best, least = packing, _strayed(packing.points, model)
    for points in _isometries(packing.problem, packing.points)[1:]:
        turned = replace(packing, tips=tuple((x, y) for x, y in points.tolist()))
        if _strayed(points, model) < least and not turned.violations():
            best, least = turned, _strayed(points, model)
    return best


def _strayed(points: Floats, model: Packing) -> float:
    """Return the mean square of how far tips lie from a model's."""
    return float(((points - model.points) ** 2).sum(axis=1).mean())


def _weights(one: Packing, other: Packing) -> Floats:
    """(tips, tips) the length of each flap, zero where both are loose."""
    loose = [
        np.isin(packing.tree.flaps, packing.loose)
        if packing.stress
        else np.zeros(len(packing.tips), bool)
        for packing in (one, other)
    ]
    length = np.array(one.lengths[: one.tree.n_tips])
    return np.where(loose[0][:, None] & loose[1], 0.0, length[:, None])


def _away(problem: Problem, p: Floats, q: Floats) -> Floats:
    """(tips, tips) how far each tip lies elsewhere, from 0 to 1."""
    reach = ELSEWHERE * min(problem.sheet.width, problem.sheet.height)
    gap = p[:, None] - q
    return np.minimum(np.hypot(gap[..., 0], gap[..., 1]) / reach, 1.0)


def _isometries(problem: Problem, points: Floats) -> list[Floats]:
    """Points in every position of the sheet that keeps its mirror line, if it has one.

    The reflection in the mirror line itself is left out: it exchanges the names of twins.
    """
    w, h = problem.sheet.width, problem.sheet.height
    x, y = points.T
    if problem.symmetry == "book":
        return [points, np.c_[x, h - y]]
    if problem.symmetry == "diagonal":
        return [points, np.c_[w - y, h - x]]
    turned = [points, np.c_[w - x, y], np.c_[x, h - y], np.c_[w - x, h - y]]
    if problem.sheet.is_square:
        turned += [q[:, ::-1] for q in turned]
    return turned


def _matched(
    mine: Sequence[RootedSubtree],
    theirs: Sequence[RootedSubtree],
    costs: Floats,
    crossed: Floats | None,
) -> float:
    """Return the least cost of matching limbs of equal shapes, both in the order of shapes."""
    total, start = 0.0, 0
    for _, group in groupby(mine, key=lambda limb: limb.shape):
        some = list(group)
        others = theirs[start : start + len(some)]
        start += len(some)
        table = np.array([[_cost(a, b, costs, crossed) for b in others] for a in some])
        rows, columns = linear_sum_assignment(table)
        total += float(table[rows, columns].sum())
    return total


def _cost(
    mine: RootedSubtree, theirs: RootedSubtree, costs: Floats, crossed: Floats | None
) -> float:
    """Return the least cost of matching two limbs; a mirrored pair may exchange its sides."""
    if mine.paired and crossed is not None:
        return 2 * min(_cost(mine, theirs, table, None) for table in (costs, crossed))
    if not mine.limbs:
        return float(costs[mine.tips[0], theirs.tips[0]])
    return _matched(mine.limbs, theirs.limbs, costs, crossed)
