"""The scale over the side ratio: a continuation method from sheet to sheet.

A packing of one sheet, stretched over a sheet of nearly the same shape, is a good start there, and
a local solve from it takes a hundredth of a search. So a short search is made at every ratio, and
each packing is then carried on to the ratios beside its own as long as it is better there. A curve
is an overview: the bounds beside it are the quick ones.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.deadline import NEVER, Deadline
from packer.errors import OptionError
from packer.model.problem import pose
from packer.model.sheet import Sheet
from packer.planning.comparison import Curve, Sweep
from packer.planning.timed_searches import Course
from packer.search.carry import carried
from packer.search.options import SearchOptions
from packer.search.stopping import MaxStarts, TimeLimit

if TYPE_CHECKING:
    from collections.abc import Sequence

    from packer.model.figure import Figure, Symmetry
    from packer.model.packing import Packing

UP_TO: Final = 5.0
"""Side ratio to which a sweep goes by default: longer sheets are ribbons."""

STEPS: Final = 17
"""Ratios looked at by default, evenly spaced in their logarithm."""

SWEEP_STARTS: Final = 1
"""Starts at each ratio where nothing is said: the neighbours' packings do the rest."""

RATIO_SECONDS: Final = 10.0
"""Most time for each ratio where nothing is said; small figures end far sooner."""

_BETTER: Final = 1e-9
"""Relative gain in scale from which a packing replaces another."""


def sweep(
    figure: Figure,
    symmetry: Symmetry | None = None,
    *,
    up_to: float = UP_TO,
    steps: int = STEPS,
    options: SearchOptions | None = None,
) -> Sweep:
    """Return the best scale found over the side ratio, from 1:1, at equal area.

    Parameters
    ----------
    figure
        The figure. Its sheet, if it has a unit, sets the area; else that is 1.
    symmetry
        "none" or "book"; the figure's own by default. Under book symmetry lying and standing
        sheets are swept.
    up_to
        The last ratio of the longer to the shorter side.
    steps
        How many ratios, both ends included.
    options
        Of the search at each ratio, with one time limit for all; by default `SWEEP_STARTS` starts,
        and at most `RATIO_SECONDS` for each ratio. Progress is told by a
        `packer.planning.timed_searches.StepProgress`.

    Raises
    ------
    OptionError
        Where a number is out of range or the symmetry is diagonal.
    """
    symmetry = symmetry or figure.symmetry
    if symmetry == "diagonal":
        raise OptionError("diagonal symmetry needs a square; choose book or none", "symmetry")
    if not (1 < up_to < math.inf):
        raise OptionError(f"{up_to:g} is no last ratio; write a number above 1", "up-to")
    if steps < 2:
        raise OptionError(f"{steps} is too few steps; write 2 or more", "steps")
    ratios = np.geomspace(1.0, up_to, steps).tolist()
    curves = []
    orientations = (False, True) if symmetry == "book" else (False,)
    todo = len(orientations) * (steps + 1)
    options = (options or SearchOptions()).or_stop(
        MaxStarts(SWEEP_STARTS), TimeLimit(RATIO_SECONDS * todo)
    )
    course = Course(options, todo, proof=0.0)
    for standing in orientations:
        problems = [
            pose(figure, sheet, symmetry) for sheet in _sheets(figure, ratios, standing)
        ]
        searched = (course.step(course.packing, problem) for problem in problems)
        packings = [packing for packing in searched if packing]
        direct = tuple(packing.scale for packing in packings)
        course.step(lambda packed: _spread(packed, course.part()), packings)
        if packings:
            span = tuple(ratios[: len(packings)])
            curves.append(Curve(standing, span, tuple(packings), direct))
    if not curves:
        raise KeyboardInterrupt
    return Sweep(figure.name, tuple(curves), options.seed, complete=not course.interrupted)


def _sheets(figure: Figure, ratios: Sequence[float], standing: bool) -> list[Sheet]:
    """Return sheets of the ratios and of the figure's area, lying or standing."""
    sized = figure.sheet if figure.sheet and figure.sheet.unit else Sheet()
    side = math.sqrt(sized.area)
    sides = [(side * ratio**0.5, side / ratio**0.5) for ratio in ratios]
    return [Sheet(*(pair[::-1] if standing else pair), sized.unit) for pair in sides]


def _spread(packings: list[Packing], deadline: Deadline = NEVER) -> None:
    """Carry every packing to the ratios beside its own, and on where it is better; changes the list."""
    todo = list(range(len(packings)))
    while todo and not deadline.over:
        k = todo.pop()
        for other in (k - 1, k + 1):
            if not 0 <= other < len(packings):
                continue
            there = carried(packings[other].problem, packings[k], deadline)
            if there and _better(there, packings[other]):
                packings[other] = there
                todo.append(other)


def _better(one: Packing, other: Packing) -> bool:
    """Whether a packing is larger, or has fewer split rivers where whole ones are wished for."""
    if one.problem.figure.whole_rivers and len(one.split_rivers) != len(other.split_rivers):
        return len(one.split_rivers) < len(other.split_rivers)
    return one.scale > other.scale * (1 + _BETTER)
