"""How many creases find all tips of a packing on the bare sheet, as a step of a longer piece of work."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from packer.deadline import NEVER, Deadline
from packer.landmarks.search import landmarks
from packer.limits import LANDMARK_SECONDS, MOST_FOLDED
from packer.units import HAND_MM, MARK_ERROR_MM, MARK_MM

if TYPE_CHECKING:
    from collections.abc import Callable

    from packer.model.packing import Packing
    from packer.planning.timed_searches import Course


@dataclass(frozen=True)
class LandmarkDemand:
    """What it takes to find all tips of a packing by folding.

    Parameters
    ----------
    steps
        Creases, a crease and its mirror image counted as one.
    creases
        Creases one by one.
    off_mm
        Farthest that a mark lies from its tip.
    error_mm
        Most that a mark made by hand is expected to miss.
    side_mm
        Longer side of the sheet.
    """

    steps: int
    creases: int
    off_mm: float
    error_mm: float
    side_mm: float


def landmark_demand(
    packing: Packing,
    side_mm: float,
    progress: Callable[[str], None] | None = None,
    deadline: Deadline = NEVER,
) -> LandmarkDemand | None:
    """Search for a short sequence of creases that marks all tips within `MARK_MM`.

    Parameters
    ----------
    packing
        Any packing.
    side_mm
        Longer side of the sheet to fold from, in mm.
    progress
        Called with a few words at every depth of the search.
    deadline
        When the search gives up.

    Returns
    -------
    LandmarkDemand or None
        None where there are more than `MOST_FOLDED` tips, or not all have a mark by the deadline (see `packer.landmarks.search.landmarks`). It is the
        shortest that the search came upon; a shorter one may exist.

    Raises
    ------
    KeyboardInterrupt
        Where the search was interrupted: half a sequence tells nothing of the demand.
    """
    if packing.tree.n_tips > MOST_FOLDED:
        return None
    sheet = packing.sheet
    mm = side_mm / max(sheet.width, sheet.height)
    tips = dict(zip(packing.tree.flaps, packing.tips, strict=True))
    made = landmarks(
        sheet,
        tips,
        MARK_MM / mm,
        hand=HAND_MM / mm,
        most_error=MARK_ERROR_MM / mm,
        progress=progress,
        deadline=deadline,
    )
    if not made.complete and not deadline.over:
        raise KeyboardInterrupt
    if made.unmarked:
        return None
    marks = made.tips.values()
    return LandmarkDemand(
        made.count,
        len(made.steps),
        max(mark.distance for mark in marks) * mm,
        max(mark.error for mark in marks) * mm,
        side_mm,
    )


def landmark_step(course: Course, side_mm: float) -> Callable[[Packing], LandmarkDemand | None]:
    """Return the step of a course that looks for the landmarks of a packing."""
    return lambda packing: landmark_demand(
        packing,
        side_mm,
        course.telling(lambda now: f"landmarks, {now}"),
        Deadline.after(LANDMARK_SECONDS),
    )
