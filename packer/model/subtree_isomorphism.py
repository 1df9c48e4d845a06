"""Limbs: what hangs on a joint, and which limbs are the same but for their names."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from packer.model.tree import node_distances

if TYPE_CHECKING:
    from packer.model.problem import Problem

SAME_DEPTH: Final = 1e-12
"""Relative difference below which two joints are equally central."""


@dataclass(frozen=True)
class RootedSubtree:
    """What hangs on a joint by one edge; of mirrored limbs the left one.

    Attributes
    ----------
    shape
        Lengths, pairs and places as text: the same for limbs that can be exchanged.
    tips
        Its tips.
    limbs
        The limbs at its end, in the order of their shapes.
    paired
        Whether it has a mirror image.
    """

    shape: str
    tips: tuple[int, ...]
    limbs: tuple[RootedSubtree, ...]
    paired: bool


def centres(problem: Problem) -> list[int]:
    """Return the one or two joints nearest to their farthest tip, on the axis if there is one.

    They are the ends of the part that the middle of the longest path lies on, or the joint that it
    is. A mirror keeps that middle where it is, so they are never joints of a paired limb.
    """
    tree = problem.tree
    far = node_distances(tree, tree.lengths)[tree.n_tips :, : tree.n_tips].max(axis=1)
    return [
        tree.n_tips + k
        for k, depth in enumerate(far.tolist())
        if depth <= far.min() * (1 + SAME_DEPTH)
    ]


def limbs_at(problem: Problem, joint: int, parent: int = -1) -> tuple[RootedSubtree, ...]:
    """Return the limbs of a joint, without the one towards `parent`, in the order of their shapes."""
    tree = problem.tree
    limbs = [
        _limb(problem, child, joint, edge)
        for child, edge in tree.neighbours[joint]
        if child != parent and (problem.symmetry == "none" or tree.twin[edge] >= edge)
    ]
    return tuple(sorted(limbs, key=lambda limb: (limb.shape, limb.tips)))


def _limb(problem: Problem, node: int, parent: int, edge: int) -> RootedSubtree:
    """Return the limb beyond an edge; joints that only lengthen it are passed over."""
    tree = problem.tree
    length = float(tree.lengths[edge])
    while node >= tree.n_tips and len(tree.neighbours[node]) == 2:
        child, edge = next(pair for pair in tree.neighbours[node] if pair[0] != parent)
        length += float(tree.lengths[edge])
        node, parent = child, node
    paired = problem.symmetry != "none" and int(tree.twin[edge]) != edge
    shape = f"{length:.13e} {'pair' if paired else 'one'}"
    if node < tree.n_tips:
        return RootedSubtree(f"{shape} {problem.ranges[node]}", (node,), (), paired)
    limbs = limbs_at(problem, node, parent)
    tips = tuple(tip for limb in limbs for tip in limb.tips)
    shape += f" ({', '.join(limb.shape for limb in limbs)})"
    return RootedSubtree(shape, tips, limbs, paired)
