"""Follow the scale over the side ratio: each packing is carried on to the next sheet.

A packing of one sheet, stretched over a sheet of nearly the same shape, is a good start there. At
a few ratios, both ends among them, a search from nothing is made; from there the curve is followed
both ways, and a better packing met on the way spreads to its neighbours. Every point is the best
found at its ratio, never less than what its own search gave.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.errors import OptionError
from packer.planning.compare import STARTS, searching, with_bound
from packer.planning.comparison import Curve, Sweep
from packer.problem import pose
from packer.search.search import pack
from packer.sheet import Sheet

if TYPE_CHECKING:
    from collections.abc import Callable
    from concurrent.futures import Executor

    from packer.figure import Figure, Symmetry
    from packer.packing import Packing
    from packer.problem import Problem
    from packer.search.search import Progress

    Report = Callable[[int, int, str], None]

UP_TO: Final = 5.0
"""Side ratio to which a sweep goes by default: longer sheets are ribbons."""

STEPS: Final = 17
"""Ratios looked at by default, evenly spaced in their logarithm."""

ANCHORS: Final = 4
"""Every so many ratios, and at both ends, a search from nothing is made."""

_BETTER: Final = 1e-9
"""Relative gain in scale from which a packing replaces another."""


def sweep(
    figure: Figure,
    symmetry: Symmetry | None = None,
    *,
    up_to: float = UP_TO,
    steps: int = STEPS,
    seed: int = 0,
    starts: int | None = None,
    time: float | None = None,
    workers: int | None = None,
    executor: Executor | None = None,
    report: Report | None = None,
) -> Sweep:
    """Return the best scale found over the side ratio, from 1:1, at equal area.

    Parameters
    ----------
    figure
        The figure. Its sheet, if it has a unit, sets the area; else that is 1.
    symmetry
        "none" or "book"; the figure's own by default. Under book symmetry lying and standing
        sheets are swept.
    up_to
        The last ratio of the longer to the shorter side.
    steps
        How many ratios, both ends included.
    seed
        The same seed gives the same curves, unless time ends a search.
    starts, time
        Starts, or seconds, of each search from nothing; `STARTS` starts by default.
    workers, executor
        As in `pack`.
    report
        Called with the number of searches done, of all, and how the present one stands.

    Raises
    ------
    OptionError
        Where a number is out of range or the symmetry is diagonal.
    """
    symmetry = symmetry or figure.symmetry
    if symmetry == "diagonal":
        raise OptionError("diagonal symmetry needs a square; choose book or none", "symmetry")
    if not (1 < up_to < math.inf):
        raise OptionError(f"{up_to:g} is no last ratio; write a number above 1", "up-to")
    if steps < 2:
        raise OptionError(f"{steps} is too few steps; write 2 or more", "steps")
    side = math.sqrt(figure.sheet.area) if figure.sheet and figure.sheet.unit else 1.0
    unit = figure.sheet.unit if figure.sheet else ""
    ratios = np.geomspace(1.0, up_to, steps).tolist()
    curves = []
    tasks = []
    for standing in (False, True) if symmetry == "book" else (False,):
        sheets = [Sheet(side * r**0.5, side / r**0.5, unit) for r in ratios]
        if standing:
            sheets = [Sheet(sheet.height, sheet.width, unit) for sheet in sheets]
        tasks.append((standing, [pose(figure, sheet, symmetry) for sheet in sheets]))
    anchors = sorted({0, steps - 1, *range(0, steps, ANCHORS)})
    if starts is None and time is None:
        starts = STARTS
    course = _Course(seed, starts, time, workers, executor, report)
    course.total = len(tasks) * (len(anchors) + 2 * (steps - 1))
    for standing, problems in tasks:
        found, direct = course.follow(problems, anchors)
        points = [
            (ratio, with_bound(packing), scale)
            for ratio, packing, scale in zip(ratios, found, direct, strict=True)
            if packing
        ]
        if points:
            curves.append(Curve(standing, *zip(*points, strict=True)))
    if not curves:
        raise KeyboardInterrupt
    return Sweep(figure.name, tuple(curves), seed, complete=not course.interrupted)


@dataclass
class _Course:
    """The searches of a sweep, one after the other."""

    seed: int
    starts: int | None
    time: float | None
    workers: int | None
    executor: Executor | None
    report: Report | None
    total: int = 0
    done: int = 0
    interrupted: bool = False

    def follow(
        self, problems: list[Problem], anchors: list[int]
    ) -> tuple[list[Packing | None], list[float | None]]:
        """Search at the anchors, then carry packings up and down the ratios."""
        best: list[Packing | None] = [None] * len(problems)
        direct: list[float | None] = [None] * len(problems)
        for k in anchors:
            found = best[k] = self._search(problems[k])
            direct[k] = found.scale if found else None
        up = range(1, len(problems))
        for here, before in [(k, k - 1) for k in up] + [(k - 1, k) for k in reversed(up)]:
            near, now = best[before], best[here]
            carried = self._search(problems[here], near) if near else None
            if carried and (now is None or carried.scale > now.scale * (1 + _BETTER)):
                best[here] = carried
        return best, direct

    def _search(self, problem: Problem, near: Packing | None = None) -> Packing | None:
        if self.interrupted:
            return None
        try:
            packing = pack(
                problem,
                seed=self.seed,
                starts=1 if near else self.starts,
                time=None if near else self.time,
                workers=1 if near else self.workers,
                executor=None if near else self.executor,
                near=near,
                progress=self.report and self._progress,
            )
        except KeyboardInterrupt:
            self.interrupted = True
            return None
        self.interrupted = packing.search.stopped == "interrupted"
        self.done += 1
        if self.report is not None:
            self.report(self.done, self.total, "")
        return packing

    def _progress(self, now: Progress) -> None:
        if self.report is not None:
            self.report(self.done, self.total, searching(now))
