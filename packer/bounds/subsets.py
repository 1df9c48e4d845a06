"""Figures with a few tips of another: every packing of the whole holds a packing of them."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from packer.local_solver.nonlinear_program import NonlinearProgram, compile_program
from packer.model.figure import Figure, Flap, River
from packer.model.problem import Problem
from packer.model.tree import least_distances, least_lengths

if TYPE_CHECKING:
    from collections.abc import Iterable

    from packer.bounds.branch_and_bound import TipRanges
    from packer.local_solver.nonlinear_program import RangeChoice


def closed_under_mirror(problem: Problem, tips: Iterable[int]) -> tuple[int, ...]:
    """Return tips with their mirror images, in order."""
    return tuple(sorted({int(k) for tip in tips for k in (tip, problem.mirror[tip])}))


def subproblem(problem: Problem, tips: tuple[int, ...]) -> Problem:
    """Return the problem of some tips alone, in their order.

    Lengths are the least that flex permits, which only makes more packings possible: an upper
    bound for the tips is one for the whole. Every tip keeps its places.

    Parameters
    ----------
    problem
        The whole.
    tips
        At least two, ascending; closed under the mirror.
    """
    tree = problem.tree
    chosen = np.zeros(tree.n_tips, bool)
    chosen[list(tips)] = True
    inside = tree.beyond[:, chosen]
    kept: list[bool] = np.logical_xor(inside.any(axis=1), inside.all(axis=1)).tolist()
    lengths = least_lengths(tree).tolist()
    flaps: list[Flap] = []
    rivers: list[River] = []
    # the k-th edge whose twin does not come earlier was written as the k-th part
    parts: tuple[Flap | River, ...] = (*problem.figure.flaps, *problem.figure.rivers)
    written = iter(parts)
    for k, name in enumerate(tree.names):
        if tree.twin[k] >= k:
            part = next(written)
        if not kept[k]:
            continue
        joints = tuple(f"joint {node}" for node in tree.ends[k].tolist())
        if isinstance(part, Flap):
            if problem.symmetry == "none":
                flaps.append(Flap(name, joints[1], lengths[k], place=tree.places[k]))
            elif tree.twin[k] >= k:
                flaps.append(replace(part, length=lengths[k], flex=0.0, pleats=0, depth=0.0))
        elif problem.symmetry == "none":
            rivers.append(River(name, (joints[0], joints[1]), lengths[k]))
        elif tree.twin[k] >= k:
            rivers.append(replace(part, length=lengths[k], flex=0.0, pleats=0, depth=0.0))
    figure = Figure("some of its tips", tuple(flaps), tuple(rivers), problem.symmetry)
    return Problem(figure, problem.sheet, problem.symmetry)


def relaxed(problem: Problem) -> Problem:
    """Return the problem with tips of several ranges free to lie anywhere, or on the axis."""
    tree = problem.tree
    several = {tree.written[k] for k, ranges in enumerate(problem.ranges) if len(ranges) > 1}
    flaps = tuple(
        replace(flap, place=()) if flap.name in several else flap
        for flap in problem.figure.flaps
    )
    return replace(problem, figure=replace(problem.figure, flaps=flaps))


def places_of(problem: Problem) -> TipRanges:
    """Return the ranges of tips that have several; of mirror images those of the first."""
    return {
        tip: ranges
        for tip, ranges in enumerate(problem.ranges)
        if len(ranges) > 1 and tip <= problem.mirror[tip]
    }


def subset_program(
    problem: Problem, small: Problem, tips: tuple[int, ...], choice: RangeChoice | None = None
) -> NonlinearProgram:
    """Return the program of a subproblem, with the least distances that the whole permits.

    Parameters
    ----------
    problem
        The whole.
    small
        The subproblem, or a relaxed one.
    tips
        Its tips in the whole.
    choice
        The range of each; the first by default.
    """
    program = compile_program(small, choice or (0,) * len(tips))
    d = least_distances(problem.tree)[np.ix_(tips, tips)]
    return replace(program, distance=d[program.first, program.second])
