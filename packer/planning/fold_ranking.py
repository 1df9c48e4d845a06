"""How hard a packing is to fold: its creases settled, folded and measured."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from packer.creases.settling.settle import settle
from packer.deadline import NEVER
from packer.errors import FigureError, PatternError
from packer.folded.difficulty import difficulty
from packer.folded.form import fold
from packer.planning.ranking import FoldingDemand

if TYPE_CHECKING:
    from collections.abc import Callable

    from packer.creases.settling.settle import SettlingProgress
    from packer.deadline import Deadline
    from packer.model.packing import Packing
    from packer.planning.timed_searches import Course

SETTLING: Final = 10
"""Trials by which a packing is settled in order to be measured."""


def folding_step(course: Course, tries: int) -> Callable[[Packing], FoldingDemand | None]:
    """Return the step of a course that creases a packing and measures it.

    It gives None where no pattern closes, or there are more flaps than can be creased.
    """

    def work(packing: Packing) -> FoldingDemand | None:
        try:
            measured, complete = folding(
                packing,
                tries,
                seed=course.options.seed,
                deadline=course.part(),
                progress=course.telling(lambda now: f"creases, try {now.tries}"),
            )
        except (FigureError, PatternError):  # the columns stay empty
            return None
        course.end_unless(complete)
        return measured

    return work


def folding(
    packing: Packing,
    tries: int = SETTLING,
    *,
    seed: int = 0,
    deadline: Deadline = NEVER,
    progress: Callable[[SettlingProgress], None] | None = None,
) -> tuple[FoldingDemand, bool]:
    """Crease a packing and say how hard it is to fold.

    No layer order is looked for, so mountains and valleys stay open. Tries are counted: the same
    seed gives the same answer, unless the deadline comes first.

    Parameters
    ----------
    packing
        Any packing that holds.
    tries, seed, deadline, progress
        As of `packer.creases.settling.settle.settle`.

    Returns
    -------
    FoldingDemand, bool
        What was measured, and whether settling ran to its end; after a KeyboardInterrupt the
        best until then is measured.

    Raises
    ------
    PatternError
        Where no pattern was found.
    """
    settled = settle(packing, deadline=deadline, tries=tries, seed=seed, progress=progress)
    pattern = settled.pattern
    measured = difficulty(pattern, fold(pattern))
    given = max(0.0, settled.given)  # what was asked may come out a rounding longer
    return FoldingDemand(given, len(pattern.fillers), measured), settled.complete
