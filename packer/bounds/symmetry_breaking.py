"""Packings that are the same but for names or a mirror: inequalities that one of them satisfies.

Exchanging two equal limbs that hang on one joint, exchanging the two sides of a mirrored limb,
and turning or mirroring a sheet: none of these changes a distance, and where they also bring the
places of every tip onto each other, a packing stays one. So of all packings that arise from each
other in these ways only one needs to be looked at. It can be chosen step by step, since each step
leaves the sums decided before it as they are: first the reflections of the sheet, by a sum over
all tips that limbs can exchange with each other; then limbs in the order of a sum over their
tips, from the root outwards; then left and right.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING

from packer.bounds.branch_and_bound import Row
from packer.model.side_names import twin_limbs
from packer.model.subtree_isomorphism import centres, limbs_at

if TYPE_CHECKING:
    from collections.abc import Sequence

    from packer.local_solver.nonlinear_program import NonlinearProgram
    from packer.model.problem import Problem, Range
    from packer.model.subtree_isomorphism import RootedSubtree

Term = tuple[tuple[int, ...], float]
Direction = tuple[float, float]


def one_of_equals(problem: Problem, program: NonlinearProgram) -> list[Row]:
    """Return inequalities that at least one of all equivalent packings satisfies.

    Parameters
    ----------
    problem
        Of the tips to place.
    program
        Of the same tips, free where they have several ranges.
    """
    limbs = limbs_at(problem, centres(problem)[0])
    along = {"none": (1.0, 0.0), "book": (0.0, 1.0), "diagonal": (1.0, 1.0)}[problem.symmetry]
    rows = [
        _row(program, [(a.tips, 1.0), (b.tips, -1.0)], along, 0.0) for a, b in _equals(limbs)
    ]
    if all(_is_kept(problem, ranges) for ranges in problem.ranges):
        rows += _reflections(problem, program, limbs)
    if problem.symmetry != "none":
        rows += _sides(problem, program)
    return [row for row in rows if row.variables]


def _is_kept(problem: Problem, ranges: tuple[Range, ...]) -> bool:
    """Whether every reflection that `_reflections` decides brings ranges to each other's place."""
    w, h = problem.sheet.width, problem.sheet.height
    over = _turned(_flipped(_turned(ranges), h))
    images = {
        "none": [_flipped(ranges, w), over],
        "book": [over],
        "diagonal": [_turned(_flipped(over, w))],
    }[problem.symmetry]
    if problem.symmetry == "none" and w == h:
        images.append(_turned(ranges))
    return all(set(image) == set(ranges) for image in images)


def _has_sides_alike(problem: Problem, ranges: tuple[Range, ...]) -> bool:
    """Whether the mirror line brings ranges to each other's place."""
    turned = problem.symmetry == "diagonal"
    image = _turned(ranges) if turned else _flipped(ranges, problem.sheet.width)
    return set(image) == set(ranges)


def _flipped(ranges: tuple[Range, ...], width: float) -> tuple[Range, ...]:
    return tuple(replace(r, x=(width - r.x[1], width - r.x[0])) for r in ranges)


def _turned(ranges: tuple[Range, ...]) -> tuple[Range, ...]:
    return tuple(replace(r, x=r.y, y=r.x) for r in ranges)


def _equals(limbs: Sequence[RootedSubtree]) -> list[tuple[RootedSubtree, RootedSubtree]]:
    """Return neighbouring equal limbs of each joint."""
    pairs = [(a, b) for a, b in pairwise(limbs) if a.shape == b.shape]
    for limb in limbs:
        pairs += _equals(limb.limbs)
    return pairs


def _orbits(limbs: Sequence[RootedSubtree], path: str, orbits: dict[str, list[int]]) -> None:
    """Collect tips that exchanges of limbs can bring to each other's place: those of one path."""
    for limb in limbs:
        here = f"{path} / {limb.shape}"
        if limb.limbs:
            _orbits(limb.limbs, here, orbits)
        else:
            orbits.setdefault(here, []).extend(limb.tips)


def _reflections(
    problem: Problem, program: NonlinearProgram, limbs: Sequence[RootedSubtree]
) -> list[Row]:
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


def _sides(problem: Problem, program: NonlinearProgram) -> list[Row]:
    """Put the left limb of each pair on the left, by the mean of its tips."""
    rows = []
    for limb in twin_limbs(problem):
        tips = tuple(k for k in limb if k < problem.tree.n_tips)
        if not all(_has_sides_alike(problem, problem.ranges[k]) for k in tips):
            continue
        if problem.symmetry == "book":
            half = len(tips) * problem.sheet.width / 2
            rows.append(_row(program, [(tips, 1.0)], (1.0, 0.0), half))
        else:
            rows.append(_row(program, [(tips, 1.0)], (1.0, -1.0), 0.0))
    return rows


def _row(
    program: NonlinearProgram, terms: list[Term], direction: Direction, limit: float
) -> Row:
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
