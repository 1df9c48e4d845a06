"""The search: many starts over any executor, the best of them polished into a packing."""

from __future__ import annotations

import time
from concurrent.futures import FIRST_COMPLETED, Executor, Future, wait
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.errors import OptionError, SearchError
from packer.packing import Packing, SearchRecord
from packer.problem import Problem, pose
from packer.search.certificate import certify
from packer.search.flex import flexible
from packer.search.hopping import Spot, Walk, advance, begin
from packer.search.interior import polish
from packer.search.program import compile_program
from packer.search.stopping import MostStarts, NoImprovement, Rule, first_reason, hits_of
from packer.search.twins import name_sides
from packer.search.wholeness import split_rivers
from packer.search.workers import Workers

if TYPE_CHECKING:
    from collections.abc import Callable

    from packer.figure import Figure, Symmetry
    from packer.sheet import Sheet

PATIENCE: Final = 3
"""Starts without improvement after which a search ends by itself."""
LONGEST: Final = 40.0
"""Seconds after which a search without a time of its own ends by itself."""
LEG_SECONDS: Final = 0.5
"""Between two reports of one start."""


@dataclass(frozen=True)
class Progress:
    """What a search has reached so far.

    Attributes
    ----------
    seconds
        Elapsed.
    starts
        Completed starts.
    scale
        The best so far; zero before the first.
    hits
        Completed starts that reached it.
    bound
        A proven upper bound on the scale, if one is known by now.
    """

    seconds: float
    starts: int
    scale: float
    hits: int
    bound: float | None = None


def pack(
    figure: Figure | Problem,
    sheet: Sheet | None = None,
    symmetry: Symmetry | None = None,
    *,
    seed: int = 0,
    time: float | None = None,
    starts: int | None = None,
    patience: int | None = None,
    workers: int | None = None,
    executor: Executor | None = None,
    progress: Callable[[Progress], None] | None = None,
) -> Packing:
    """Find the largest packing of a figure.

    Parameters
    ----------
    figure
        A figure, or a problem already posed.
    sheet, symmetry
        Override those of the figure.
    seed
        The same seed gives the same packing, whatever the number of workers, unless time ends
        the search.
    time
        Seconds to search; without any limit the search ends by itself.
    starts
        How many starts to make.
    patience
        End after so many starts without improvement.
    workers
        Processes to use; one for each processor by default.
    executor
        Any executor to use instead, such as a cluster's.
    progress
        Called with a `Progress` now and then.

    Returns
    -------
    Packing
        The best found; after a KeyboardInterrupt the best until then.

    Raises
    ------
    OptionError
        Where a limit is not above zero.
    SearchError
        Where the search was ended before any packing was found.
    """
    problem = figure if isinstance(figure, Problem) else pose(figure, sheet, symmetry)
    limits = _limits(time, starts, patience)
    hunt = _Hunt(problem, seed, limits, progress)
    with Workers(workers, executor) as crew:
        hunt.run(crew)
    return hunt.packing()


@dataclass(frozen=True)
class _Limits:
    seconds: float
    rules: tuple[Rule, ...]


def _limits(time: float | None, starts: int | None, patience: int | None) -> _Limits:
    """Turn options into rules: where nothing is given, patience and a longest time."""
    for name, value in (("time", time), ("starts", starts), ("patience", patience)):
        if value is not None and not value > 0:
            raise OptionError(f"{value} is no limit; write a number above zero", name)
    rules: list[Rule] = []
    if starts is not None:
        rules.append(MostStarts(starts))
    if patience is not None:
        rules.append(NoImprovement(patience))
    if time is not None:
        return _Limits(time, tuple(rules))
    if not rules:
        return _Limits(LONGEST, (NoImprovement(PATIENCE),))
    return _Limits(np.inf, tuple(rules))


@dataclass
class _Hunt:
    """A running search: which walks are under way, which are done."""

    problem: Problem
    seed: int
    limits: _Limits
    progress: Callable[[Progress], None] | None
    walks: dict[int, Walk] = field(default_factory=dict)
    began: float = field(default_factory=time.monotonic)
    stopped: str = ""
    counted: int = 0

    def run(self, crew: Workers) -> None:
        """Keep every worker busy until a rule, the time or the keyboard says stop."""
        running: dict[Future[Walk], int] = {}
        following = 0
        try:
            while not self.stopped:
                while len(running) < crew.count:
                    running[self.submit(crew, begin(self.seed, following))] = following
                    following += 1
                done, _ = wait(running, timeout=1.0, return_when=FIRST_COMPLETED)
                for future in sorted(done, key=running.__getitem__):
                    index = running.pop(future)
                    walk = crew.result(future)
                    if walk is None:
                        walk = self.walks.get(index, begin(self.seed, index))
                    self.walks[index] = walk
                    self.judge()
                    if not walk.done and not self.stopped:
                        running[self.submit(crew, walk)] = index
                self.report()
        except KeyboardInterrupt:
            self.stopped = "interrupted"
        for future in running:
            future.cancel()

    def submit(self, crew: Workers, walk: Walk) -> Future[Walk]:
        """Send one leg of a walk."""
        left = max(0.0, self.limits.seconds - self.elapsed)
        return crew.submit(advance, self.problem, walk, min(left, LEG_SECONDS))

    @property
    def elapsed(self) -> float:
        """Seconds since the search began."""
        return time.monotonic() - self.began

    def judge(self) -> None:
        """Count the starts completed in their order, and ask the rules after each."""
        while not self.stopped:
            walk = self.walks.get(self.counted)
            if walk is None or not walk.done:
                break
            self.counted += 1
            self.stopped = first_reason(self.limits.rules, self.scales(self.counted))
        if not self.stopped and self.elapsed > self.limits.seconds:
            self.stopped = "time"

    def scales(self, count: int) -> list[float]:
        """Return the scales of the first so many starts."""
        return [walk.best.scale for k in range(count) if (walk := self.walks[k]).best]

    def best(self) -> Spot | None:
        """Return the best spot: of the counted starts where a rule ended the search."""
        fair = self.stopped not in {"", "time", "interrupted"}
        spots = [
            (walk.best.scale, -k, walk.best)
            for k, walk in self.walks.items()
            if walk.best and (k < self.counted or not fair)
        ]
        return max(spots, key=lambda s: s[:2])[2] if spots else None

    def report(self) -> None:
        """Tell the listener, if any."""
        if self.progress is None:
            return
        best = self.best()
        scales = self.scales(self.counted)
        self.progress(
            Progress(self.elapsed, self.counted, best.scale if best else 0.0, hits_of(scales))
        )

    def packing(self) -> Packing:
        """Return the best, polished, as a packing."""
        best = self.best()
        if best is None:
            raise SearchError(
                "the search ended before any packing was found; give it more time"
            )
        program = compile_program(self.problem, best.choice)
        end = polish(program, best.z, best.change)
        tree = self.problem.tree
        points = name_sides(self.problem, program.tips(end.z))
        lengths = flexible(tree).lengths(tree.lengths, end.change)
        done = [walk for walk in self.walks.values() if walk.best]
        scales = self.scales(self.counted)
        record = SearchRecord(
            self.seed,
            self.counted or len(done),
            hits_of(scales) or 1,
            self.elapsed,
            self.stopped,
        )
        return Packing(
            self.problem,
            tuple((x, y) for x, y in points.tolist()),
            tuple(lengths.tolist()),
            stress=certify(self.problem, points, lengths),
            split_rivers=split_rivers(self.problem, points),
            search=record,
        )
