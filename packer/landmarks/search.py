"""One sequence of creases that makes a mark for every tip: a beam search over sequences.

Each depth of the search adds one crease (with its mirror image, where the tips are mirrored) to
the best sequences known. A crease is worth what it does for the tips: two lines that cross at a
tip make its mark, so the first line that runs through a tip counts nearly half.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from itertools import combinations
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
    needed,
    settled_points,
    size_of,
    spread,
    unit_misses,
)
from packer.landmarks.targets import LandmarkTask, Target, lines_under
from packer.units import OVERLAP, POOR_CROSSING, SAME_LINE

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

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

MOST_TRIED: Final = 5
"""Times `BRANCHES` creases are tried at most where few of them do anything for a tip."""

FEW: Final = 6
"""Lines up to which the sixth alignment is tried: the number of its ways grows as a fourth power."""

LONGEST: Final = 80
"""Creases after which a search ends without a mark for every tip."""

STALE: Final = 6
"""Creases in a row that bring no sequence anything, after which a search ends."""


@dataclass(frozen=True, eq=False)
class _Try:
    """A sequence on its way: its lines folded exactly and with each single miss.

    `through` holds for each target the lines that run through it and are sure enough there.
    """

    steps: tuple[Step, ...]
    folded: NDArray[np.float64]
    images: tuple[int, ...]
    through: tuple[tuple[int, ...], ...]
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
    most_error: float = np.inf,
    begin: Sequence[Step] = (),
    enough: int | None = None,
    progress: Callable[[str], None] | None = None,
) -> Landmarks:
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
    most_error
        Most that a mark made by hand may be expected to miss, in sheet units.
    begin
        Creases to begin with, as of other landmarks on the same sheet.
    enough
        How many tips with a mark, a tip and its mirror image counted as one, end the search; by
        default all.
    progress
        Called with a few words at every depth.

    Returns
    -------
    Landmarks
        Tips for which no such mark was found in up to `LONGEST` creases are among its `unmarked`.
        The same input gives the same sequence.
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
    task = LandmarkTask(size, targets, hand, most_error, mirror)
    best = _searched(task, begin, enough, progress)
    marks = {names[int(own[k])]: mark for k, mark in best.marks.items()}
    if mirror is not None:
        for k, first in enumerate(mirror.first.tolist()):
            if first != k and names[first] in marks:
                marks[names[k]] = _image(best, marks[names[first]], points[k])
    ordered = {name: marks[name] for name in names if name in marks}
    unmarked = {name: tips[name] for name in names if name not in marks}
    axis = None if mirror is None else mirror.axis
    return needed(
        settled_points(Landmarks(sheet, best.steps, ordered, task.hand, axis, unmarked))
    )


def _searched(
    task: LandmarkTask,
    begin: Sequence[Step],
    enough: int | None,
    progress: Callable[[str], None] | None,
) -> _Try:
    blank = np.repeat(
        edges_of(task.size)[:, None], len(unit_misses(LONGEST, task.size)), axis=1
    )
    images = (0, 1, 2, 3) if task.mirror is None else task.mirror.edges
    start = _Try((), blank, images, ((),) * len(task.targets))
    beam = [_repeated(task, _with_marks(task, start, (0, 1, 2, 3)), begin)]
    best, since = beam[0], 0
    most = len(task.targets)
    wanted = most if enough is None else min(enough, most)
    for depth in range(len(begin), LONGEST):
        done = [one for one in beam if len(one.marks) >= wanted]
        if done:
            return min(done, key=_miss)
        if progress is not None:
            made = max(len(one.marks) for one in beam)
            progress(f"{depth} creases, {made} of {most} tips")
        following = [new for one in beam for new in _next(task, one)]
        beam = _best(following, WIDE if depth < 2 else _width(task))
        since = 0 if any(_brings(one) > _brings(best) for one in beam) else since + 1
        best = max([best, *beam], key=_brings)
        if not beam or since == STALE:
            break
    return best


def _repeated(task: LandmarkTask, one: _Try, steps: Sequence[Step]) -> _Try:
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
            one = _added(task, one, again)
        else:
            number[k + 4] = int(known.argmin())
    return one


def _brings(one: _Try) -> tuple[int, int]:
    """Return how many targets have a mark, and how many at least a line."""
    return len(one.marks), sum(map(bool, one.through))


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
    most = MOST_TRIED * BRANCHES if one.steps else len(few.lines)
    made: list[_Try] = []
    for row in range(min(len(few.lines), most)):
        gained = sum(new.worth > one.worth for new in made)
        if one.steps and len(made) >= 2 * BRANCHES and gained >= BRANCHES:
            break
        made.append(_added(task, one, few.step(row, marks.pairs)))
    return sorted(made, key=lambda new: -new.worth)[: WIDE if len(one.steps) < 2 else BRANCHES]


def _long(task: LandmarkTask, choices: Choices) -> Choices:
    a, b = fold.chord(choices.lines, task.size)
    with np.errstate(invalid="ignore"):
        return choices.only(np.flatnonzero(np.hypot(*(b - a).T) > OVERLAP * min(task.size)))


def _surest(task: LandmarkTask, one: _Try, marks: Marks) -> Marks:
    i, j = marks.pairs.T
    errors = spread(fold.crossing(one.folded[i], one.folded[j]), task.size, task.hand)
    rows = np.argsort(errors, kind="stable")[:MOST_POINTS]
    rows = np.sort(rows[errors[rows] <= task.most_error])
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
        there = one.lines[list(one.through[k])]
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


def _mark(task: LandmarkTask, one: _Try, pair: Pair, target: Target) -> TipMark | None:
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


def _image(one: _Try, mark: TipMark, target: NDArray[np.float64]) -> TipMark:
    """Return the mirror image of a mark."""
    a, b = sorted(one.images[k] for k in mark.point)
    at = fold.crossing(one.lines[a], one.lines[b])
    x, y = at.tolist()
    return TipMark((a, b), (x, y), float(np.hypot(*(at - target))), mark.error)
