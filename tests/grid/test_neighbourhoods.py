"""Tips placed anew: what is kept can be kept, and leaves room for a smaller grid."""

from __future__ import annotations

import itertools
from types import SimpleNamespace

import numpy as np
import pytest

from packer.grid import cp_sat as exact
from packer.grid.board import board_of
from packer.grid.neighbourhoods import kept, orders, set_free, too_long
from tests.grid.whole import filled, whole_figure


@pytest.mark.parametrize("symmetry", ["none", "book", "diagonal"])
@pytest.mark.parametrize("seed", range(4))
def test_what_is_kept_can_be_kept(seed, symmetry):
    """On the same grid the filling itself is an answer, however it is turned and named."""
    packing = filled(whole_figure(seed, 9, symmetry=symmetry), seed)
    board, places = packing.board, packing.places
    free = set_free(board, places, np.random.default_rng(seed), 2)
    assert (free == free[board.mirror]).all()
    answer = exact.decide(board, 5.0, fixed=kept(board, places, free))
    assert answer.places is not None
    assert board.violations(answer.places) == []


@pytest.mark.parametrize("seed", range(6))
def test_no_chain_that_is_kept_is_too_long(seed):
    """Plain reference: every chain of the tips that are not free, one by one."""
    packing = filled(whole_figure(seed, 8), seed)
    side = packing.cells[0] - 1
    board = board_of(packing.problem, packing.rounded, (side, side))
    free = set_free(board, packing.places, np.random.default_rng(seed), 2)
    for before in orders(packing.board, packing.places):
        rest = np.flatnonzero(~free).tolist()
        for length in range(2, len(rest) + 1):
            for chain in itertools.permutations(rest, length):
                steps = list(itertools.pairwise(chain))
                if all(before[a, b] for a, b in steps):
                    assert sum(board.distances[a, b] for a, b in steps) <= side


def test_a_wide_tip_is_kept_where_it_is_farther_from_the_other():
    """By hand: two cells wide it ends a column left of the other, which lies two rows above it."""
    board = SimpleNamespace(extent=np.array([[2, 0], [0, 0]]))
    left_of, below = orders(board, [(0, 0), (3, 2)])
    assert not left_of.any()
    assert below.tolist() == [[False, True], [False, False]]
    board = SimpleNamespace(extent=np.array([[0, 2], [0, 0]]))
    left_of, below = orders(board, [(0, 0), (2, 3)])
    assert left_of.tolist() == [[False, True], [False, False]]
    assert not below.any()


def test_a_chain_too_long_is_told():
    before = np.array([[0, 1, 1], [0, 0, 1], [0, 0, 0]], dtype=bool)
    distances = np.array([[0, 3, 2], [3, 0, 4], [2, 4, 0]])
    assert too_long(before, distances, np.arange(3), 7) == []
    assert too_long(before, distances, np.arange(3), 6) == [2, 1, 0]
