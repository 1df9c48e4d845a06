"""One sequence of creases that makes a mark for every tip: a beam search over sequences.

Each depth of the search adds one crease (with its mirror image, where the tips are mirrored) to
the best sequences known. A crease is worth what it does for the tips: two lines that cross at a
tip make its mark, so the first line that runs through a tip counts nearly half.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.deadline import NEVER, Deadline, OutOfTime
from packer.landmarks import alignments as fold
from packer.landmarks.creases import SHAPES, Marks, all_ways, marks_of, once
from packer.landmarks.mirror import SheetMirror
from packer.landmarks.partial_sequence import (
    AWKWARD,
    HALF,
    LONGEST,
    OFF,
    PartialSequence,
    added,
    begun,
    image_of_mark,
    repeated,
)
from packer.landmarks.sequence import (
    Landmarks,
    needed,
    settled_points,
    size_of,
    spread,
)
from packer.landmarks.targets import LandmarkTask, Target, lines_under
from packer.units import OVERLAP, POOR_CROSSING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from numpy.typing import NDArray

    from packer.landmarks.creases import Choices
    from packer.landmarks.sequence import Step
    from packer.model.sheet import Point, Sheet

WIDE, BEAM, BRANCHES = 60, 12, 10
"""Sequences kept at the first two depths, which do nothing for the tips yet, and at the others;
and how many next creases of each are tried."""

LEAST_BEAM: Final = 3

EFFORT: Final = 320
"""Sequences kept times targets: up to 26 targets the whole beam. At 180 the brittle star's 26 targets
got a mark of 16 mm of expected error, with the whole beam 1.9 mm, in 14 and 22 CPU s. With 19 targets a beam of 5 in place
of 12 took a third of the time for one step in eleven more."""

MOST_POINTS: Final = 40
"""Marks, the surest, from which further creases are made."""

MOST_TRIED: Final = 5
"""Times `BRANCHES` creases are tried at most where few of them do anything for a tip."""

FEW: Final = 6
"""Lines up to which the sixth alignment is tried: the number of its ways grows as a fourth power."""

STALE: Final = 6
"""Creases in a row that bring no sequence anything, after which a search ends."""

NOTHING: Final = 4
"""The same where no line runs through any tip yet."""

ALONE_BEAM, ALONE_STALE = 60, 10
"""The same for a tip that the search for all of them found no mark for. Of 30 random tips searched
alone 5 stayed without a mark with 12 and 6, 1 of these with 40 and 10 or 60 and 6, none with 60 and
10, in 2.7 CPU s each."""


@dataclass(frozen=True)
class KnownStart:
    """Where a search for landmarks begins, and what is enough.

    Parameters
    ----------
    steps
        Creases to begin with, as of other landmarks on the same sheet.
    enough
        How many tips with a mark, a tip and its mirror image counted as one, end the search; all
        where it is None.
    """

    steps: Sequence[Step] = ()
    enough: int | None = None


def landmarks(
    sheet: Sheet,
    tips: Mapping[str, Point],
    within: float | Mapping[str, float],
    *,
    hand: float,
    most_error: float = np.inf,
    known: KnownStart = KnownStart(),
    deadline: Deadline = NEVER,
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
    known
        Where the search begins and what is enough; by default the bare sheet, and all tips.
    deadline
        When the search ends with the best until then.
    progress
        Called with a few words at every depth.

    Returns
    -------
    Landmarks
        Tips for which no such mark was found in up to `LONGEST` creases are among its `unmarked`.
        The same input gives the same sequence, where the deadline does not come. After a
        KeyboardInterrupt the best until then.
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
    best, complete = _searched(task, known, deadline, progress)
    marks = {names[int(own[k])]: mark for k, mark in best.marks.items()}
    if mirror is not None:
        for k, first in enumerate(mirror.first.tolist()):
            if first != k and names[first] in marks:
                marks[names[k]] = image_of_mark(best, marks[names[first]], points[k])
    ordered = {name: marks[name] for name in names if name in marks}
    unmarked = {name: tips[name] for name in names if name not in marks}
    axis = None if mirror is None else mirror.axis
    made = Landmarks(sheet, best.steps, ordered, task.hand, axis, unmarked, complete)
    return needed(settled_points(made))


def _searched(
    task: LandmarkTask,
    known: KnownStart,
    deadline: Deadline,
    progress: Callable[[str], None] | None,
) -> tuple[PartialSequence, bool]:
    """Return a sequence for all targets, or enough of them, and for what it leaves one each.

    Also whether the search came to its end.
    """
    most = len(task.targets)
    wanted = most if known.enough is None else min(known.enough, most)
    kept = max(LEAST_BEAM, min(BEAM, EFFORT // max(most, 1)))
    tell = progress or (lambda _: None)
    best = repeated(task, begun(task), known.steps)
    try:
        for best in _in_beam(  # noqa: B007 - the best so far is what an early end leaves
            task,
            known.steps,
            _Beam(kept, STALE, wanted),
            deadline,
            lambda depth, made: tell(f"{depth} creases, {made} of {most} tips"),
        ):
            pass
        for k in range(most):
            if len(best.marks) >= wanted:
                break
            if k not in best.marks and len(best.steps) < LONGEST:
                so_far = f"{len(best.marks)} of {most} tips"
                best = _with_one_more(task, best, k, deadline, _for_one_more(tell, so_far))
    except (OutOfTime, KeyboardInterrupt):
        return best, False
    return best, True


def _for_one_more(tell: Callable[[str], None], so_far: str) -> Callable[[int, int], None]:
    return lambda depth, _: tell(f"{so_far}, {depth} creases for one more")


def _with_one_more(
    task: LandmarkTask,
    best: PartialSequence,
    number: int,
    deadline: Deadline,
    tell: Callable[[int, int], None],
) -> PartialSequence:
    """Return a sequence with what makes the mark of one more target, if it was found.

    It goes on from the lines that are there or, where that leads to none, is a sequence of its own.
    """
    alone = replace(task, targets=(task.targets[number],))
    for begin, width in (
        (best.steps, _Beam(BEAM, STALE, 1)),
        ((), _Beam(ALONE_BEAM, ALONE_STALE, 1)),
    ):
        *_, one = _in_beam(alone, begin, width, deadline, tell)
        if one.marks and len(best.steps) + len(one.steps) - len(begin) <= LONGEST:
            return max(best, repeated(task, best, one.steps), key=_brings)
    return best


@dataclass(frozen=True)
class _Beam:
    """How many sequences are kept, for how many creases that bring nothing, until so many marks."""

    kept: int
    stale: int
    wanted: int


def _in_beam(
    task: LandmarkTask,
    begin: Sequence[Step],
    width: _Beam,
    deadline: Deadline,
    tell: Callable[[int, int], None],
) -> Iterator[PartialSequence]:
    """Yield the best sequence until then after each crease; the last is the best of all.

    Raises
    ------
    OutOfTime
        At the deadline.
    """
    beam = [repeated(task, begun(task), begin)]
    best, since = beam[0], 0
    yield best
    for depth in range(len(begin), LONGEST):
        done = [one for one in beam if len(one.marks) >= width.wanted]
        if done:
            yield min(done, key=_miss)
            return
        tell(depth, max(len(one.marks) for one in beam))
        following: list[PartialSequence] = []
        for one in beam:
            deadline.check()
            following += _next(task, one)
        beam = _best(following, WIDE if depth < 2 else width.kept)
        since = 0 if any(_brings(one) > _brings(best) for one in beam) else since + 1
        best = max([best, *beam], key=_brings)
        yield best
        if not beam or since == (width.stale if any(best.through) else NOTHING):
            return


def _brings(one: PartialSequence) -> tuple[int, int]:
    """Return how many targets have a mark, and how many at least a line."""
    return len(one.marks), sum(map(bool, one.through))


def _miss(one: PartialSequence) -> float:
    """Return the root mean square of what the marks are expected to miss their tips by."""
    return float(sum(m.distance**2 + m.error**2 for m in one.marks.values()))


def _best(tries: list[PartialSequence], most: int) -> list[PartialSequence]:
    """Return the most worthy, of sequences with the same lines one."""
    kept: dict[tuple[float, ...], PartialSequence] = {}
    for one in sorted(tries, key=lambda one: -one.worth):
        key = tuple(np.sort(np.round(one.lines @ np.array([1.0, 1.618034, 2.414214]), 6)))
        kept.setdefault(key, one)
        if len(kept) == most:
            break
    return list(kept.values())


def _next(task: LandmarkTask, one: PartialSequence) -> list[PartialSequence]:
    if len(one.steps) + 2 > LONGEST:
        return []
    marks = _surest(task, one, marks_of(one.lines, task.size))
    kinds = [k for k in SHAPES if k != 6 or len(one.lines) <= FEW]
    choices = all_ways(one.lines, marks.points, task.size, kinds)
    gains = _gains(task, one, choices)
    some = np.argsort(-gains, kind="stable")[: 8 * BRANCHES]
    few = once(one.lines, _long(task, choices.only(some)), task.size)
    most = MOST_TRIED * BRANCHES if one.steps else len(few.lines)
    made: list[PartialSequence] = []
    for row in range(min(len(few.lines), most)):
        gained = sum(new.worth > one.worth for new in made)
        if one.steps and len(made) >= 2 * BRANCHES and gained >= BRANCHES:
            break
        made.append(added(task, one, few.step(row, marks.pairs)))
    return sorted(made, key=lambda new: -new.worth)[: WIDE if len(one.steps) < 2 else BRANCHES]


def _long(task: LandmarkTask, choices: Choices) -> Choices:
    a, b = fold.chord(choices.lines, task.size)
    with np.errstate(invalid="ignore"):
        return choices.only(np.flatnonzero(np.hypot(*(b - a).T) > OVERLAP * min(task.size)))


def _surest(task: LandmarkTask, one: PartialSequence, marks: Marks) -> Marks:
    i, j = marks.pairs.T
    errors = spread(fold.crossing(one.folded[i], one.folded[j]), task.size, task.hand)
    rows = np.argsort(errors, kind="stable")[:MOST_POINTS]
    rows = np.sort(rows[errors[rows] <= task.most_error])
    return Marks(marks.points[rows], marks.pairs[rows])


def _gains(task: LandmarkTask, one: PartialSequence, choices: Choices) -> NDArray[np.float64]:
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
