"""Compare sheets fairly: the same figure, the same seed and starts, something held equal."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Final

from packer.errors import FigureError, OptionError, SheetError, did_you_mean
from packer.figure import SYMMETRIES
from packer.planning.comparison import EQUALS, Comparison, Entry
from packer.problem import pose
from packer.search.bounds.best import quick_bound
from packer.search.search import pack
from packer.sheet import Sheet

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from concurrent.futures import Executor

    from packer.figure import Figure, Symmetry
    from packer.packing import Packing
    from packer.planning.comparison import Equal
    from packer.planning.stock import Stock
    from packer.problem import Problem
    from packer.search.search import Progress

    Report = Callable[[int, int, Progress | None], None]

STARTS: Final = 8
"""Starts on each sheet where nothing is said: the same number for all, so that it is fair."""

SHAPES: Final = {
    "1 x 1": Sheet(1, 1),
    "4 x 3": Sheet(4, 3),
    "A-series": Sheet(math.sqrt(2), 1),
    "3 x 2": Sheet(3, 2),
    "2 x 1": Sheet(2, 1),
}
"""Sheets compared by default: the square, ISO 216's ratio and what is cut from usual papers."""


def default_shapes(symmetry: Symmetry) -> dict[str, Sheet]:
    """Return the sheets to compare by default, by name.

    Under book symmetry the mirror line is upright, so that a sheet that stands is another
    problem than the same sheet lying; both are then compared.
    """
    found = dict(SHAPES)
    if symmetry == "book":
        for name, sheet in SHAPES.items():
            if not sheet.is_square:
                turned = " x ".join(reversed(name.split(" x ")))
                title = turned if turned != name else f"{name} standing"
                found[title] = Sheet(sheet.height, sheet.width)
    return found


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
    workers, executor
        As in `pack`.
    report
        Called with the number of sheets done, of all, and the progress on the present one.

    Returns
    -------
    Comparison
        After a KeyboardInterrupt the sheets until then.

    Raises
    ------
    OptionError
        Where a choice is unknown or stock is missing.
    FigureError, SheetError
        Where the figure's wishes contradict a sheet.
    """
    tasks = _tasks(figure, shapes, symmetries, equal, stock)
    if starts is None and time is None:
        starts = STARTS
    entries: list[Entry] = []
    complete = True
    for k, (shape, problem, waste) in enumerate(tasks):
        try:
            packing = pack(
                problem,
                seed=seed,
                starts=starts,
                time=time,
                workers=workers,
                executor=executor,
                progress=report and _progress(report, k, len(tasks)),
            )
        except KeyboardInterrupt:
            if not entries:
                raise
            complete = False
            break
        entries.append(Entry(shape, with_bound(packing), waste))
        if packing.search.stopped == "interrupted":
            complete = k + 1 == len(tasks)
            break
        if report is not None:
            report(k + 1, len(tasks), None)
    return Comparison(figure.name, equal, tuple(entries), seed, stock, complete)


def with_bound(packing: Packing) -> Packing:
    """Return a packing with a proven bound, a quick one where it has none."""
    return packing if packing.bound else replace(packing, bound=quick_bound(packing.problem))


def _progress(report: Report, done: int, total: int) -> Callable[[Progress], None]:
    return lambda now: report(done, total, now)


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


def equal_sheets(
    figure: Figure, shapes: Sequence[Sheet], equal: Equal, stock: Stock | None = None
) -> list[Sheet]:
    """Return sheets of the given shapes that are equal in what is asked for.

    Raises
    ------
    OptionError
        Where `equal` is unknown, no shape is given, or stock and `equal` do not go together.
    """
    if equal not in EQUALS:
        raise OptionError(f'cannot hold "{equal}" equal{did_you_mean(equal, EQUALS)}', "equal")
    if not shapes:
        raise OptionError("no sheet is given; name some", "sheet")
    if (equal == "stock") != (stock is not None):
        raise OptionError(
            "a stock size and holding stock equal go together; give both or neither", "stock"
        )
    ratios = [sheet.width / sheet.height for sheet in shapes]
    if stock is not None:
        return [stock.largest(ratio) for ratio in ratios]
    own = [figure.sheet] if figure.sheet is not None else []
    sized = next((sheet for sheet in (*shapes, *own) if sheet.unit), Sheet())
    if equal == "area":
        side = math.sqrt(sized.area)
        return [Sheet(side * r**0.5, side / r**0.5, sized.unit) for r in ratios]
    longest = max(sized.width, sized.height)
    return [Sheet(longest * min(1.0, r), longest * min(1.0, 1 / r), sized.unit) for r in ratios]
