"""From a local optimum to a packing: to the last digits, judged, loose tips placed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from packer.deadline import NEVER, Deadline
from packer.local_solver.flexible_lengths import flexible
from packer.local_solver.interior_point import polish
from packer.local_solver.nonlinear_program import compile_program
from packer.model.packing import Packing
from packer.model.river_connectivity import split_rivers
from packer.model.side_names import name_sides
from packer.search.result.kkt_certificate import certify
from packer.search.result.rattlers import place_loose

if TYPE_CHECKING:
    from packer.local_solver.solver import LocalOptimum
    from packer.model.packing import Bound, SearchRecord
    from packer.model.problem import Problem

SOON_FINISHED: Final = 100
"""Flaps up to which a packing is solved to its last digits in some hundredths of a second."""

FINISHING: Final = 2.0
"""Most seconds that this may take of more flaps, out of a limit of time; what is reached then is kept."""

FINISHING_SHARE: Final = 0.25
"""Most that it may take of the limit."""


def finishing_seconds(problem: Problem, deadline: Deadline) -> float:
    """Return what of a limit of time is kept for the last digits; zero where they take next to none of it."""
    if problem.tree.n_tips <= SOON_FINISHED or not deadline.limited:
        return 0.0
    return min(FINISHING, FINISHING_SHARE * deadline.total)


def finishing_until(seconds: float) -> Deadline:
    """Return the deadline of finishing that begins now, of what `finishing_seconds` keeps."""
    return Deadline.after(seconds) if seconds else NEVER


def finalised(
    problem: Problem,
    optimum: LocalOptimum,
    record: SearchRecord,
    bound: Bound | None = None,
    deadline: Deadline = NEVER,
) -> Packing:
    """Return the packing of a local optimum, with its certificate, slack and split rivers.

    Parameters
    ----------
    problem
        What was packed.
    optimum
        Where a local solve ended.
    record, bound
        How it was found, and what is proven about the best.
    deadline
        When the last digits are let be, and loose tips where they are.
    """
    program = compile_program(problem, optimum.choice)
    end = polish(program, optimum.z, optimum.change, deadline)
    points = name_sides(problem, program.tips(end.z))
    lengths = flexible(problem.tree).lengths(problem.tree.lengths, end.change)
    packing = Packing(
        problem,
        tuple((x, y) for x, y in points.tolist()),
        tuple(lengths.tolist()),
        stress=certify(problem, points, lengths),
        split_rivers=split_rivers(problem, points),
        bound=bound,
        search=record,
    )
    return place_loose(packing, deadline)
