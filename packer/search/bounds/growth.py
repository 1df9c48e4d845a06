"""Which few tips to look at: a subset grown one tip, or one mirrored pair, at a time.

Nothing here needs to be right for a bound to be true: a subset that is badly chosen, or whose
optimum is badly estimated, costs only time.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.search.bounds.rules import least_distances
from packer.search.bounds.subsets import closed_under_mirror, subproblem, subset_program
from packer.search.interior import ascend
from packer.search.placements import leaders
from packer.search.starts import fresh_points

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.problem import Problem
    from packer.search.program import Program

    Floats = NDArray[np.float64]

TRIED: Final = 4
"""Additions solved at each step: those with the least room beside the tips chosen so far."""
STARTS: Final = 6
"""Fresh starts for each, besides those that follow from known packings."""
SECOND_LOOK: Final = 30
"""Fresh starts for a subset whose proof failed: its optimum may lie above the estimate."""
MESH: Final = 24
"""Points to a side of the mesh on which room is measured."""


@dataclass(frozen=True, eq=False)
class Subset:
    """Some tips of a problem, and the best packing of them that was found.

    Attributes
    ----------
    tips
        Indices in the whole, ascending.
    problem, program
        Of these tips alone.
    points
        (tips, 2) where they lie.
    scale
        Of that packing: an estimate, from below, of the subset's optimum.
    """

    tips: tuple[int, ...]
    problem: Problem
    program: Program
    points: Floats
    scale: float


def first_subset(problem: Problem, rng: np.random.Generator, best: Floats | None) -> Subset:
    """Return the two tips farthest apart, with their mirror images."""
    d = least_distances(problem.tree)
    i, j = np.unravel_index(int(d.argmax()), d.shape)
    return solve(problem, closed_under_mirror(problem, (int(i), int(j))), rng, best, [])


def solve(
    problem: Problem,
    tips: tuple[int, ...],
    rng: np.random.Generator,
    best: Floats | None,
    more: list[Floats],
    fresh: int = STARTS,
) -> Subset:
    """Return the best packing of some tips over several starts.

    Parameters
    ----------
    problem
        The whole.
    tips
        Those to pack.
    rng
        Makes fresh starts.
    best
        (all tips, 2) a good packing of the whole, if known.
    more
        Further starts, each (tips, 2).
    fresh
        How many fresh ones.
    """
    small = subproblem(problem, tips)
    program = subset_program(problem, small, tips)
    starts = [*more, *(fresh_points(small, rng) for _ in range(fresh))]
    if best is not None:
        starts.append(best[list(tips)])
    found, scale = starts[0], -np.inf
    for points in starts:
        end = ascend(program, program.variables(points), beat=scale, tolerance=1e-6)
        if end.scale > scale:
            found, scale = program.tips(end.z), end.scale
    return Subset(tips, small, program, found, scale)


def grown(
    problem: Problem, subset: Subset, rng: np.random.Generator, best: Floats | None
) -> Subset | None:
    """Return the subset with the tip added that lowers its optimum most; None if all are in."""
    left = [k for k in leaders(problem).tolist() if k not in subset.tips]
    if not left:
        return None
    rooms = [_room(problem, subset, tip) for tip in left]
    order = np.argsort([room for room, _ in rooms], kind="stable")[:TRIED]
    tried = []
    for k in order.tolist():
        tips = closed_under_mirror(problem, (*subset.tips, left[k]))
        places = dict(zip(subset.tips, subset.points, strict=True))
        places[left[k]] = rooms[k][1]
        places[int(problem.mirror[left[k]])] = _image(problem, left[k], rooms[k][1])
        start = np.array([places[tip] for tip in tips])
        tried.append(solve(problem, tips, rng, best, [start]))
    return min(tried, key=lambda s: s.scale)


def _image(problem: Problem, tip: int, point: Floats) -> Floats:
    return point if problem.mirror[tip] == tip else problem.reflect(point)


def _room(problem: Problem, subset: Subset, tip: int) -> tuple[float, Floats]:
    """Return the scale that the roomiest place leaves to a tip beside a subset, and the place."""
    sheet = problem.sheet
    d = least_distances(problem.tree)
    x, y = (np.linspace(0, side, MESH) for side in (sheet.width, sheet.height))
    places = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    twin = int(problem.mirror[tip])
    if problem.symmetry != "none" and twin == tip:
        places = (places + problem.reflect(places)) / 2
    gaps = np.hypot(*(places[:, None] - subset.points[None]).transpose(2, 0, 1))
    ratio = (gaps / d[tip, list(subset.tips)]).min(axis=1)
    if twin != tip:
        own = np.hypot(*(places - problem.reflect(places)).T) / d[tip, twin]
        ratio = np.minimum(ratio, own)
    k = int(ratio.argmax())
    return float(ratio[k]), places[k]


def improved(subset: Subset, z: Floats, target: float) -> Subset:
    """Return the subset with the packing that variables near to one of scale `target` lead to."""
    end = ascend(subset.program, np.clip(z, subset.program.lower, subset.program.upper))
    # hardly below the target, if at all: another attempt just above it is not worth while
    scale = max(end.scale, subset.scale, target)
    points = subset.program.tips(end.z) if end.scale > subset.scale else subset.points
    return replace(subset, points=points, scale=scale)


def second_look(
    problem: Problem, subset: Subset, rng: np.random.Generator, best: Floats | None
) -> Subset:
    """Return the subset with its optimum estimated anew from many starts."""
    return solve(problem, subset.tips, rng, best, [subset.points], SECOND_LOOK)
