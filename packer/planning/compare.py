"""Compare sheets fairly: the same figure, the same seed and starts, something held equal."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

from packer.bounds.upper_bound import quick_bound
from packer.errors import (
    FigureError,
    OptionError,
    SearchError,
    SheetError,
    did_you_mean,
)
from packer.grid.grid_problem import GridRequest
from packer.grid.pack_grid import pack_grid
from packer.grid.proposals import chosen
from packer.model.figure import SYMMETRIES, refuse_to_fold
from packer.model.problem import pose
from packer.planning.comparison import Comparison, Entry
from packer.planning.fold_ranking import folding_step
from packer.planning.shapes import default_shapes, equal_sheets
from packer.planning.timed_searches import LEAST_SECONDS, STEP_SECONDS, Course
from packer.search.options import SearchOptions
from packer.search.stopping import MaxEffort, MaxStarts, TimeLimit

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from packer.grid.grid_packing import GridPacking
    from packer.model.figure import Figure, Symmetry
    from packer.model.packing import Packing
    from packer.model.problem import Problem
    from packer.model.sheet import Sheet
    from packer.planning.comparison import Equal
    from packer.planning.stock import Stock

COMPARE_STARTS: Final = 8
"""Starts on each sheet where nothing is said: the same number for all, so that it is fair."""


def compare(
    figure: Figure,
    shapes: Sequence[Sheet] | dict[str, Sheet] | None = None,
    symmetries: Sequence[Symmetry] = (),
    *,
    equal: Equal = "area",
    stock: Stock | None = None,
    tries: int | None = None,
    effort: float | None = None,
    options: SearchOptions | None = None,
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
    tries
        Crease each packing with so many tries (see `folding`) and measure how hard it is to
        fold; by default it is not creased.
    effort
        Pack each sheet on whole cells as well, with so much effort (see `pack_grid`), all at
        one unit; by default there is no grid.
    options
        Of the search on each sheet, with one time limit for all that is done; by default
        `COMPARE_STARTS` starts, and at most `STEP_SECONDS` for each packing, its grid and its
        creases. Progress is told by a `packer.planning.timed_searches.StepProgress`.

    Returns
    -------
    Comparison
        After a KeyboardInterrupt the sheets until then.

    Raises
    ------
    OptionError
        Where a choice is unknown, a limit is not above zero or stock is missing.
    FigureError, SheetError
        Where the figure's wishes contradict a sheet, or it has more flaps than can be folded and
        is to be creased or laid on a grid.
    """
    tasks = _tasks(figure, shapes, symmetries, equal, stock)
    tree = tasks[0][1].tree
    for wish, what in ((tries, "can be creased"), (effort, "a grid can hold")):
        if wish is not None:
            refuse_to_fold(len(tree.flaps), len(tree.rivers), what)
    unit = None if effort is None else chosen(tasks[0][1]).unit
    steps = len(tasks) * (1 + (tries is not None) + (effort is not None))
    usual = (MaxStarts(COMPARE_STARTS), TimeLimit(STEP_SECONDS * steps))
    course = Course((options or SearchOptions()).or_stop(*usual), steps)
    entries: list[Entry] = []
    for shape, problem, waste in tasks:
        packing = course.step(course.packing, problem)
        if packing is None:
            break
        grid = None if effort is None else course.step(_grid(course, unit, effort), problem)
        folded = None if tries is None else course.step(folding_step(course, tries), packing)
        entries.append(Entry(shape, with_bound(packing), waste, grid, folded))
    if not entries:
        raise KeyboardInterrupt
    seed, complete = course.options.seed, not course.interrupted
    return Comparison(figure.name, equal, tuple(entries), seed, stock, complete=complete)


def _grid(
    course: Course, unit: float | None, effort: float
) -> Callable[[Problem], GridPacking | None]:
    """Return the step that packs a problem on whole cells; None where no grid grants it."""

    def work(problem: Problem) -> GridPacking | None:
        part = course.part()
        limits = (TimeLimit(max(LEAST_SECONDS, part.left)),) if part.limited else ()
        options = SearchOptions(
            course.options.seed,
            (MaxEffort(effort), *limits),
            progress=course.telling(lambda now: f"grid, {now.doing}"),
        )
        try:
            packing = pack_grid(problem, grid=GridRequest(unit=unit), options=options)
        except (FigureError, OptionError, SearchError):  # an empty column
            return None
        course.end_unless(packing.search.stopped != "interrupted")
        return packing

    return work


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
    tasks = []
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
            tasks.append((shape, problem, None if stock is None else stock.waste(sheet)))
    if not tasks:
        raise OptionError("diagonal symmetry needs a square among the sheets", "symmetry")
    return tasks
