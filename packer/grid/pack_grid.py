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
from packer.grid.grid_problem import GridRequest, pose_on_grid
from packer.grid.laid_grid import laid_grid
from packer.grid.neighbourhood_search import GridProgress, NeighbourhoodSearch
from packer.grid.proposals import chosen, fitting
from packer.grid.relations import leaders, left_twins_left
from packer.grid.slack import joints_to_join, lengthened
from packer.model.packing import SearchRecord
from packer.model.problem import Problem, pose
from packer.search.options import SearchOptions
from packer.search.stopping import MaxStarts, NoImprovement

if TYPE_CHECKING:
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
    grid: GridRequest | None = None,
    whole_rivers: bool | None = None,
    lengthen: float | None = None,
    options: SearchOptions | None = None,
) -> GridPacking:
    """Pack a figure on the least grid.

    The result depends on figure, options and seed only, unless a time limit strikes first. A
    KeyboardInterrupt keeps the best packing so far.

    Parameters
    ----------
    figure, sheet, symmetry
        As for a circle packing; the sheet's ratio is that of the grid.
    grid
        The unit and the cells asked for; by default the least grid of a usual unit.
    whole_rivers
        Whether rivers may ask for a somewhat larger grid to be single bands; by default as the
        figure says. On the least grid they are joined wherever a way is found.
    lengthen
        How far loose flaps may grow into unused paper, as a fraction; by default not at all.
    options
        Seed and limits; `EFFORT` deterministic seconds by default, the same everywhere and about a
        CPU second each. The exact solver works in this process alone. Progress is told by a
        `GridProgress`.

    Raises
    ------
    OptionError
        Where no unit keeps within the error, the grid asked for is proven too small, or a stopping
        rule counts starts, of which there are none.
    SearchError
        Where no packing was found, or whole rivers are asked for without OR-tools.
    """
    problem = figure if isinstance(figure, Problem) else pose(figure, sheet, symmetry)
    request, options = grid or GridRequest(), _usable(options)
    if whole_rivers and not cp_sat.available():
        raise SearchError(
            'joining rivers needs OR-tools; install it with pip install "packer[grid]"'
        )
    rounding = None
    if request.cells is not None and request.unit is None and request.error is None:
        rounding = fitting(problem, request.cells)
    rounding = rounding or chosen(problem, request.unit, request.error)
    on_grid = pose_on_grid(problem, rounding, side=request.side, cells=request.cells)
    larger = problem.figure.whole_rivers if whole_rivers is None else whole_rivers
    effort = options.effort(EFFORT)
    search = NeighbourhoodSearch(
        on_grid, options.seed, effort, options.deadline(), options.progress
    )
    stopped = "effort"
    try:
        _find_least_grid(search, effort)
        stopped = "proven" if search.done else "time" if search.left > 0 else "effort"
    except KeyboardInterrupt:
        if search.places is None:
            raise
        stopped = "interrupted"
    packing = _packing(search, request.cells is not None, stopped)
    if cp_sat.available() and stopped in {"proven", "effort"}:
        most = MORE_FOR_WHOLE_RIVERS if larger else 1.0
        packing = _with_whole_rivers(search, packing, effort, most)
    packing = _from_best_root(packing)
    return laid_grid(packing if lengthen is None else lengthened(packing, lengthen))


def _usable(options: SearchOptions | None) -> SearchOptions:
    """Return the options of an exact search, which has effort and time but no starts to count."""
    options = options or SearchOptions()
    if any(isinstance(rule, MaxStarts | NoImprovement) for rule in options.rules):
        raise OptionError(
            "the search on whole cells makes no starts; limit its effort or its time", "starts"
        )
    return options


def _find_least_grid(search: NeighbourhoodSearch, effort: float) -> None:
    """Look for the least grid: cheap bounds, a quick filling, then search and proof in rounds.

    Nobody knows beforehand how much a figure needs of either: each round places tips anew until
    nothing is gained for a while, and asks for a proof with more patience than the one before.
    """
    search.count()
    _check_not_all_refuted(search)
    if not search.grid.monotone or len(search.grid.sizes) == 1:
        search.fill()
        search.climb(effort)
        _check_not_all_refuted(search)
    else:
        search.fill()
    if search.places is None:
        raise SearchError(
            "no packing found, and none proven impossible; allow more cells, effort or time"
        )
    tips = len(leaders(search.grid.board(0)))
    for k in itertools.count():
        if search.done or search.over:
            break
        if tips > PROVEN_UP_TO:
            search.improve(tips)
        else:
            search.improve(max(1, round(PATIENCE * tips)))
            search.descend(16.0 * 2**k)
            search.climb_by_parts(0.25)
    search.note("done")


def _check_not_all_refuted(search: NeighbourhoodSearch) -> None:
    sizes = search.grid.sizes
    if search.lower < len(sizes):
        return
    across, up = sizes[-1]
    if len(sizes) > 1:
        raise OptionError(
            f"no grid of {sizes[0][0]} cells across holds the figure ({search.rule}); write more "
            "cells or a larger unit",
            "side",
        )
    raise OptionError(
        f"{across} x {up} cells are proven too small ({search.rule}); write more cells or a larger "
        "unit",
        "cells",
    )


def _packing(search: NeighbourhoodSearch, asked: bool, stopped: str) -> GridPacking:
    grid, k, places = search.grid, search.upper, search.places
    assert k is not None
    assert places is not None
    board = grid.board(k)
    blunt = board.blunt.tolist()
    places = left_twins_left(board, places)
    bound = None if asked else GridBound(grid.sizes[search.lower], search.rule)
    return GridPacking(
        grid.problem,
        grid.rounding.unit,
        grid.rounding.lengths,
        grid.sizes[k],
        tuple((x + wide / 2, float(y)) for (x, y), wide in zip(places, blunt, strict=True)),
        bound=bound,
        search=SearchRecord(search.seed, search.asked, 1, search.deadline.elapsed, stopped),
    )


def _from_best_root(packing: GridPacking) -> GridPacking:
    root, split = best_root(packing)
    return replace(packing, root=root, split_rivers=split)


def _with_whole_rivers(
    search: NeighbourhoodSearch, packing: GridPacking, effort: float, most: float
) -> GridPacking:
    """Return a packing with whole rivers on a grid at most so much larger; else the one given."""
    tree = packing.tree
    if not best_root(packing)[1]:
        return packing
    joints = joints_to_join(tree, tree.n_tips + tree.joints.index(packing.root))
    first = search.grid.sizes.index(packing.cells)
    for k in range(first, len(search.grid.sizes)):
        size = search.grid.sizes[k]
        if max(size) > most * max(packing.cells) or search.deadline.over:
            break
        search.note(f"joining rivers on {size[0]} x {size[1]}")
        board = board_of(packing.problem, packing.rounded, size)
        try:
            answer = cp_sat.decide(
                board,
                JOINING * effort,
                packing.search.seed,
                deadline=search.deadline,
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
