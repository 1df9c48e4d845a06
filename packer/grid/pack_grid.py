"""Pack a figure on the least grid of whole cells."""

from __future__ import annotations

import itertools
from dataclasses import replace
from typing import TYPE_CHECKING, Final

from packer.deadline import Deadline
from packer.errors import OptionError, SearchError
from packer.grid import cp_sat
from packer.grid.board import board_of, middles
from packer.grid.contours import best_root
from packer.grid.grid_packing import GridBound, GridPacking
from packer.grid.grid_params import DEFAULT, GridSearchParams
from packer.grid.grid_problem import GridRequest, pose_on_grid
from packer.grid.laid_grid import laid_grid
from packer.grid.longest_lengths import BoardQuestions, longest_lengths
from packer.grid.neighbourhood_search import GridProgress, NeighbourhoodSearch
from packer.grid.proposals import chosen
from packer.grid.relations import leaders, left_twins_left
from packer.grid.slack import joints_to_join, lengthened
from packer.model.figure import refuse_to_fold
from packer.model.packing import SearchRecord
from packer.model.problem import posed
from packer.search.options import SearchOptions
from packer.search.stopping import MaxStarts, NoImprovement

if TYPE_CHECKING:
    from packer.grid.longest_lengths import Filling
    from packer.model.figure import Figure, Symmetry
    from packer.model.problem import Problem
    from packer.model.sheet import Sheet

__all__ = ["EFFORT", "GridProgress", "pack_grid"]

EFFORT: Final = 30.0
"""Deterministic seconds of a search by default."""

CHOOSING: Final = 0.5
"""Share of the time that the choice of the unit may take."""


def pack_grid(
    figure: Figure | Problem,
    sheet: Sheet | None = None,
    symmetry: Symmetry | None = None,
    *,
    grid: GridRequest | None = None,
    whole_rivers: bool | None = None,
    lengthen: float | None = None,
    options: SearchOptions | None = None,
    params: GridSearchParams = DEFAULT,
) -> GridPacking:
    """Pack a figure on the least grid.

    The result depends on figure, options and seed only, unless a time limit strikes first. A
    KeyboardInterrupt keeps the best packing so far; where there is none yet, the first that a quick
    filling finds.

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
    params
        The constants of the search.

    Raises
    ------
    FigureError
        Where the flaps or rivers are more than `packer.limits` tells can be folded.
    OptionError
        Where no unit keeps within the error, the grid asked for is proven too small, or a stopping
        rule counts starts, of which there are none.
    SearchError
        Where no packing was found, or whole rivers are asked for without OR-tools.
    """
    problem = posed(figure, sheet, symmetry)
    refuse_to_fold(len(problem.tree.flaps), len(problem.tree.rivers), "a grid can hold")
    request, options = grid or GridRequest(), _usable(options)
    if whole_rivers and not cp_sat.available():
        raise SearchError(
            'joining rivers needs OR-tools; install it with pip install "packer[grid]"'
        )
    larger = problem.figure.whole_rivers if whole_rivers is None else whole_rivers
    effort = options.effort(EFFORT)
    search, stopped = _filled(problem, request, options, effort, params)
    packing = _packing(search, request.cells is not None, stopped)
    if cp_sat.available() and stopped in {"proven", "effort"}:
        most = params.larger_for_whole_rivers if larger else 1.0
        packing = _with_whole_rivers(search, packing, effort, most)
    packing = _from_best_root(packing)
    return laid_grid(packing if lengthen is None else lengthened(packing, lengthen))


def _filled(
    problem: Problem,
    request: GridRequest,
    options: SearchOptions,
    effort: float,
    params: GridSearchParams,
) -> tuple[NeighbourhoodSearch, str]:
    """Return a search that has found a packing, and why it ended.

    On one board whose unit is open it holds the longest lengths that were found.
    """
    deadline = options.deadline()
    listener = options.progress
    asked = (request.unit, request.error, request.side)
    if request.cells is not None and all(wish is None for wish in asked):
        questions = BoardQuestions(
            problem, request.cells, options.seed, deadline, listener, params, effort
        )
        longest = longest_lengths(questions)
        if longest is not None:
            return _of_filling(questions, *longest)
    search: NeighbourhoodSearch | None = None
    try:
        search = _begun(problem, request, options, effort, params, deadline)
        _find_least_grid(search, effort)
    except KeyboardInterrupt:
        if search is None or search.places is None:
            search = _begun(problem, request, options, effort, params, Deadline.after(0.0))
            _find_least_grid(search, effort)
        return search, "interrupted"
    return search, "proven" if search.proven else "time" if search.left > 0 else "effort"


def _begun(
    problem: Problem,
    request: GridRequest,
    options: SearchOptions,
    effort: float,
    params: GridSearchParams,
    deadline: Deadline,
) -> NeighbourhoodSearch:
    """Return a search for the least grid of the unit that is asked for, or else chosen."""
    share = deadline.share(CHOOSING) if deadline.limited else deadline
    rounding = chosen(problem, request.unit, request.error, share)
    on_grid = pose_on_grid(problem, rounding, side=request.side, cells=request.cells)
    return NeighbourhoodSearch(
        on_grid, options.seed, effort, deadline, options.progress, params
    )


def _of_filling(
    questions: BoardQuestions, filling: Filling, stopped: str
) -> tuple[NeighbourhoodSearch, str]:
    """Return a search that stands at a packing of the longest lengths of a board."""
    grid = pose_on_grid(questions.problem, filling.lengths, cells=questions.cells)
    search = NeighbourhoodSearch(
        grid, questions.seed, questions.left, questions.deadline, questions.progress,
        questions.params,
    )  # fmt: skip
    search.upper, search.places, search.upright = 0, filling.places, filling.upright
    search.questions = questions.asked
    return search, stopped


def _usable(options: SearchOptions | None) -> SearchOptions:
    """Return the options of an exact search, which has effort and time but no starts to count."""
    options = options or SearchOptions()
    if any(isinstance(rule, MaxStarts | NoImprovement) for rule in options.rules):
        raise OptionError(
            "the search on whole cells makes no starts; limit its effort or its time", "starts"
        )
    return options


def _find_least_grid(search: NeighbourhoodSearch, effort: float) -> None:
    """Look for the least grid: cheap bounds, a greedy filling, then search and proof in rounds.

    How much effort a figure needs for search and for proof is not known beforehand, so that the
    two alternate, and the effort granted to a proof doubles from round to round.
    """
    params = search.params
    search.bound_by_counting()
    _check_not_all_refuted(search)
    if not search.grid.monotone or len(search.grid.sizes) == 1:
        search.fill()
        search.raise_bound(effort)
        _check_not_all_refuted(search)
    else:
        search.fill()
    if search.places is None:
        raise SearchError(
            "no packing found, and none proven impossible; allow more cells, effort or time"
        )
    tips = len(leaders(search.grid.board(0)))
    for k in itertools.count():
        if search.proven or search.over:
            break
        if tips > params.proofs_up_to:
            search.improve(tips)
        else:
            search.improve(max(1, round(params.patience * tips)))
            search.decrease(params.exact_effort * 2**k)
            search.raise_bound_by_subsets()
    search.report("done")


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
    board = grid.board(k).turned(search.upright)
    sorted_out = left_twins_left(board, places)
    upright = tuple(
        bool(board.upright[own if here == there else other])
        for own, (other, here, there) in enumerate(
            zip(board.mirror.tolist(), places, sorted_out, strict=True)
        )
    )
    bound = None if asked else GridBound(grid.sizes[search.lower], search.rule)
    return GridPacking(
        grid.problem,
        grid.rounding.unit,
        grid.rounding.lengths,
        grid.sizes[k],
        middles(board.turned(upright), sorted_out),
        upright=upright if board.widths.any() else (),
        bound=bound,
        search=SearchRecord(search.seed, search.questions, 1, search.deadline.elapsed, stopped),
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
        search.report(f"joining rivers on {size[0]} x {size[1]}")
        board = board_of(packing.problem, packing.rounded, size)
        try:
            answer = cp_sat.decide(
                board,
                search.params.joining * effort,
                packing.search.seed,
                deadline=search.deadline,
                touching=joints,
            )
        except KeyboardInterrupt:
            return replace(packing, search=replace(packing.search, stopped="interrupted"))
        if answer.places is not None:
            upright = answer.upright if board.widths.any() else ()
            tips = middles(board.turned(answer.upright), answer.places)
            return replace(packing, cells=size, tips=tips, upright=upright)
    return packing
