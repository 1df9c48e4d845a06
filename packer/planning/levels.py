"""What does detail cost? A figure packed at each of its levels, each begun from the finer one."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Final

from packer.creases.completion.complete import crease_pattern
from packer.errors import FigureError, PatternError
from packer.folded.difficulty import straight_creases
from packer.folded.form import fold
from packer.model.problem import pose
from packer.planning.carry_level import never_smaller, packing_left
from packer.planning.fold_ranking import folding_step
from packer.planning.landmark_demand import landmark_step
from packer.planning.level_results import LeftOut, Level, Levels
from packer.planning.timed_searches import STEP_SECONDS, Course
from packer.search.options import SearchOptions
from packer.search.stopping import MaxStarts, TimeLimit
from packer.units import HOLDS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from packer.model.figure import Figure, Symmetry
    from packer.model.packing import Bound, Packing
    from packer.model.problem import Problem
    from packer.model.sheet import Sheet

STARTS: Final = 4
"""Starts of the search of each level where nothing is said."""
AGAIN: Final = 1
"""Starts of the search that packs a level, or a level without one part, once more."""
LEFT_OUT: Final = 8
"""Parts of each level, the dearest to first order, that are left out alone by default."""


def levels(
    figure: Figure,
    sheets: Sequence[Sheet] = (),
    symmetry: Symmetry | None = None,
    *,
    options: SearchOptions | None = None,
    tries: int | None = None,
    leave_out: int = LEFT_OUT,
    side_mm: float | None = None,
) -> Levels:
    """Pack a figure at each of its details, and each level without one of its parts.

    The finest level is packed first, and every coarser one begins where the finer one ended with
    the finer parts left out: so it is never smaller, but for what `never_smaller` names.

    Parameters
    ----------
    figure
        The figure; parts with `detail` above 1 make levels.
    sheets
        The sheets to pack on; by default the figure's own.
    symmetry
        Overrides that of the figure.
    options
        Of the search of each level, with one time limit for all that is done; by default `STARTS`
        starts, and at most `STEP_SECONDS` for each step. Once the time is over each level is still
        packed, but not once more, nor without a part. Progress is told by a
        `packer.planning.timed_searches.StepProgress`.
    tries
        Crease each level with so many tries (see `folding`); by default it is not creased.
    leave_out
        How many parts of each level are left out alone, the dearest to first order. Those of
        detail 1 are needed and stay.
    side_mm
        Count the landmark creases of each level on a sheet whose longer side is so many mm; by
        default they are not looked for.

    Returns
    -------
    Levels
        After a KeyboardInterrupt the levels until then.

    Raises
    ------
    FigureError
        Where the figure has one level only, or a level is no figure.
    SheetError
        Where a sheet does not fit the symmetry.
    """
    details = figure.details
    if len(details) == 1:
        raise FigureError(
            "every part is needed, so there is one level; write detail = 2 or more on those that "
            "could be left out",
            "flaps",
        )
    wanted: Sequence[Sheet | None] = sheets or [None]
    problems = [
        [pose(figure.at(detail), sheet, symmetry) for detail in reversed(details)]
        for sheet in wanted
    ]
    parts = [
        min(leave_out, sum(part.detail == d for part in figure.parts)) for d in details[1:]
    ]
    steps = len(problems) * (
        len(details) * (2 + (tries is not None) + (side_mm is not None)) + sum(parts)
    )
    usual = (MaxStarts(STARTS), TimeLimit(STEP_SECONDS * steps))
    course = Course((options or SearchOptions()).or_stop(*usual), steps)
    packed: list[Level] = []
    for one_sheet in problems:
        packed += _on_one_sheet(course, one_sheet, details[::-1], leave_out, tries, side_mm)
    if not packed:
        raise KeyboardInterrupt
    seed, complete = course.options.seed, not course.interrupted
    return Levels(figure.name, tuple(packed), seed, complete=complete, late=course.late)


def _on_one_sheet(
    course: Course,
    problems: Sequence[Problem],
    details: Sequence[int],
    leave_out: int,
    tries: int | None,
    side_mm: float | None,
) -> list[Level]:
    """Return the levels from the coarsest to the finest, given from the finest to the coarsest."""
    rows: list[Level] = []
    near: Packing | None = None
    for k, (problem, detail) in enumerate(zip(problems, details, strict=True)):
        if near is not None:
            near = packing_left(problem, near)
        packing = course.step(partial(course.packing, near=near), problem)
        if packing is None:
            break
        best = course.step_in_time(partial(_once_more, course), packing) or packing
        repeated = max(0.0, best.scale / packing.scale - 1)
        if repeated > HOLDS:
            packing = replace(best, bound=packing.bound)
        near = packing
        folded = None if tries is None else course.step(folding_step(course, tries), packing)
        marks = None
        if side_mm is not None:
            marks = course.step(landmark_step(course, side_mm), packing)
        coarser = problems[k + 1].figure.parts if k + 1 < len(problems) else ()
        kept = _pieces(coarser)
        adds = tuple(p.name for p in problem.figure.parts if p.name not in kept)
        level = Level(
            problem.sheet.describe(),
            detail,
            adds if coarser else (),
            packing,
            repeated,
            folded,
            landmarks=marks,
        )
        rows.append(_with_left_out(course, level, leave_out))
    return _bounds_held(rows[::-1])


def _pieces(parts: Sequence[object]) -> set[str]:
    return {piece for part in parts for piece in str(getattr(part, "name", "")).split(" + ")}


def _once_more(course: Course, packing: Packing) -> Packing:
    return _again(course, packing.problem, packing, packing.bound)


def _again(
    course: Course, problem: Problem, near: Packing, known: Bound | None = None
) -> Packing:
    """Pack once more from where a search ended, with as little proof as there is."""
    # with the same seed the same starts would be made again
    options = replace(course.options, seed=course.options.seed + 1, stop=MaxStarts(AGAIN))
    return course.packing(problem, near, options, proof=0.0, known=known)


def _with_left_out(course: Course, level: Level, most: int) -> Level:
    """Return a level with its parts left out alone, as far as they are its own."""
    packing = level.packing
    own = [p for p in packing.figure.parts if p.detail == level.detail > 1]
    gains = {part.name: first_order(packing, part.name) for part in own}
    ranked = sorted(gains, key=lambda name: (-gains[name], name))
    creases = _creases(packing) if most and ranked else None
    rows: list[LeftOut] = []
    for name in ranked[:most]:
        one = course.step_in_time(lambda part: _without(course, packing, part), name)
        if one is None:
            continue
        left = _creases(one)
        saved = None if creases is None or left is None else creases - left
        rows.append(LeftOut(name, one.scale, gains[name], saved))
    rows.sort(key=lambda one: (-one.scale, one.part))
    return replace(level, left_out=tuple(rows), untried=len(ranked) - len(rows))


def _without(course: Course, packing: Packing, part: str) -> Packing | None:
    try:
        figure = packing.figure.without({part})
    except FigureError:  # too little is left to be a figure
        return None
    problem = pose(figure, packing.sheet, packing.symmetry)
    return _again(course, problem, packing_left(problem, packing))


def first_order(packing: Packing, part: str) -> float:
    """Return the fraction by which the scale would grow if a part's length fell to nothing.

    With the share s of the constraints' weighted sum that its paths have, the scale grows to
    1 / (1 - s) of itself (see `packer.planning.advice.savings`), as long as the same paths are
    active.
    """
    tree = packing.tree
    share = sum(
        -packing.costs[name] * length
        for name, written, length in zip(tree.names, tree.written, packing.lengths, strict=True)
        if written == part
    )
    return 1 / max(1 - share / packing.scale, 1e-3) - 1


def _creases(packing: Packing) -> int | None:
    """Return the number of straight creases of the pattern before settling; None without one."""
    try:
        pattern = crease_pattern(packing)
    except (FigureError, PatternError):
        return None
    return straight_creases(pattern, fold(pattern))


def _bounds_held(rows: list[Level]) -> list[Level]:
    """Hold each level's bound against that of the next coarser one, which no finer one exceeds."""
    for k in range(1, len(rows)):
        coarser, finer = rows[k - 1].packing, rows[k].packing
        if coarser.bound is None or not never_smaller(coarser.problem, finer.problem):
            continue
        if finer.bound is None or coarser.bound.scale < finer.bound.scale:
            bound = replace(
                coarser.bound, rule=f"{coarser.bound.rule}, at detail {rows[k - 1].detail}"
            )
            rows[k] = replace(rows[k], packing=replace(finer, bound=bound))
    return rows
