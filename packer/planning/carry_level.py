"""Carry a packing of a figure to the same figure with parts left out: leaving out can only help."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from packer.model.packing import Packing
from packer.model.tree import LEFT, RIGHT

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.model.problem import Problem
    from packer.model.tree import Tree

Pieces = frozenset[tuple[str, str]]


def packing_left(problem: Problem, packing: Packing) -> Packing:
    """Return the packing that is left when parts are left out.

    Every flap that stays keeps its tip. A river that became a flap takes the tip of a flap that
    it carried; under a symmetry an unpaired one takes a tip on the axis, or the point on the axis
    between two twins where there is none.

    Parameters
    ----------
    problem
        The figure with parts left out (see `Figure.without`), on the packing's sheet.
    packing
        A packing of the figure with these parts.

    Returns
    -------
    Packing
        Its scale is that of `packing` or larger where `never_smaller` says so.
    """
    whole, left = packing.tree, problem.tree
    known = [_pieces(whole, edge) for edge in range(len(whole.names))]
    asked = [_pieces(left, edge) for edge in range(left.n_tips)]
    tips, taken = _kept(whole, known, asked)
    points = np.zeros((left.n_tips, 2))
    for k, tip in enumerate(tips):
        beyond = np.array([tip]) if tip >= 0 else _carried(whole, known, asked[k], taken)
        points[k] = _point(problem, packing, k, beyond)
    if problem.symmetry != "none":
        image = problem.reflect(points)
        later = problem.mirror < np.arange(left.n_tips)
        points[later] = image[problem.mirror[later]]
    return Packing(problem, tuple((float(x), float(y)) for x, y in points))


def never_smaller(problem: Problem, whole: Problem) -> bool:
    """Return whether every packing of a figure holds one of the figure with parts left out.

    It does but for three cases: where lengths may stray, a part left out can have been what the
    others were shortened for; a part that is joined to one beyond it needs a larger disc on the
    sheet where its place is "middle"; and under a symmetry an unpaired river that becomes a flap
    must keep its tip on the axis, where no flap it carried may have been.
    """
    if whole.tree.flex.any():
        return False
    old = {flap.name: flap for flap in whole.figure.flaps}
    for flap in problem.figure.flaps:
        if flap.name not in old and "middle" in flap.place:
            return False
    known = [_pieces(whole.tree, edge) for edge in range(len(whole.tree.names))]
    asked = [_pieces(problem.tree, tip) for tip in range(problem.tree.n_tips)]
    tips, taken = _kept(whole.tree, known, asked)
    for k, tip in enumerate(tips):
        if tip < 0 and problem.symmetry != "none" and problem.mirror[k] == k:
            beyond = _carried(whole.tree, known, asked[k], taken)
            if not (whole.mirror[beyond] == beyond).any():
                return False
    return True


def _pieces(tree: Tree, edge: int) -> Pieces:
    """Return the parts as first written that an edge is made of, each with its side."""
    name = tree.names[edge]
    side = next((end for end in (LEFT, RIGHT) if tree.written[edge] + end == name), "")
    return frozenset((piece, side) for piece in tree.written[edge].split(" + "))


def _kept(
    tree: Tree, known: list[Pieces], asked: list[Pieces]
) -> tuple[list[int], NDArray[np.bool_]]:
    """Return for each flap that is left its tip in the tree, -1 of a river; and which tips are so."""
    tips = [next((t for t in range(tree.n_tips) if known[t] <= a), -1) for a in asked]
    taken = np.zeros(tree.n_tips, bool)
    taken[[tip for tip in tips if tip >= 0]] = True
    return tips, taken


def _carried(
    tree: Tree, known: list[Pieces], pieces: Pieces, taken: NDArray[np.bool_]
) -> NDArray[np.intp]:
    """Return the tips beyond a river that became a flap: none of those that are still flaps."""
    sides = [
        side
        for edge in range(tree.n_tips, len(tree.names))
        if known[edge] <= pieces
        for side in (tree.beyond[edge], ~tree.beyond[edge])
    ]
    free = [side for side in sides if not side[taken].any()] or sides
    return np.flatnonzero(min(free, key=lambda side: int(side.sum())))


def _point(
    problem: Problem, packing: Packing, flap: int, tips: NDArray[np.intp]
) -> NDArray[np.float64]:
    tip = tips[0]
    if problem.symmetry == "none" or problem.mirror[flap] != flap:
        return np.array(packing.tips[tip])
    on_axis = tips[packing.problem.mirror[tips] == tips]
    both = [on_axis[0]] * 2 if len(on_axis) else [tip, packing.problem.mirror[tip]]
    middle: NDArray[np.float64] = packing.points[both].mean(axis=0)
    return middle
