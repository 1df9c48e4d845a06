"""What lies on the table at one moment, and what one change makes of it.

A state never changes: to undo is to look at the one before again.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Final

from packer.errors import FigureError, PackerError
from packer.limits import MOST_PULLED
from packer.model.problem import pose
from packer.search.frame import exchanged, first_frame, frame_of, next_frame
from packer.search.from_here import at_rest
from packer.table.draft import Draft, figure_of_draft

if TYPE_CHECKING:
    from packer.model.packing import Bound, Packing
    from packer.model.problem import Problem
    from packer.model.sheet import Point
    from packer.search.frame import Frame

FLOOR: Final = 0.7
"""Share of the scale before a pull below which the other tips stay where they were.

When a held tip passes another one the scale would fall to some hundredths and the picture collapse.
"""
MEETS: Final = 0.5
"""Share of the distance asked for within which a dropped tip changes places with another."""


@dataclass(frozen=True, eq=False)
class TableState:
    """A drawing and the packing that follows it.

    Attributes
    ----------
    draft
        What is drawn.
    frame
        What lies on the sheet; None before there is any figure. It may be of an older figure while
        the drawing is none.
    packing
        The frame at rest, with certificate; None until the hand has rested.
    sentence
        Why the drawing is no figure; empty where it is one.
    """

    draft: Draft = field(default_factory=Draft)
    frame: Frame | None = None
    packing: Packing | None = None
    sentence: str = ""

    @property
    def scale(self) -> float | None:
        """The scale on the sheet, if there is a packing."""
        return None if self.frame is None else self.frame.scale


def of_packing(draft: Draft, packing: Packing) -> TableState:
    """Return a drawing with a packing, its tips untouched."""
    return TableState(draft, frame_of(packing), packing)


def drafted(state: TableState, draft: Draft) -> TableState:
    """Return the state after a change of the drawing: the packing follows where it is a figure."""
    try:
        problem = pose(figure_of_draft(draft))
        _refuse_to_follow(problem.tree.n_tips)
        if state.frame is None:
            frame = first_frame(problem)
        elif state.frame.problem == problem and not state.frame.crowded:
            return replace(state, draft=draft, sentence="")
        else:
            frame = next_frame(problem, state.frame)
    except PackerError as error:  # a drawing under way is often no figure: no fault of anybody
        return replace(state, draft=draft, sentence=_sentence(error))
    return TableState(draft, frame)


def _refuse_to_follow(tips: int) -> None:
    if tips > MOST_PULLED:
        raise FigureError(
            f"{tips} flaps are more than the {MOST_PULLED} that can follow a hand; pack the figure with "
            "packer pack, or leave fine parts out",
            "flaps",
        )


def _sentence(error: PackerError) -> str:
    part = error.entry.partition(".")[2].partition(".")[0]
    return f"{part}: {error.message}" if part else error.message


def held(state: TableState, tip: int, at: Point, before: TableState) -> TableState:
    """Return the state while a tip is held at a point of the sheet; `before` the pull began."""
    if state.frame is None:
        return state
    least = FLOOR * (before.scale or 0.0)
    frame = next_frame(state.frame.problem, state.frame, {tip: at}, least=least)
    return replace(state, frame=frame, packing=None)


def let_go(state: TableState, tip: int, before: TableState) -> TableState:
    """Return the state after a held tip was let go; on another tip the two change places."""
    frame = state.frame
    if frame is None or before.frame is None:
        return state
    if frame.crowded:
        other = _met(frame, tip)
        frame = before.frame if other is None else exchanged(before.frame, tip, other)
    return replace(state, frame=next_frame(frame.problem, frame), packing=None)


def _met(frame: Frame, tip: int) -> int | None:
    """Return the tip on which a held one lies, if any; not its own twin."""
    problem: Problem = frame.problem
    away = {
        other: float(((frame.points[other] - frame.points[tip]) ** 2).sum() ** 0.5)
        / (problem.tree.distances[tip, other] * frame.scale)
        for other in range(problem.tree.n_tips)
        if other not in {tip, int(problem.mirror[tip])}
    }
    if not away:
        return None
    nearest = min(away, key=away.__getitem__)
    return nearest if away[nearest] < MEETS else None


def rested(state: TableState, bound: Bound | None = None) -> TableState:
    """Return the state once the hand rests: to the last digits, judged, loose tips placed."""
    if state.frame is None or state.packing is not None:
        return state
    packing = at_rest(state.frame, bound)
    return replace(state, frame=frame_of(packing), packing=packing)


@dataclass(frozen=True)
class History:
    """States before and after the one that is looked at, without end."""

    now: TableState
    past: tuple[TableState, ...] = ()
    future: tuple[TableState, ...] = ()

    def went_on(self, state: TableState, before: TableState | None = None) -> History:
        """Return the history after a change; what had been undone is gone."""
        return History(state, (*self.past, before or self.now))

    def undone(self) -> History:
        """Return the history one step back, or itself at its beginning."""
        if not self.past:
            return self
        return History(self.past[-1], self.past[:-1], (self.now, *self.future))

    def redone(self) -> History:
        """Return the history one step on, or itself at its end."""
        if not self.future:
            return self
        return History(self.future[0], (*self.past, self.now), self.future[1:])

    def showing(self, state: TableState) -> History:
        """Return the history with the state that is looked at known better, such as at rest."""
        return replace(self, now=state)
