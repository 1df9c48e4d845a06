"""Names of twins: which of two mirrored limbs is called left.

The search tells twins apart only by name. Exchanging the two limbs of a pair changes no distance,
so that afterwards the one that lies on the left can be given the name.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from packer.units import ON_EDGE

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.model.problem import Problem


def name_sides(problem: Problem, points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return (tips, 2) points with the limbs of each pair exchanged where left lies right.

    Left is the lower x; under diagonal symmetry, where the axis rises to the right, the side
    above it. Limbs stay as they are where an exchange would break a placement.
    """
    out = points.copy()
    for limb in twin_limbs(problem):
        left = np.array([tip for tip in limb if tip < problem.tree.n_tips], dtype=np.intp)
        right = problem.tree.twin[left]
        turned = out.copy()
        turned[left], turned[right] = out[right], out[left]
        if _leftness(problem, out[left]) > _leftness(problem, out[right]) and all(
            _in_place(problem, int(tip), turned[tip]) for tip in (*left, *right)
        ):
            out = turned
    return out


def twin_limbs(problem: Problem) -> list[list[int]]:
    """Return for each pair of limbs the edges of its left limb: those joined off the axis."""
    tree = problem.tree
    lefts = np.flatnonzero(tree.twin > np.arange(len(tree.twin)))
    on_axis = _axis_joints(problem)
    limbs: list[list[int]] = []
    seen: set[int] = set()
    for start in lefts.tolist():
        if start in seen:
            continue
        limb, todo = [], [start]
        seen.add(start)
        while todo:
            edge = todo.pop()
            limb.append(edge)
            for node in tree.ends[edge].tolist():
                if node in on_axis:
                    continue
                for _, other in tree.neighbours[node]:
                    if other not in seen:
                        seen.add(other)
                        todo.append(other)
        limbs.append(sorted(limb))
    return limbs


def _axis_joints(problem: Problem) -> set[int]:
    """Return the joints that are no twins: those where an edge and its twin, or none, meet."""
    tree = problem.tree
    joints = set()
    for node in range(tree.n_tips, tree.n_nodes):
        edges = {edge for _, edge in tree.neighbours[node]}
        if all(int(tree.twin[edge]) in edges for edge in edges):
            joints.add(node)
    return joints


def _leftness(problem: Problem, points: NDArray[np.float64]) -> float:
    x, y = points.sum(axis=0)
    return float(x - y if problem.symmetry == "diagonal" else x)


def _in_place(problem: Problem, tip: int, point: NDArray[np.float64]) -> bool:
    tolerance = ON_EDGE * min(problem.sheet.width, problem.sheet.height)
    return any(
        box.x[0] - tolerance <= point[0] <= box.x[1] + tolerance
        and box.y[0] - tolerance <= point[1] <= box.y[1] + tolerance
        for box in problem.ranges[tip]
    )
