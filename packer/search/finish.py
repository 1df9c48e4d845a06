"""From a spot that a search found to a packing: to the last digits, judged, loose tips placed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from packer.packing import Packing
from packer.search.certificate import certify
from packer.search.flex import flexible
from packer.search.interior import polish
from packer.search.loose import place_loose
from packer.search.program import compile_program
from packer.search.twins import name_sides
from packer.search.wholeness import split_rivers

if TYPE_CHECKING:
    from packer.packing import Bound, SearchRecord
    from packer.problem import Problem
    from packer.search.climbing import Spot


def finished(
    problem: Problem, spot: Spot, record: SearchRecord, bound: Bound | None = None
) -> Packing:
    """Return the packing of a spot, with its certificate, slack and split rivers.

    Parameters
    ----------
    problem
        What was packed.
    spot
        A local optimum.
    record, bound
        How it was found, and what is proven about the best.
    """
    program = compile_program(problem, spot.choice)
    end = polish(program, spot.z, spot.change)
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
    return place_loose(packing)
