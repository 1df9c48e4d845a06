"""Packings that are the same but for names or a mirror: inequalities that one of them satisfies.

Exchanging two equal limbs that hang on one joint, exchanging the two sides of a mirrored limb,
and turning or mirroring a sheet on which no tip is pinned: none of these changes a distance. So
of all packings that arise from each other in these ways only one needs to be looked at. It can be
chosen step by step, since each step leaves the sums decided before it as they are: first the
reflections of the sheet, by a sum over all tips that limbs can exchange with each other; then
limbs in the order of a sum over their tips, from the root outwards; then left and right.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from packer.search.bounds.boxes import Row
from packer.search.twins import twin_limbs
from packer.tree import node_distances

if TYPE_CHECKING:
    from collections.abc import Sequence

    from packer.problem import Problem, Range
    from packer.search.program import Program

Term = tuple[tuple[int, ...], float]
Direction = tuple[float, float]


@dataclass(frozen=True)
class Limb:
    """What hangs on a joint by one edge; of mirrored limbs the left one.

    Attributes
    ----------
    shape
        Lengths, pairs and places as text: the same for limbs that can be exchanged.
    tips
        Its tips.
    limbs
        The limbs at its end, in the order of their shapes.
    """

    shape: str
    tips: tuple[int, ...]
    limbs: tuple[Limb, ...] = ()


def one_of_equals(problem: Problem, program: Program) -> list[Row]:
    """Return inequalities that at least one of all equivalent packings satisfies.

    Parameters
    ----------
    problem
        Of the tips to place, each with one range.
    program
        Its compiled program.
    """
    limbs = limbs_of(problem)
    along = {"none": (1.0, 0.0), "book": (0.0, 1.0), "diagonal": (1.0, 1.0)}[problem.symmetry]
    found = [
        _row(program, [(a.tips, 1.0), (b.tips, -1.0)], along, 0.0) for a, b in _equals(limbs)
    ]
    if all(_is_whole(problem, box) for (box,) in problem.ranges):
        found += _reflections(problem, program, limbs)
    if problem.symmetry != "none":
        found += _sides(problem, program)
    return [row for row in found if row.variables]


def limbs_of(problem: Problem) -> tuple[Limb, ...]:
    """Return the limbs at the joint that is nearest to its farthest tip."""
    tree = problem.tree
    far = node_distances(tree, tree.lengths)[:, : tree.n_tips].max(axis=1)
    joints = [k for k in range(tree.n_tips, tree.n_nodes) if _on_axis(problem, k)]
    return _limbs(problem, min(joints, key=lambda k: float(far[k])), -1)


def _limbs(problem: Problem, node: int, parent: int) -> tuple[Limb, ...]:
    tree = problem.tree
    found = [
        _limb(problem, child, node, edge)
        for child, edge in tree.neighbours[node]
        if child != parent and (problem.symmetry == "none" or tree.twin[edge] >= edge)
    ]
    return tuple(sorted(found, key=lambda limb: (limb.shape, limb.tips)))


def _limb(problem: Problem, node: int, parent: int, edge: int) -> Limb:
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
        (box,) = problem.ranges[node]
        # a pinned tip is like no other
        room = f"margin {box.margin:.13e}" if _is_whole(problem, box) else f"tip {node}"
        return Limb(f"{shape} {room}", (node,))
    limbs = _limbs(problem, node, parent)
    tips = tuple(tip for limb in limbs for tip in limb.tips)
    return Limb(f"{shape} ({', '.join(limb.shape for limb in limbs)})", tips, limbs)


def _on_axis(problem: Problem, joint: int) -> bool:
    """Whether a joint is its own mirror image; every joint is where nothing is mirrored."""
    if problem.symmetry == "none":
        return True
    edges = {edge for _, edge in problem.tree.neighbours[joint]}
    return all(int(problem.tree.twin[edge]) in edges for edge in edges)


def _is_whole(problem: Problem, box: Range) -> bool:
    """Whether a tip may lie anywhere on the sheet, or anywhere on the axis."""
    x, y = (0.0, problem.sheet.width), (0.0, problem.sheet.height)
    return box.y == y and (box.x == x or (box.on_axis and problem.symmetry == "book"))


def _equals(limbs: Sequence[Limb]) -> list[tuple[Limb, Limb]]:
    """Return neighbouring equal limbs of each joint."""
    found = [(a, b) for a, b in pairwise(limbs) if a.shape == b.shape]
    for limb in limbs:
        found += _equals(limb.limbs)
    return found


def _orbits(limbs: Sequence[Limb], path: str, found: dict[str, list[int]]) -> None:
    """Collect tips that exchanges of limbs can bring to each other's place: those of one path."""
    for limb in limbs:
        here = f"{path} / {limb.shape}"
        if limb.limbs:
            _orbits(limb.limbs, here, found)
        else:
            found.setdefault(here, []).extend(limb.tips)


def _reflections(problem: Problem, program: Program, limbs: Sequence[Limb]) -> list[Row]:
    """Decide reflections of the sheet on the smallest orbit, the farthest out of these."""
    orbits: dict[str, list[int]] = {}
    _orbits(limbs, "", orbits)
    far = problem.tree.distances.sum(axis=1)
    orbit = min(orbits.values(), key=lambda tips: (len(tips), -float(far[tips].max())))
    tips = tuple(orbit)
    w, h = problem.sheet.width * len(tips), problem.sheet.height * len(tips)
    rows: dict[str, list[tuple[Direction, float]]] = {
        "none": [((1.0, 0.0), w / 2), ((0.0, 1.0), h / 2)],
        "book": [((0.0, 1.0), h / 2)],
        "diagonal": [((1.0, 1.0), w)],
    }
    if problem.sheet.width == problem.sheet.height:
        rows["none"].append(((1.0, -1.0), 0.0))
    return [
        _row(program, [(tips, 1.0)], direction, limit)
        for direction, limit in rows[problem.symmetry]
    ]


def _sides(problem: Problem, program: Program) -> list[Row]:
    """Put the left limb of each pair on the left, by the mean of its tips."""
    found = []
    for limb in twin_limbs(problem):
        tips = tuple(k for k in limb if k < problem.tree.n_tips)
        if not all(_is_whole(problem, problem.ranges[k][0]) for k in tips):
            continue
        if problem.symmetry == "book":
            half = len(tips) * problem.sheet.width / 2
            found.append(_row(program, [(tips, 1.0)], (1.0, 0.0), half))
        else:
            found.append(_row(program, [(tips, 1.0)], (1.0, -1.0), 0.0))
    return found


def _row(program: Program, terms: list[Term], direction: Direction, limit: float) -> Row:
    """Sum of factor * (direction . tip) over the terms, at most `limit`, in the variables."""
    factors: dict[int, float] = {}
    for tips, factor in terms:
        for tip in tips:
            for axis, share in enumerate(direction):
                value = factor * share
                limit -= value * float(program.offset[axis, tip])
                k = int(program.index[axis, tip])
                factors[k] = factors.get(k, 0.0) + value * float(program.sign[axis, tip])
    used = {k: f for k, f in factors.items() if f}
    return Row(tuple(used), tuple(used.values()), limit)
