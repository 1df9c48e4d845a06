"""One sequence of creases that makes a mark for every tip: a beam search over sequences.

Each depth of the search adds one crease (with its mirror image, where the tips are mirrored) to
the best sequences known. A crease is worth what it does for the tips: two lines that cross at a
tip make its mark, so the first line that runs through a tip counts nearly half.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.landmarks import alignments as fold
from packer.landmarks.creases import SHAPES, Marks, all_ways, marks_of, on_sheet, once
from packer.landmarks.mirror import SheetMirror, mirror_step
from packer.landmarks.sequence import (
    Landmarks,
    Step,
    TipMark,
    crease_of,
    edges_of,
    settled_points,
    size_of,
    spread,
    unit_misses,
)
from packer.landmarks.targets import LandmarkTask, Target, lines_under
from packer.units import OVERLAP, POOR_CROSSING, SAME_LINE

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from packer.landmarks.creases import Choices
    from packer.landmarks.sequence import Pair
    from packer.model.sheet import Point, Sheet

WIDE, BEAM, BRANCHES = 60, 12, 10
"""Sequences kept at the first two depths, which do nothing for the tips yet, and at the others;
and how many next creases of each are tried."""

LEAST_BEAM: Final = 3

EFFORT: Final = 320
"""Sequences kept times targets: up to 26 targets the whole beam. At 180 the brittle star's 26 targets
got a mark of 16 mm of expected error, with the whole beam 1.9 mm, in 14 and 22 CPU s. With 19 targets a beam of 5 in place
of 12 took a third of the time for one step in eleven more."""

HALF: Final = 0.45
"""What a first line through a tip is worth, where its mark is worth 1."""

OFF: Final = 0.1
"""What is taken off for a line or mark at the very end of the tolerance."""

UNSURE: Final = 0.04
"""What is taken off for each `hand` of expected error of a mark, up to `MOST_UNSURE`."""

MOST_UNSURE: Final = 0.5

AWKWARD: Final = {5: 0.02, 6: 0.08, 7: 0.03}
"""What is taken off for alignments that take more care than the others."""

MOST_POINTS: Final = 40
"""Marks, the surest, from which further creases are made."""

FEW: Final = 6
"""Lines up to which the sixth alignment is tried: the number of its ways grows as a fourth power."""

LONGEST: Final = 80
"""Creases after which a search ends without a mark for every tip."""


@dataclass(frozen=True, eq=False)
class _Try:
    """A sequence on its way: its lines folded exactly and with each single miss."""

    steps: tuple[Step, ...]
    folded: NDArray[np.float64]
    images: tuple[int, ...]
    marks: Mapping[int, TipMark] = field(default_factory=dict)
    worth: float = 0.0

    @property
    def lines(self) -> NDArray[np.float64]:
        return self.folded[:, 0]


def landmarks(
    sheet: Sheet,
    tips: Mapping[str, Point],
    within: float | Mapping[str, float],
    *,
    hand: float,
    progress: Callable[[str], None] | None = None,
) -> Landmarks | None:
    """Find a short sequence of creases that makes a mark for every tip.

    Parameters
    ----------
    sheet
        The paper, square or any rectangle.
    tips
        Where marks are wanted, by name, in sheet units.
    within
        How far a mark may lie from its tip, in sheet units, for all tips or for each by name. The
        mark of a tip on an edge or on the line of symmetry lies there too.
    hand
        Standard deviation of each miss of an alignment by hand, in sheet units: `HAND_MM` of
        `packer.units` on the sheet in true size.
    progress
        Called with a few words at every depth.

    Returns
    -------
    Landmarks or None
        None where no sequence of up to `LONGEST` creases was found. The same input gives the
        same sequence.
    """
    names = list(tips)
    points = np.array([tips[name] for name in names], dtype=float).reshape(-1, 2)
    size = size_of(sheet)
    mirror = SheetMirror.of(size, points)
    own = np.arange(len(points)) if mirror is None else np.unique(mirror.first)
    reach = {name: within[name] if isinstance(within, Mapping) else within for name in names}
    targets = tuple(
        Target(points[k], reach[names[k]], lines_under(points[k], size, mirror)) for k in own
    )
    task = LandmarkTask(size, targets, hand, mirror)
    best = _searched(task, progress)
    if best is None:
        return None
    marks = {names[int(own[k])]: mark for k, mark in best.marks.items()}
    if mirror is not None:
        for k, first in enumerate(mirror.first.tolist()):
            if first != k:
                marks[names[k]] = _image(best, marks[names[first]], points[k])
    ordered = {name: marks[name] for name in names}
    return _needed(
        settled_points(
            Landmarks(
                sheet, best.steps, ordered, task.hand, None if mirror is None else mirror.axis
            )
        )
    )


def _searched(task: LandmarkTask, progress: Callable[[str], None] | None) -> _Try | None:
    blank = np.repeat(
        edges_of(task.size)[:, None], len(unit_misses(LONGEST, task.size)), axis=1
    )
    images = (0, 1, 2, 3) if task.mirror is None else task.mirror.edges
    start = _Try((), blank, images)
    beam = [_with_marks(task, start, (0, 1, 2, 3))]
    for depth in range(LONGEST):
        done = [one for one in beam if len(one.marks) == len(task.targets)]
        if done:
            return min(done, key=_miss)
        if progress is not None:
            most = max(len(one.marks) for one in beam)
            progress(f"{depth} creases, {most} of {len(task.targets)} tips")
        following = [new for one in beam for new in _next(task, one)]
        beam = _best(following, WIDE if depth < 2 else _width(task))
        if not beam:
            return None
    return None


def _width(task: LandmarkTask) -> int:
    """Return how many sequences are kept: fewer where many tips make each long."""
    return max(LEAST_BEAM, min(BEAM, EFFORT // max(len(task.targets), 1)))


def _miss(one: _Try) -> float:
    """Return the root mean square of what the marks are expected to miss their tips by."""
    return float(sum(m.distance**2 + m.error**2 for m in one.marks.values()))


def _best(tries: list[_Try], most: int) -> list[_Try]:
    """Return the most worthy, of sequences with the same lines one."""
    kept: dict[tuple[float, ...], _Try] = {}
    for one in sorted(tries, key=lambda one: -one.worth):
        key = tuple(np.sort(np.round(one.lines @ np.array([1.0, 1.618034, 2.414214]), 6)))
        kept.setdefault(key, one)
        if len(kept) == most:
            break
    return list(kept.values())


def _next(task: LandmarkTask, one: _Try) -> list[_Try]:
    if len(one.steps) + 2 > LONGEST:
        return []
    marks = _surest(task, one, marks_of(one.lines, task.size))
    kinds = [k for k in SHAPES if k != 6 or len(one.lines) <= FEW]
    choices = all_ways(one.lines, marks.points, task.size, kinds)
    gains = _gains(task, one, choices)
    some = np.argsort(-gains, kind="stable")[: 8 * BRANCHES]
    few = once(one.lines, _long(task, choices.only(some)), task.size)
    most = 2 * BRANCHES if one.steps else len(few.lines)
    rows = range(min(len(few.lines), most))
    made = [_added(task, one, few.step(row, marks.pairs)) for row in rows]
    return sorted(made, key=lambda new: -new.worth)[: WIDE if len(one.steps) < 2 else BRANCHES]


def _long(task: LandmarkTask, choices: Choices) -> Choices:
    a, b = fold.chord(choices.lines, task.size)
    with np.errstate(invalid="ignore"):
        return choices.only(np.flatnonzero(np.hypot(*(b - a).T) > OVERLAP * min(task.size)))


def _surest(task: LandmarkTask, one: _Try, marks: Marks) -> Marks:
    if len(marks.points) <= MOST_POINTS:
        return marks
    i, j = marks.pairs.T
    errors = spread(fold.crossing(one.folded[i], one.folded[j]), task.size, task.hand)
    rows = np.sort(np.argsort(errors, kind="stable")[:MOST_POINTS])
    return Marks(marks.points[rows], marks.pairs[rows])


def _gains(task: LandmarkTask, one: _Try, choices: Choices) -> NDArray[np.float64]:
    """Return what each crease is worth to the tips that have no mark yet."""
    both = [choices.lines]
    if task.mirror is not None:
        both.append(task.mirror.lines(choices.lines))
    gains = -np.array([AWKWARD.get(k, 0.0) for k in range(8)])[choices.made[:, 0]]
    for k, target in enumerate(task.targets):
        if k in one.marks:
            continue
        there = one.lines[target.near(one.lines)]
        gain = np.zeros(len(choices.lines))
        for rows, images in zip(both, both[::-1], strict=True):
            near = np.flatnonzero(target.near(rows))
            others = [line[None] for line in there] + [images[near]] * (len(both) - 1)
            made = _gain(rows[near], others, target)
            gain[near] = np.maximum(gain[near], made)
        gains += np.maximum(gain - HALF, 0.0) if len(there) else gain
    return np.where(np.isfinite(gains), gains, -np.inf)


def _gain(
    rows: NDArray[np.float64], others: list[NDArray[np.float64]], target: Target
) -> NDArray[np.float64]:
    """Return what lines through a target are worth beside each of the others."""
    gain = HALF * (1 - OFF * abs(target.off(rows)) / target.within)
    for other in others:
        miss = _miss_of(rows, other, target) / target.within
        gain = np.maximum(gain, np.where(miss <= 1, 1 - OFF * miss, 0.0))
    return gain


def _miss_of(
    rows: NDArray[np.float64], other: NDArray[np.float64], target: Target
) -> NDArray[np.float64]:
    """Return how far from a target lines cross; infinite where they make no mark for it."""
    turn = abs(rows[:, 0] * other[:, 1] - rows[:, 1] * other[:, 0])
    miss = target.misses(fold.crossing(rows, other))
    return np.where(turn > POOR_CROSSING, miss, np.inf)


def _added(task: LandmarkTask, one: _Try, step: Step) -> _Try:
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


def _with_crease(task: LandmarkTask, one: _Try, step: Step) -> _Try:
    misses = unit_misses(LONGEST, task.size)[:, len(one.steps)]
    line = crease_of(step, one.folded, task.size, misses)
    return replace(
        one, steps=(*one.steps, step), folded=np.concatenate([one.folded, line[None]])
    )


def _with_marks(task: LandmarkTask, one: _Try, fresh: tuple[int, ...]) -> _Try:
    """Return a sequence with the marks and the worth that its newest lines bring."""
    marks, worth = dict(one.marks), one.worth
    for k, target in enumerate(task.targets):
        if k in marks:
            continue
        numbers = np.flatnonzero(target.near(one.lines)).tolist()
        before = any(n not in fresh for n in numbers)
        pairs = [(a, b) for a in numbers for b in numbers if a < b and {a, b} & set(fresh)]
        made = [m for pair in pairs if (m := _mark(task, one, pair, target)) is not None]
        if made:
            marks[k] = min(made, key=lambda m: m.distance**2 + m.error**2)
            worth += 1 - (HALF if before else 0.0) - _doubt(task, target, marks[k])
        elif numbers and not before:
            off = float(abs(target.off(one.lines[numbers])).min())
            worth += HALF * (1 - OFF * off / target.within)
    return replace(one, marks=marks, worth=worth)


def _doubt(task: LandmarkTask, target: Target, mark: TipMark) -> float:
    return OFF * mark.distance / target.within + min(
        MOST_UNSURE, UNSURE * mark.error / task.hand
    )


def _mark(task: LandmarkTask, one: _Try, pair: Pair, target: Target) -> TipMark | None:
    a, b = one.folded[pair[0]], one.folded[pair[1]]
    if abs(a[0, 0] * b[0, 1] - a[0, 1] * b[0, 0]) <= POOR_CROSSING:
        return None
    points = fold.crossing(a, b)
    miss = float(target.misses(points[:1])[0])
    if miss == np.inf or not on_sheet(points[:1], task.size)[0]:
        return None
    x, y = points[0].tolist()
    return TipMark(pair, (x, y), miss, float(spread(points, task.size, task.hand)))


def _image(one: _Try, mark: TipMark, target: NDArray[np.float64]) -> TipMark:
    """Return the mirror image of a mark."""
    a, b = sorted(one.images[k] for k in mark.point)
    at = fold.crossing(one.lines[a], one.lines[b])
    x, y = at.tolist()
    return TipMark((a, b), (x, y), float(np.hypot(*(at - target))), mark.error)


def _needed(made: Landmarks) -> Landmarks:
    """Return landmarks without the creases that no mark rests on."""
    wanted = {k for mark in made.tips.values() for k in mark.point if k >= 4}
    todo = list(wanted)
    while todo:
        rests = {k for k in made.steps[todo.pop() - 4].rests_on if k >= 4} - wanted
        wanted |= rests
        todo += rests
    order = sorted(wanted)
    number = {k: k for k in range(4)} | {k: 4 + n for n, k in enumerate(order)}

    def pair(old: Pair) -> Pair:
        a, b = sorted(number[k] for k in old)
        return a, b

    steps = tuple(
        replace(
            step,
            points=tuple(map(pair, step.points)),
            lines=tuple(number[k] for k in step.lines),
            image=number[step.image + 4] - 4
            if step.image + 4 in number and step.image >= 0
            else -1,
        )
        for step in (made.steps[k - 4] for k in order)
    )
    tips = {name: replace(mark, point=pair(mark.point)) for name, mark in made.tips.items()}
    return replace(made, steps=steps, tips=tips)
