"""Pack a figure on the least grid of whole cells: the recipe, step by step."""

from __future__ import annotations

import itertools
from dataclasses import replace
from typing import TYPE_CHECKING, Final

from packer.errors import OptionError, SearchError
from packer.grid import cp_sat
from packer.grid.board import board_of
from packer.grid.contours import best_root
from packer.grid.grid_packing import GridBound, GridPacking
from packer.grid.grid_problem import pose_on_grid
from packer.grid.neighbourhood_search import GridProgress, Hunt
from packer.grid.proposals import chosen
from packer.grid.relations import leaders, left_twins_left
from packer.grid.slack import joints_to_join, lengthened
from packer.model.packing import SearchRecord
from packer.model.problem import Problem, pose

if TYPE_CHECKING:
    from collections.abc import Callable

    from packer.grid.board import Size
    from packer.model.figure import Figure, Symmetry
    from packer.model.sheet import Sheet

__all__ = ["EFFORT", "GridProgress", "pack_grid"]

EFFORT: Final = 30.0
"""Deterministic seconds of a search by default: unsymmetric figures of 22 flaps are then mostly
proven, mirrored ones of 34."""

PROVEN_UP_TO: Final = 24
"""Tips, twins as one, up to which search asks for proofs in earnest: of larger random figures none
was proven in 60 s."""

PATIENCE: Final = 0.25
"""Questions without a smaller grid after which the exact search has its turn, for each tip, twins
as one. Six mirrored figures of 30 and 34 flaps and three random ones of 16 and 22 were proven in
CPU 41 s altogether, 45 s with 0.15, 63 s with 1."""

JOINING: Final = 0.1
"""Share of the effort that is spent again on each grid to join rivers there."""

MORE_FOR_WHOLE_RIVERS: Final = 1.15
"""How much larger a grid may become so that rivers are whole; beyond, the split is told."""


def pack_grid(
    figure: Figure | Problem,
    sheet: Sheet | None = None,
    symmetry: Symmetry | None = None,
    *,
    unit: float | None = None,
    error: float | None = None,
    side: int | None = None,
    cells: Size | None = None,
    whole_rivers: bool | None = None,
    lengthen: float | None = None,
    seed: int = 0,
    effort: float = EFFORT,
    time: float | None = None,
    progress: Callable[[GridProgress], None] | None = None,
) -> GridPacking:
    """Pack a figure on the least grid.

    The result depends on figure, options and seed only, unless `time` strikes first. A
    KeyboardInterrupt keeps the best packing so far.

    Parameters
    ----------
    figure, sheet, symmetry
        As for a circle packing; the sheet's ratio is that of the grid.
    unit
        Length of the figure that is one cell; by default as `packer.grid.proposals.chosen`.
    error
        Worst error of a rounded length, as a fraction.
    side
        Cells across, where only the other side is to be least.
    cells
        The one grid to use (across, up), instead of looking for the least.
    whole_rivers
        Whether rivers may ask for a somewhat larger grid to be single bands; by default as the
        figure says. On the least grid they are joined wherever a way is found.
    lengthen
        How far loose flaps may grow into unused paper, as a fraction; by default not at all.
    seed
        For everything random.
    effort
        Deterministic seconds of search: the same everywhere, about a CPU second each.
    time
        Limit in seconds.
    progress
        Called now and then.

    Raises
    ------
    OptionError
        Where no unit keeps within the error, or the grid asked for is proven too small.
    SearchError
        Where no packing was found, or whole rivers are asked for without OR-tools.
    """
    problem = figure if isinstance(figure, Problem) else pose(figure, sheet, symmetry)
    rounding = chosen(problem, unit, error)
    larger = problem.figure.whole_rivers if whole_rivers is None else whole_rivers
    if whole_rivers and not cp_sat.available():
        raise SearchError(
            'joining rivers needs OR-tools; install it with pip install "packer[grid]"'
        )
    grid = pose_on_grid(problem, rounding, side=side, cells=cells)
    hunt = Hunt(grid, seed, effort, time, progress)
    stopped = "effort"
    try:
        _hunt_down(hunt, effort)
        stopped = "proven" if hunt.done else "time" if hunt.left > 0 else "effort"
    except KeyboardInterrupt:
        if hunt.places is None:
            raise
        stopped = "interrupted"
    found = _packing(hunt, cells is not None, seed, stopped)
    if cp_sat.available() and stopped in {"proven", "effort"}:
        found = _with_whole_rivers(
            hunt, found, effort, MORE_FOR_WHOLE_RIVERS if larger else 1.0
        )
    found = _from_best_root(found)
    return found if lengthen is None else lengthened(found, lengthen)


def _hunt_down(hunt: Hunt, effort: float) -> None:
    """Look for the least grid: cheap bounds, a quick filling, then search and proof in rounds.

    Nobody knows beforehand how much a figure needs of either: each round places tips anew until
    nothing is gained for a while, and asks for a proof with more patience than the one before.
    """
    hunt.count()
    _check_not_all_refuted(hunt)
    if not hunt.grid.monotone or len(hunt.grid.sizes) == 1:
        hunt.fill()
        hunt.climb(effort)
        _check_not_all_refuted(hunt)
    else:
        hunt.fill()
    if hunt.places is None:
        raise SearchError(
            "no packing found, and none proven impossible; allow more cells, effort or time"
        )
    tips = len(leaders(hunt.grid.board(0)))
    for k in itertools.count():
        if hunt.done or hunt.over:
            break
        if tips > PROVEN_UP_TO:
            hunt.improve(tips)
        else:
            hunt.improve(max(1, round(PATIENCE * tips)))
            hunt.descend(16.0 * 2**k)
            hunt.climb_by_parts(0.25)
    hunt.note("done")


def _check_not_all_refuted(hunt: Hunt) -> None:
    sizes = hunt.grid.sizes
    if hunt.lower < len(sizes):
        return
    across, up = sizes[-1]
    if len(sizes) > 1:
        raise OptionError(
            f"no grid of {sizes[0][0]} cells across holds the figure ({hunt.rule}); write more "
            "cells or a larger unit",
            "side",
        )
    raise OptionError(
        f"{across} x {up} cells are proven too small ({hunt.rule}); write more cells or a larger "
        "unit",
        "cells",
    )


def _packing(hunt: Hunt, asked: bool, seed: int, stopped: str) -> GridPacking:
    grid, k, places = hunt.grid, hunt.upper, hunt.places
    assert k is not None
    assert places is not None
    board = grid.board(k)
    blunt = board.blunt.tolist()
    places = left_twins_left(board, places)
    bound = None if asked else GridBound(grid.sizes[hunt.lower], hunt.rule)
    return GridPacking(
        grid.problem,
        grid.rounding.unit,
        grid.rounding.lengths,
        grid.sizes[k],
        tuple((x + wide / 2, float(y)) for (x, y), wide in zip(places, blunt, strict=True)),
        bound=bound,
        search=SearchRecord(seed, hunt.asked, 1, hunt.seconds, stopped),
    )


def _from_best_root(packing: GridPacking) -> GridPacking:
    root, split = best_root(packing)
    return replace(packing, root=root, split_rivers=split)


def _with_whole_rivers(
    hunt: Hunt, packing: GridPacking, effort: float, most: float
) -> GridPacking:
    """Return a packing with whole rivers on a grid at most so much larger; else the one given."""
    tree = packing.tree
    if not best_root(packing)[1]:
        return packing
    joints = joints_to_join(tree, tree.n_tips + tree.joints.index(packing.root))
    first = hunt.grid.sizes.index(packing.cells)
    for k in range(first, len(hunt.grid.sizes)):
        size = hunt.grid.sizes[k]
        if max(size) > most * max(packing.cells) or hunt.late:
            break
        hunt.note(f"joining rivers on {size[0]} x {size[1]}")
        board = board_of(packing.problem, packing.rounded, size)
        try:
            answer = cp_sat.decide(
                board,
                JOINING * effort,
                packing.search.seed,
                seconds=hunt.seconds_left,
                touching=joints,
            )
        except KeyboardInterrupt:
            return packing.with_record(stopped="interrupted")
        if answer.places is not None:
            tips = tuple(
                (x + wide / 2, float(y))
                for (x, y), wide in zip(answer.places, board.blunt.tolist(), strict=True)
            )
            return replace(packing, cells=size, tips=tips)
    return packing
