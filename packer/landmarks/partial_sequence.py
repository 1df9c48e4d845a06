"""A sequence of creases on its way: its lines with every miss, its marks, and what it is worth."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from itertools import combinations
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.landmarks import alignments as fold
from packer.landmarks.creases import on_sheet
from packer.landmarks.mirror import mirror_step
from packer.landmarks.sequence import (
    Step,
    TipMark,
    crease_of,
    edges_of,
    spread,
    unit_misses,
)
from packer.units import POOR_CROSSING, SAME_LINE

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from packer.landmarks.sequence import Pair
    from packer.landmarks.targets import LandmarkTask, Target

HALF: Final = 0.45
"""What a first line through a tip is worth, where its mark is worth 1."""

OFF: Final = 0.1
"""What is taken off for a line or mark at the very end of the tolerance."""

UNSURE: Final = 0.04
"""What is taken off for each `hand` of expected error of a mark, up to `MOST_UNSURE`."""

MOST_UNSURE: Final = 0.5

AWKWARD: Final = {5: 0.02, 6: 0.08, 7: 0.03}
"""What is taken off for alignments that take more care than the others."""

LONGEST: Final = 80
"""Creases after which a search ends without a mark for every tip."""


@dataclass(frozen=True, eq=False)
class PartialSequence:
    """A sequence on its way.

    Attributes
    ----------
    steps
        Its creases in order.
    folded
        (lines, times, 3) the edges and creases, folded exactly and with each single miss.
    images
        The number of each line's mirror image.
    through
        For each target the lines that run through it and are sure enough there.
    marks
        Of the targets that have one, by number.
    worth
        What the creases do for the targets, less what is awkward or unsure.
    """

    steps: tuple[Step, ...]
    folded: NDArray[np.float64]
    images: tuple[int, ...]
    through: tuple[tuple[int, ...], ...]
    marks: Mapping[int, TipMark] = field(default_factory=dict)
    worth: float = 0.0

    @property
    def lines(self) -> NDArray[np.float64]:
        """(lines, 3) the edges and creases, folded exactly."""
        return self.folded[:, 0]


def begun(task: LandmarkTask) -> PartialSequence:
    """Return the bare sheet, with the marks that its edges make."""
    blank = np.repeat(
        edges_of(task.size)[:, None], len(unit_misses(LONGEST, task.size)), axis=1
    )
    images = (0, 1, 2, 3) if task.mirror is None else task.mirror.edges
    start = PartialSequence((), blank, images, ((),) * len(task.targets))
    return _with_marks(task, start, (0, 1, 2, 3))


def repeated(
    task: LandmarkTask, one: PartialSequence, steps: Sequence[Step]
) -> PartialSequence:
    """Return a sequence with the creases of another added; mirror images come by themselves."""
    number = {k: k for k in range(4)}
    for k, step in enumerate(steps):
        again = replace(
            step,
            points=tuple((number[a], number[b]) for a, b in step.points),
            lines=tuple(number[line] for line in step.lines),
            image=-1,
        )
        line = crease_of(again, one.folded[:, :1], task.size, np.zeros((1, 2)))
        known = np.abs(one.lines - line).max(axis=1)
        if known.min() > SAME_LINE:
            number[k + 4] = len(one.lines)
            one = added(task, one, again)
        else:
            number[k + 4] = int(known.argmin())
    return one


def added(task: LandmarkTask, one: PartialSequence, step: Step) -> PartialSequence:
    """Return a sequence with one more crease and its mirror image."""
    new = _with_crease(task, one, step)
    number, fresh = len(one.lines), [len(one.lines)]
    images = (*one.images, number)
    if task.mirror is not None:
        image = task.mirror.lines(new.lines[number][None])[0]
        if np.abs(image - new.lines[number]).max() > SAME_LINE:
            other = mirror_step(step, one.images, new.lines, image, task.size, number - 4)
            new = _with_crease(task, new, other)
            images = (*one.images, number + 1, number)
            fresh.append(number + 1)
    worth = one.worth - AWKWARD.get(step.alignment, 0.0)
    return _with_marks(task, replace(new, images=images, worth=worth), tuple(fresh))


def _with_crease(task: LandmarkTask, one: PartialSequence, step: Step) -> PartialSequence:
    misses = unit_misses(LONGEST, task.size)[:, len(one.steps)]
    line = crease_of(step, one.folded, task.size, misses)
    return replace(
        one, steps=(*one.steps, step), folded=np.concatenate([one.folded, line[None]])
    )


def _with_marks(
    task: LandmarkTask, one: PartialSequence, fresh: tuple[int, ...]
) -> PartialSequence:
    """Return a sequence with the marks and the worth that its newest lines bring."""
    marks, worth, through = dict(one.marks), one.worth, list(one.through)
    off = task.off(one.folded[list(fresh)])
    near = task.sure(off)
    for k in np.flatnonzero(near.any(axis=1)).tolist():
        if k in marks:
            continue
        target, before = task.targets[k], through[k]
        new = tuple(fresh[n] for n in np.flatnonzero(near[k]).tolist())
        through[k] = (*before, *new)
        pairs = [(a, b) for a, b in combinations(through[k], 2) if b in new]
        made = [m for pair in pairs if (m := _mark(task, one, pair, target)) is not None]
        if made:
            marks[k] = min(made, key=lambda m: m.distance**2 + m.error**2)
            worth += 1 - (HALF if before else 0.0) - _doubt(task, target, marks[k])
        elif not before:
            least = float(abs(off[k, near[k], 0]).min())
            worth += HALF * (1 - OFF * least / target.within)
    return replace(one, marks=marks, worth=worth, through=tuple(through))


def _doubt(task: LandmarkTask, target: Target, mark: TipMark) -> float:
    return OFF * mark.distance / target.within + min(
        MOST_UNSURE, UNSURE * mark.error / task.hand
    )


def _mark(
    task: LandmarkTask, one: PartialSequence, pair: Pair, target: Target
) -> TipMark | None:
    a, b = one.folded[pair[0]], one.folded[pair[1]]
    if abs(a[0, 0] * b[0, 1] - a[0, 1] * b[0, 0]) <= POOR_CROSSING:
        return None
    points = fold.crossing(a, b)
    miss = float(target.misses(points[:1])[0])
    if miss == np.inf or not on_sheet(points[:1], task.size)[0]:
        return None
    error = float(spread(points, task.size, task.hand))
    if task.mirror is not None:
        # a crease that is its own image is made from one side, and less sure on the other
        images = fold.crossing(*(one.folded[one.images[k]] for k in pair))
        error = max(error, float(spread(images, task.size, task.hand)))
    if error > task.most_error:
        return None
    x, y = points[0].tolist()
    return TipMark(pair, (x, y), miss, error)


def image_of_mark(one: PartialSequence, mark: TipMark, target: NDArray[np.float64]) -> TipMark:
    """Return the mirror image of a mark."""
    a, b = sorted(one.images[k] for k in mark.point)
    at = fold.crossing(one.lines[a], one.lines[b])
    x, y = at.tolist()
    return TipMark((a, b), (x, y), float(np.hypot(*(at - target))), mark.error)
