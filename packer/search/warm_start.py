"""A warm start: the packing of a figure like this one as a place to begin from."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from packer.local_solver.flexible_lengths import flexible
from packer.local_solver.nonlinear_program import compile_program
from packer.local_solver.range_assignment import assigned_ranges, sample
from packer.local_solver.solver import LocalOptimum
from packer.search.memetic.operators import clearance, place_tips

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.model.packing import Packing
    from packer.model.problem import Problem

EXACT: Final = 1e-9
"""Noise, as a share of the diagonal, with which tips take their ranges: they stay in their own."""
APART: Final = 0.01
"""Share of the packing's scale below which some tips lie on each other, but for rounding."""
PLACES: Final = 500
"""Random places among which a new flap takes that of greatest clearance; not varied."""


def start_near(
    problem: Problem, near: Packing, rng: np.random.Generator
) -> LocalOptimum | None:
    """Return a given packing as an optimum of a problem, new flaps put where there is clearance.

    Flaps are matched by name; a packing on another sheet is stretched over this one. Where
    nothing but lengths changed, the result is the packing itself, so that a search from it is
    never worse. None where fewer than half of the flaps are known, or where a tip would lie on
    another, as where a packing that is not symmetric is to become so: fresh starts are better then.
    """
    points, placed = matched_points(problem, near)
    if 2 * placed.sum() < len(placed):
        return None
    for tip in np.flatnonzero(~placed):
        if placed[tip]:
            continue
        one = np.array([tip])
        places = sample(problem, one, PLACES, rng)
        widest = clearance(problem, points[None], one, places, placed).argmax(axis=1)
        place_tips(problem, points[None], np.array([0]), one, places[0, widest])
        placed[[tip, problem.mirror[tip]]] = True
    program = compile_program(problem, assigned_ranges(problem, points, rng, noise=EXACT))
    z = program.variables(points)
    change = _changes(problem, near)
    scale = program.scale(z, change)
    apart = scale > APART * near.scale * min(
        problem.sheet.width / near.sheet.width, problem.sheet.height / near.sheet.height
    )
    return LocalOptimum(program.choice, z, change, scale) if apart else None


def matched_points(
    problem: Problem, near: Packing
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Return (tips, 2) points of flaps that both have, and which those are."""
    old = dict(zip(near.tree.flaps, near.points, strict=True))
    stretch = np.array(
        [problem.sheet.width / near.sheet.width, problem.sheet.height / near.sheet.height]
    )
    points = np.zeros((problem.tree.n_tips, 2))
    placed = np.zeros(problem.tree.n_tips, dtype=bool)
    for tip, name in enumerate(problem.tree.flaps):
        if name in old:
            points[tip], placed[tip] = old[name] * stretch, True
    return points, placed


def _changes(problem: Problem, near: Packing) -> NDArray[np.float64]:
    """Return the flexible lengths of the packing where they fit, else none changed."""
    tree = problem.tree
    lengths = flexible(tree)
    used = dict(zip(near.tree.names, near.lengths, strict=True))
    used_now = np.array(
        [used.get(name, length) for name, length in zip(tree.names, tree.lengths, strict=True)]
    )
    change = lengths.changes(tree.lengths, used_now)
    fits = (lengths.ends @ change + lengths.end_scale >= 0).all()
    return change if fits else np.zeros_like(change)
