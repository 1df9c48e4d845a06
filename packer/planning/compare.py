"""Compare sheets fairly: the same figure, the same seed and starts, something held equal."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, TypeVar

from packer.errors import (
    FigureError,
    OptionError,
    PatternError,
    SearchError,
    SheetError,
    did_you_mean,
)
from packer.figure import SYMMETRIES
from packer.grid.pack import pack_grid
from packer.grid.proposals import chosen
from packer.numbers import counted
from packer.planning.comparison import Comparison, Entry
from packer.planning.folding import folding
from packer.planning.shapes import default_shapes, equal_sheets
from packer.problem import pose
from packer.search.bounds.best import quick_bound
from packer.search.search import pack

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from concurrent.futures import Executor

    from packer.figure import Figure, Symmetry
    from packer.grid.packing import GridPacking
    from packer.packing import Packing
    from packer.planning.comparison import Equal
    from packer.planning.ranking import Folding
    from packer.planning.stock import Stock
    from packer.problem import Problem
    from packer.search.search import Progress
    from packer.sheet import Sheet

    Report = Callable[[int, int, str], None]

Subject = TypeVar("Subject")
Found = TypeVar("Found")

STARTS: Final = 8
"""Starts on each sheet where nothing is said: the same number for all, so that it is fair."""


def compare(
    figure: Figure,
    shapes: Sequence[Sheet] | dict[str, Sheet] | None = None,
    symmetries: Sequence[Symmetry] = (),
    *,
    equal: Equal = "area",
    stock: Stock | None = None,
    seed: int = 0,
    starts: int | None = None,
    time: float | None = None,
    tries: int | None = None,
    effort: float | None = None,
    workers: int | None = None,
    executor: Executor | None = None,
    report: Report | None = None,
) -> Comparison:
    """Pack a figure on several sheets.

    Parameters
    ----------
    figure
        The figure.
    shapes
        The sheets, perhaps by name; `default_shapes` by default.
    symmetries
        Those to compare; the figure's own by default. Diagonal symmetry is left out on sheets
        that are not square.
    equal
        "area" or "longest side": those of the first sheet with a unit, else of the figure's
        sheet if that has one, else 1. "stock": each is the largest of its shape that can be cut
        from `stock`.
    stock
        The paper to cut from, with "stock".
    seed
        The same seed gives the same comparison, whatever the number of workers, unless time
        ends a search.
    starts, time
        Starts, or seconds, on each sheet; `STARTS` starts by default.
    tries
        Crease each packing with so many tries (see `folding`) and measure how hard it is to
        fold; by default it is not creased.
    effort
        Pack each sheet on whole cells as well, with so much effort (see `pack_grid`), all at
        one unit; by default there is no grid.
    workers, executor
        As in `pack`.
    report
        Called with the number of steps done, of all, and what is being done in a few words.

    Returns
    -------
    Comparison
        After a KeyboardInterrupt the sheets until then.

    Raises
    ------
    OptionError
        Where a choice is unknown, a limit is not above zero or stock is missing.
    FigureError, SheetError
        Where the figure's wishes contradict a sheet.
    """
    if starts is None and time is None:
        starts = STARTS
    tasks = _tasks(figure, shapes, symmetries, equal, stock)
    course = _Course(seed, starts, time, workers, executor, tries, effort, report)
    course.total = len(tasks) * course.steps
    if effort is not None:
        course.unit = chosen(tasks[0][1]).unit
    entries = [found for task in tasks if (found := course.entry(*task)) is not None]
    if not entries:
        raise KeyboardInterrupt
    return Comparison(
        figure.name, equal, tuple(entries), seed, stock, complete=not course.interrupted
    )


@dataclass
class _Course:
    """The work on all sheets, one step after the other; nothing more once it is interrupted."""

    seed: int
    starts: int | None
    time: float | None
    workers: int | None
    executor: Executor | None
    tries: int | None
    effort: float | None
    report: Report | None
    unit: float | None = None
    total: int = 0
    done: int = 0
    interrupted: bool = False

    @property
    def steps(self) -> int:
        """How many steps a sheet takes."""
        return 1 + (self.tries is not None) + (self.effort is not None)

    def entry(self, shape: str, problem: Problem, waste: float | None) -> Entry | None:
        """Return the line of one sheet, or None if there was no time left for it."""
        packing = self.step(self.packing, problem)
        if packing is None:
            return None
        grid = None if self.effort is None else self.step(self.grid, problem)
        folded = None if self.tries is None else self.step(self.folding, packing)
        return Entry(shape, with_bound(packing), waste, grid, folded)

    def step(self, work: Callable[[Subject], Found | None], subject: Subject) -> Found | None:
        """Do one step and count it; what was interrupted before it found anything is None."""
        if self.interrupted:
            return None
        try:
            found = work(subject)
        except KeyboardInterrupt:
            self.interrupted = True
            return None
        self.done += 1
        self.tell("")
        return found

    def tell(self, doing: str) -> None:
        """Report what is done and what is being done."""
        if self.report is not None:
            self.report(self.done, self.total, doing)

    def packing(self, problem: Problem) -> Packing:
        found = pack(
            problem,
            seed=self.seed,
            starts=self.starts,
            time=self.time,
            workers=self.workers,
            executor=self.executor,
            progress=self.report and (lambda now: self.tell(searching(now))),
        )
        self.interrupted = found.search.stopped == "interrupted"
        return found

    def grid(self, problem: Problem) -> GridPacking | None:
        assert self.effort is not None
        try:
            found = pack_grid(
                problem,
                unit=self.unit,
                seed=self.seed,
                effort=self.effort,
                progress=self.report and (lambda now: self.tell(f"grid, {now.doing}")),
            )
        except (FigureError, OptionError, SearchError):  # no grid grants it: an empty column
            return None
        self.interrupted = found.search.stopped == "interrupted"
        return found

    def folding(self, packing: Packing) -> Folding | None:
        assert self.tries is not None
        try:
            found, complete = folding(
                packing,
                self.tries,
                seed=self.seed,
                progress=self.report and (lambda now: self.tell(f"creases, {now.tries} tries")),
            )
        except PatternError:  # no pattern was found: the columns stay empty
            return None
        self.interrupted = not complete
        return found


def searching(now: Progress) -> str:
    """Return in words how a search stands."""
    return (
        f"{counted(now.starts, 'start')}, scale {now.scale:.6g}"
        if now.scale > 0
        else "searching"
    )


def with_bound(packing: Packing) -> Packing:
    """Return a packing with a proven bound, a quick one where it has none."""
    return packing if packing.bound else replace(packing, bound=quick_bound(packing.problem))


def _tasks(
    figure: Figure,
    shapes: Sequence[Sheet] | dict[str, Sheet] | None,
    symmetries: Sequence[Symmetry],
    equal: Equal,
    stock: Stock | None,
) -> list[tuple[str, Problem, float | None]]:
    """Return name, problem and waste for each line of the table; refuse what cannot be."""
    for symmetry in symmetries:
        if symmetry not in SYMMETRIES:
            hint = did_you_mean(str(symmetry), SYMMETRIES)
            raise OptionError(f'unknown symmetry "{symmetry}"{hint}', "symmetry")
    wished = tuple(dict.fromkeys(symmetries)) or (figure.symmetry,)
    if shapes is None:
        shapes = default_shapes("book" if "book" in wished else "none")
    named = (
        shapes if isinstance(shapes, dict) else {sheet.describe(): sheet for sheet in shapes}
    )
    sized = equal_sheets(figure, list(named.values()), equal, stock)
    found = []
    for shape, sheet in zip(named, sized, strict=True):
        for symmetry in wished:
            if symmetry == "diagonal" and not sheet.is_square:
                continue
            try:
                problem = pose(figure, sheet, symmetry)
            except (FigureError, SheetError) as error:
                raise type(error)(
                    f"on a sheet of {shape}: {error.message}", error.entry
                ) from None
            found.append((shape, problem, None if stock is None else stock.waste(sheet)))
    if not found:
        raise OptionError("diagonal symmetry needs a square among the sheets", "symmetry")
    return found
