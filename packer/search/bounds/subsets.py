"""Figures with a few tips of another: every packing of the whole holds a packing of them."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from packer.figure import Figure, Flap, River
from packer.problem import Problem
from packer.search.bounds.rules import least_distances, least_lengths
from packer.search.program import Program, compile_program

if TYPE_CHECKING:
    from collections.abc import Iterable


def closed_under_mirror(problem: Problem, tips: Iterable[int]) -> tuple[int, ...]:
    """Return tips with their mirror images, in order."""
    return tuple(sorted({int(k) for tip in tips for k in (tip, problem.mirror[tip])}))


def subproblem(problem: Problem, tips: tuple[int, ...]) -> Problem:
    """Return the problem of some tips alone, in their order.

    Lengths are the least that flex permits, and a tip with several ranges may lie anywhere: both
    only make more packings possible, so an upper bound for the tips is one for the whole.

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
            place = tree.places[k] if len(problem.ranges[k]) == 1 else ()
            if problem.symmetry == "none":
                flaps.append(Flap(name, joints[1], lengths[k], place=place))
            elif tree.twin[k] >= k:
                flaps.append(replace(part, length=lengths[k], flex=0.0, place=place))
        elif problem.symmetry == "none":
            rivers.append(River(name, (joints[0], joints[1]), lengths[k]))
        elif tree.twin[k] >= k:
            rivers.append(replace(part, length=lengths[k], flex=0.0))
    figure = Figure("some of its tips", tuple(flaps), tuple(rivers), problem.symmetry)
    return Problem(figure, problem.sheet, problem.symmetry)


def subset_program(problem: Problem, small: Problem, tips: tuple[int, ...]) -> Program:
    """Return the program of a subproblem, with the least distances that the whole permits."""
    program = compile_program(small, (0,) * len(tips))
    d = least_distances(problem.tree)[np.ix_(tips, tips)]
    return replace(program, distance=d[program.first, program.second])
