"""A fold guide: everything from the bare sheet to the base and its pleats, as values to draw and to write."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.deadline import NEVER
from packer.errors import PatternError
from packer.folded.difficulty import together
from packer.folded.form import fold
from packer.folded.halving import halved_pattern
from packer.folded.regions import polygons_of
from packer.folded.stages import stages
from packer.landmarks.division import grid_landmarks
from packer.landmarks.pleating import pleated_base
from packer.landmarks.precrease import precreasing
from packer.landmarks.search import landmarks
from packer.limits import MOST_GUIDED
from packer.units import HAND_MM, MARK_ERROR_MM

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from packer.creases.pattern import CreasePattern
    from packer.deadline import Deadline
    from packer.folded.halving import HalvedPattern
    from packer.folded.layers import FlatBase
    from packer.folded.pleats import PleatCrease
    from packer.folded.stages import Stage
    from packer.landmarks.pleating import PartPleats
    from packer.landmarks.precrease import Precrease
    from packer.landmarks.sequence import Landmarks

SHORTEST_MM: Final = 4.0
"""Length of a crease below which nobody measures its ends: it is left to the collapse."""

MOST_CREASES: Final = 400
"""Straight creases above which a guide tells landmarks and levels in words, with the print for
the rest: beyond it a page of 180 mm no longer tells creases apart (half a millimetre each)."""


@dataclass(frozen=True, eq=False)
class FoldGuide:
    """The way from a bare sheet to a base.

    Attributes
    ----------
    base
        The pattern folded flat, with its layer order where one is known.
    mm
        Millimetres for one unit of the sheet.
    within
        How far a mark may lie from its tip, in mm.
    landmarks
        The sequence that finds the tips.
    on_grid
        Whether the landmarks divide the sheet into a grid.
    precreases
        How each straight crease comes about.
    stages
        The stages of the collapse.
    before
        How many creases come together at once without stages.
    pleats
        The pleated parts, whose folds are made after the base.
    """

    base: FlatBase
    mm: float
    within: float
    landmarks: Landmarks
    on_grid: bool
    precreases: tuple[Precrease, ...]
    stages: tuple[Stage, ...]
    before: int
    pleats: tuple[PartPleats, ...] = ()

    @property
    def pattern(self) -> CreasePattern:
        """The creases."""
        return self.base.pattern

    @cached_property
    def halved(self) -> HalvedPattern:
        """The pattern that the stages fold, with the lines that polygons are halved along."""
        return halved_pattern(self.pattern, polygons_of(self.pattern))

    @cached_property
    def levels(self) -> tuple[tuple[int, ...], ...]:
        """The numbers of the creases of each level of pre-creasing, edges and the rest left out."""
        rows: dict[int, list[int]] = {}
        for number, one in enumerate(self.precreases):
            if one.how in {"folded", "measured"}:
                rows.setdefault(one.level, []).append(number)
        return tuple(tuple(rows[level]) for level in sorted(rows))

    @property
    def collapse(self) -> tuple[int, ...]:
        """The numbers of the creases that can only come in the collapse."""
        return tuple(k for k, one in enumerate(self.precreases) if one.how == "collapse")

    @property
    def brief(self) -> bool:
        """Whether there are too many creases for a picture of each level."""
        folded = sum(map(len, self.levels)) + len(self.collapse)
        return folded > MOST_CREASES

    @property
    def most_together(self) -> int:
        """How many creases come together at once, at most, when folded in stages."""
        return max(stage.together for stage in self.stages)


def fold_guide(
    base: FlatBase,
    mm: float,
    within: float,
    most_error: float = MARK_ERROR_MM,
    *,
    pleats: Sequence[PleatCrease] = (),
    progress: Callable[[str], None] | None = None,
    deadline: Deadline = NEVER,
) -> FoldGuide:
    """Return the guide of a crease pattern.

    At the deadline, as after a KeyboardInterrupt while landmarks are looked for, tips that have no mark
    until then are left without one.

    Parameters
    ----------
    base
        A folded pattern, with its layer order where one is known.
    mm
        Millimetres for one unit of its sheet.
    within
        How far a mark may lie from its tip, in mm.
    most_error
        Most that a mark made by hand may be expected to miss, in mm.
    pleats
        The lines of the pleats that its parts get after the base.
    progress
        Called with a few words at every depth of the search and before every stage.
    deadline
        When the search for landmarks ends.

    Raises
    ------
    PatternError
        Where the creases are more than `packer.limits.MOST_GUIDED`, and on no grid.
    """
    hand, pattern = HAND_MM / mm, base.pattern
    made = grid_landmarks(pattern, hand)
    on_grid = made is not None
    if made is None:
        if pattern.creases > MOST_GUIDED:
            raise PatternError(
                f"{pattern.creases} creases on no grid are more than the {MOST_GUIDED} that a guide is "
                "written of; print them with packer print, or lay the figure on a grid, with packer grid"
            )
        tips = {name: _point(pattern, vertex) for name, vertex in pattern.tips.items()}
        made = landmarks(
            pattern.sheet,
            tips,
            within / mm,
            hand=hand,
            most_error=most_error / mm,
            progress=progress,
            deadline=deadline,
        )
    order = precreasing(
        pattern, SHORTEST_MM / mm, range(len(pattern.points)) if on_grid else ()
    )
    steps = stages(pattern, base.order, progress)
    form = fold(pattern)
    return FoldGuide(
        base,
        mm,
        within,
        made,
        on_grid,
        order,
        steps,
        together(pattern, form),
        pleated_base(pattern, form, pleats),
    )


def _point(pattern: CreasePattern, vertex: int) -> tuple[float, float]:
    x, y = pattern.points[vertex].tolist()
    return x, y


def checks(guide: FoldGuide, most: int = 4) -> list[tuple[str, str, float, int]]:
    """Return distances to measure once all tips are marked: two tips, mm, the step to go back to.

    The longest sides of polygons of active paths, since a wrong mark shows most there; the step is
    the later of the two that made the tips' marks, 1 for the first.
    """
    made = guide.landmarks
    positions = {name: guide.pattern.points[v] for name, v in guide.pattern.tips.items()}
    names = {v: name for name, v in guide.pattern.tips.items()}
    rows = []
    for one in guide.precreases:
        ends = [v for v in one.crease.vertices if v in names]
        if one.crease.role == "axial" and len(ends) >= 2:
            a, b = names[ends[0]], names[ends[-1]]
            if not {a, b} <= set(made.tips):
                continue
            step = max(*made.tips[a].point, *made.tips[b].point) - 3
            rows.append(
                (a, b, float(np.hypot(*(positions[a] - positions[b]))) * guide.mm, max(step, 1))
            )
    rows.sort(key=lambda row: -row[2])
    kept: list[tuple[str, str, float, int]] = []
    seen: set[str] = set()
    for row in rows:
        if not {row[0], row[1]} <= seen:
            kept.append(row)
            seen |= {row[0], row[1]}
    return kept[:most]
