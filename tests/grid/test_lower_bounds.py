"""Bounds by counting and the exact search, against plain enumeration."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from packer.grid import cp_sat as exact
from packer.grid import milp
from packer.grid.board import board_of
from packer.grid.greedy import greedy
from packer.grid.lower_bounds import most_apart, most_points, packing_counts, too_small
from packer.model.figure import Figure, Flap
from packer.model.problem import pose
from packer.model.tree import tree_of
from tests.grid.whole import filled, star, whole_figure


@pytest.mark.parametrize("seed", range(20))
def test_most_apart_is_the_largest_set(seed):
    tree = tree_of(whole_figure(seed, 8))
    d = np.rint(tree.distances).astype(int)
    for apart in np.unique(d[d > 0]).tolist():
        best = max(
            len(tips)
            for r in range(1, 9)
            for tips in itertools.combinations(range(8), r)
            if all(d[i, j] >= apart for i, j in itertools.combinations(tips, 2))
        )
        for root in range(8):
            assert len(most_apart(d, d[root], apart)) == best


@pytest.mark.parametrize("seed", range(20))
def test_counting_never_refutes_a_grid_that_holds_the_figure(seed):
    packing = filled(whole_figure(seed, 9), seed)
    assert too_small(packing.cells, packing_counts(packing.board.distances)) == ""


def test_room_is_that_of_half_open_cells():
    assert [most_points((k, 4), 2) for k in range(6)] == [3, 3, 6, 6, 9, 9]


def fits(board):
    """Plain reference: every choice of a grid point for every tip."""
    points = list(itertools.product(range(board.size[0] + 1), range(board.size[1] + 1)))
    return any(
        not board.violations(places) for places in itertools.product(points, repeat=board.n)
    )


TINY = (
    ("none", (1, 1, 1), ()),
    ("none", (2, 1, 1), ()),
    ("none", (1, 1), ("corner",)),
    ("none", (1, 2), ("top",)),
    ("none", (1, 1), ((0.5, 0.5),)),
    ("none", (1, 1), ("middle",)),
    ("book", (1, 1), ()),
    ("book", (1, 2), ("edge",)),
    ("diagonal", (1, 1), ()),
    ("diagonal", (2, 1), ("corner",)),
)


@pytest.mark.parametrize(("symmetry", "lengths", "place"), TINY)
@pytest.mark.parametrize("decide", [exact.decide, milp.decide], ids=["exact", "milp"])
def test_both_solvers_agree_with_enumeration(symmetry, lengths, place, decide):
    flaps = [Flap(f"f{k}", "hub", float(n)) for k, n in enumerate(lengths)]
    flaps[0] = Flap("f0", "hub", float(lengths[0]), place=place)
    if symmetry != "none":
        flaps.append(Flap("twin", "hub", 1.0, pair=True))
    problem = pose(Figure("tiny", tuple(flaps), symmetry=symmetry))
    whole = [int(x) for x in problem.tree.lengths]
    for side in range(1, 4 if symmetry == "none" else 3):
        board = board_of(problem, whole, (side, side))
        answer = decide(board, 5.0)
        assert (answer.places is not None) == fits(board)
        assert answer.refuted == (answer.places is None)
        if answer.places is not None:
            assert board.violations(answer.places) == []


@pytest.mark.parametrize("decide", [exact.decide, milp.decide], ids=["exact", "milp"])
def test_tips_bound_to_corners_take_different_ones(decide):
    problem = pose(star(1, 1, 1, place=("corner",)))
    for side in (1, 2):
        board = board_of(problem, [1, 1, 1], (side, side))
        answer = decide(board, 5.0)
        assert answer.refuted == (not fits(board)) == (side == 1)
        assert answer.refuted or board.violations(answer.places) == []


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("symmetry", ["none", "book", "diagonal"])
def test_the_two_solvers_agree(seed, symmetry):
    problem = pose(whole_figure(seed, 6, symmetry=symmetry))
    whole = [int(x) for x in problem.tree.lengths]
    first = filled(whole_figure(seed, 6, symmetry=symmetry)).cells[0]
    for side in range(first - 2, first + 1):
        board = board_of(problem, whole, (side, side))
        answers = [decide(board, 5.0) for decide in (exact.decide, milp.decide)]
        assert answers[0].refuted == answers[1].refuted
        for answer in answers:
            assert answer.refuted or board.violations(answer.places) == []


@pytest.mark.parametrize("symmetry", ["none", "book", "diagonal"])
def test_the_quick_filling_keeps_the_rules(symmetry):
    for seed in range(8):
        packing = filled(whole_figure(seed, 9, symmetry=symmetry), seed)
        assert packing.violations() == []


def test_the_quick_filling_gives_up_on_a_board_too_small():
    problem = pose(whole_figure(1, 9))
    board = board_of(problem, [int(x) for x in problem.tree.lengths], (2, 2))
    assert greedy(board, np.random.default_rng(0), 2) is None
