"""Tips moved onto marks that are easy to find, for a little scale."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.deadline import NEVER, Deadline
from packer.landmarks.search import KnownStart, landmarks
from packer.landmarks.sequence import needed
from packer.model.figure import refuse_to_fold
from packer.model.packing import SearchRecord
from packer.search.frame import frame_of, next_frame
from packer.search.parallel.threads import one_thread
from packer.units import SAME_LINE

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from packer.landmarks.sequence import Landmarks
    from packer.model.packing import Packing
    from packer.model.sheet import Point

SHARES: Final = (0.0, 0.25, 0.5, 1.0)
"""Shares of the scale that may be given up, of the most asked, that a trade-off is shown for."""

FARTHEST: Final = 0.03
"""Most that a tip is moved, as a share of the shorter side."""

FIRST: Final = 0.25
"""Share of what may be given up that the first tip may take; it grows to all with the tips held."""

TOGETHER: Final = (1, 3)
"""For how many tips more marks are looked for at once; the better of both is taken. On a heron and a
shore crab at one per cent the first saves a step more on one, the second two on the other."""

BACK: Final = 0.8
"""Share of the way that a tip is taken to have where moving it farther cost too much: the loss is
taken to grow with the way."""

STAYS: Final = 1e-6
"""How far a held tip may give way in a local solve, as a share of the shorter side; it is put
back afterwards."""


GAP: Final = 1e-10
"""Gap, as a share of the scale, at which a local solve ends."""


@dataclass(frozen=True, eq=False)
class Snapped:
    """A packing with tips moved onto marks that are easy to find.

    Attributes
    ----------
    allowed
        Share of the scale that might be given up.
    given
        Share given up.
    landmarks
        The sequence.
    packing
        With its tips moved; where nothing may be given up, as it was.
    complete
        Whether every search that led here came to its end.
    """

    allowed: float
    given: float
    landmarks: Landmarks
    packing: Packing
    complete: bool = True


@dataclass(frozen=True)
class MarkLimits:
    """What a mark must keep to stand for a tip, in sheet units.

    Attributes
    ----------
    within
        How far it may lie from a tip that is not moved onto it.
    hand
        Standard deviation of each miss of an alignment by hand.
    most_error
        Most that it may be expected to miss by hand.
    """

    within: float
    hand: float
    most_error: float = np.inf


def snapped(
    packing: Packing,
    share: float,
    limits: MarkLimits,
    progress: Callable[[str], None] | None = None,
    deadline: Deadline = NEVER,
) -> Snapped:
    """Move the tips onto marks of one short sequence, for at most a share of the scale.

    Those tips first whose marks need the fewest creases, mirrored pairs together. After each the
    others climb again, by a local solve in which the tips moved so far are held: so they make room
    and win back what they can of the scale. Where a move costs too much even so, nearer marks are
    looked for. A tip on an edge or on the line of symmetry stays on it; a tip with a mark near
    enough as it is may stay where it is.

    Parameters
    ----------
    packing
        Any packing that holds.
    share
        Most of the scale to give up, in [0, 1).
    limits
        What marks must keep to.
    progress
        Called with a few words at every depth of the search.
    deadline
        When it ends with the best until then, as after a KeyboardInterrupt.

    Raises
    ------
    FigureError
        Where the flaps are more than `packer.limits.MOST_FOLDED`.
    """
    refuse_to_fold(len(packing.tree.flaps), 0, "are found by folding")
    watch = _Watch(progress, deadline)
    made = _as_packed(packing, limits, watch)
    best = Snapped(share, 0.0, made, packing, made.complete)
    for together in TOGETHER if share else ():
        if best.complete:
            one = _in_groups(packing, share, limits, together, watch)
            best = replace(min(best, one, key=_hardness), complete=one.complete)
    return best


@dataclass(frozen=True)
class _Watch:
    """Who is told how a search stands, and when it ends."""

    progress: Callable[[str], None] | None
    deadline: Deadline


def _hardness(one: Snapped) -> tuple[int, int, int, float]:
    """Return what is left to measure, the steps, the creases and the scale given up."""
    made = one.landmarks
    return len(made.unmarked), made.count, len(made.steps), one.given


def _in_groups(
    packing: Packing,
    share: float,
    limits: MarkLimits,
    together: int,
    watch: _Watch,
) -> Snapped:
    plain = replace(packing, stress=(), slack=(), bound=None, search=SearchRecord())
    group = _Group(plain, _first_reach(packing, limits.within), {}, (), None)
    while len(group.held) < len(packing.tips):
        before = len(group.held)
        group = _moved(group, packing.scale, share, limits, together, watch)
        assert group.landmarks is not None
        stuck = len(group.held) == before and not group.tried
        if stuck or not group.landmarks.complete:
            break  # no mark is left for the others
    assert group.landmarks is not None
    given = max(1 - group.packing.scale / packing.scale, 0.0)
    return Snapped(share, given, group.landmarks, group.packing, group.landmarks.complete)


def _as_packed(packing: Packing, limits: MarkLimits, watch: _Watch) -> Landmarks:
    return landmarks(
        packing.sheet,
        dict(zip(packing.tree.flaps, packing.tips, strict=True)),
        limits.within,
        hand=limits.hand,
        most_error=limits.most_error,
        deadline=watch.deadline,
        progress=watch.progress,
    )


@dataclass(frozen=True, eq=False)
class _Group:
    """A packing on its way.

    Attributes
    ----------
    packing
        As it stands.
    reach
        How far the mark of each tip may lie.
    held
        The tips held so far and where.
    tried
        Tips whose move cost too much in the last round.
    landmarks
        The sequence that makes the marks of those held.
    """

    packing: Packing
    reach: Mapping[str, float]
    held: Mapping[str, Point]
    tried: tuple[str, ...]
    landmarks: Landmarks | None


def _moved(
    group: _Group,
    scale: float,
    share: float,
    limits: MarkLimits,
    together: int,
    watch: _Watch,
) -> _Group:
    """Move the tips that have marks with the fewest creases, as far as the scale allows it."""
    packing, held, reach = group.packing, dict(group.held), dict(group.reach)
    names = packing.tree.flaps
    made = landmarks(
        packing.sheet,
        dict(zip(names, packing.tips, strict=True)),
        {**reach, **_kept(group)},
        hand=limits.hand,
        most_error=limits.most_error,
        known=KnownStart(
            group.landmarks.steps if group.landmarks is not None else (),
            len(_pairs(packing, set(held))) + together,
        ),
        deadline=watch.deadline,
        progress=watch.progress,
    )
    tried = []
    for pair in sorted(_pairs(packing, set(made.tips) - set(held)), key=_farthest(made)):
        at = dict(zip(names, packing.tips, strict=True))
        most = share * (FIRST + (1 - FIRST) * (len(held) + len(pair)) / len(names))
        onto = {name: made.tips[name].at for name in pair}
        far = max(math.dist(onto[name], at[name]) for name in pair)
        after = climbed_with(packing, {**held, **onto})
        lost = 1 - after.scale / scale
        if lost <= most:
            packing, held = after, {**held, **onto}
        elif far <= limits.within:
            held |= {name: at[name] for name in pair}
        else:
            spent = 1 - packing.scale / scale
            rate = max(most - spent, 0.0) / (lost - spent)
            reach |= dict.fromkeys(pair, max(BACK * far * min(rate, 1.0), limits.within))
            tried += list(pair)
    return _Group(packing, reach, held, tuple(tried), _measured(made, packing, held))


def _kept(group: _Group) -> dict[str, float]:
    """Return how far the marks of held tips may lie: as far as they do."""
    if group.landmarks is None:
        return {}
    sheet = group.packing.sheet
    exact = SAME_LINE * min(sheet.width, sheet.height)
    return {name: group.landmarks.tips[name].distance + exact for name in group.held}


def _pairs(packing: Packing, names: set[str]) -> list[tuple[str, ...]]:
    """Return tips with their mirror images, each pair once; a tip without one alone."""
    flaps, mirror = packing.tree.flaps, packing.problem.mirror
    pairs = {
        tuple(sorted({k, int(mirror[k])})) for k, name in enumerate(flaps) if name in names
    }
    return [tuple(flaps[k] for k in pair) for pair in sorted(pairs)]


def _farthest(made: Landmarks) -> Callable[[tuple[str, ...]], float]:
    return lambda pair: max(made.tips[name].distance for name in pair)


def climbed_with(packing: Packing, held: Mapping[str, Point]) -> Packing:
    """Return a packing with some tips put where they are held and the others climbed again."""
    index = {name: tip for tip, name in enumerate(packing.tree.flaps)}
    tips = {**dict(zip(index, packing.tips, strict=True)), **held}
    put = replace(packing, tips=tuple(tips.values()))
    if len(held) == len(index):
        return put
    points = {index[name]: point for name, point in held.items()}
    with one_thread():
        frame = next_frame(packing.problem, frame_of(put), points, tolerance=GAP, give=STAYS)
    tips = {**dict(zip(index, frame.packing.tips, strict=True)), **held}
    climbed = replace(frame.packing, tips=tuple(tips.values()))
    return climbed if climbed.scale > put.scale else put


def _measured(made: Landmarks, packing: Packing, held: Mapping[str, Point]) -> Landmarks:
    """Return landmarks of the tips held, with each mark's distance from where its tip lies."""
    at = dict(zip(packing.tree.flaps, packing.tips, strict=True))
    tips = {
        name: replace(mark, distance=math.dist(mark.at, at[name]))
        for name, mark in made.tips.items()
        if name in held
    }
    unmarked = {name: at[name] for name in at if name not in held}
    return needed(replace(made, tips=tips, unmarked=unmarked))


def trade_off(
    packing: Packing,
    most: float,
    limits: MarkLimits,
    *,
    shares: Sequence[float] = SHARES,
    progress: Callable[[str], None] | None = None,
    deadline: Deadline = NEVER,
) -> list[Snapped]:
    """Return what giving up more and more of the scale, up to `most`, saves in creases.

    Where a larger share leads to no shorter sequence the one before stands. After the deadline or a
    KeyboardInterrupt no larger share is tried.
    """
    rows: list[Snapped] = []
    for x in shares:
        made = snapped(packing, most * x, limits, progress, deadline)
        if rows and _hardness(rows[-1]) < _hardness(made):
            made = replace(rows[-1], allowed=made.allowed, complete=made.complete)
        rows.append(made)
        if not made.complete:
            break
    return rows


def _first_reach(packing: Packing, within: float) -> dict[str, float]:
    """Return how far each tip may be moved at first; one whose place is a point is not."""
    most = FARTHEST * min(packing.sheet.width, packing.sheet.height)
    return {
        name: within if all(box.is_point for box in ranges) else max(most, within)
        for name, ranges in zip(packing.tree.flaps, packing.problem.ranges, strict=True)
    }
