"""Equal unknowns by linear algebra against truth tables of a few unknowns."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from packer.deadline import Deadline
from packer.folded.pair_conditions import FALSE, TRUE
from packer.folded.parity import equal_by_parity

UNKNOWNS = 9


def drawn(seed):
    """Sums of one to four literals, the unknown 0 among them, all held by one assignment drawn first."""
    rng = np.random.default_rng(seed)
    value = np.append(1, rng.integers(2, size=UNKNOWNS))
    sums = np.full((4 + seed % 6, 4), FALSE)
    for row in sums:
        size = rng.integers(1, 5)
        row[:size] = 2 * rng.choice(UNKNOWNS + 1, size) + rng.integers(2, size=size)
    true = (value[sums >> 1] + sums) % 2
    return sums, true.sum(axis=1) % 2 == 1


def solutions(sums, odd):
    """(k, 2 * unknowns) all that hold, of each literal whether it is true."""
    table = np.array([(1, *values) for values in product((0, 1), repeat=UNKNOWNS)])
    true = np.stack([table, 1 - table], axis=2).reshape(len(table), -1)
    return true[(true[:, sums].sum(axis=2) % 2 == odd).all(axis=1)]


def classes(one, other):
    """Of each literal the least that equals it by some pairs, opposites with it."""
    least = np.arange(2 * UNKNOWNS + 2)
    pairs = np.concatenate([np.column_stack([one, other]), np.column_stack([one, other]) ^ 1])
    for _ in least:
        for a, b in pairs.tolist():
            least[[a, b]] = least[[a, b]].min()
    return least


@pytest.mark.parametrize("seed", range(80))
def test_those_literals_are_equal_that_are_so_in_all_solutions(seed):
    sums, odd = drawn(seed)
    found = classes(*equal_by_parity(sums, odd, Deadline.after()))
    true = solutions(sums, odd)
    for a in range(2, 2 * UNKNOWNS + 2):
        for b in range(a):
            equal = bool((true[:, a] == true[:, b]).all())
            assert (found[a] == found[b]) == equal


def test_some_are_equal_and_some_known():
    """Else the test above would compare nothing."""
    equal, known = 0, 0
    for seed in range(80):
        _, other = equal_by_parity(*drawn(seed), Deadline.after())
        known += int((other == FALSE).sum())
        equal += int((other > FALSE).sum())
    assert equal > 100
    assert known > 100


@pytest.mark.parametrize("seed", range(20))
def test_what_is_told_without_time_is_told_with_it(seed):
    """An elimination that is broken off tells less, and nothing that is not so."""
    sums, odd = drawn(seed)
    one, other = equal_by_parity(sums, odd, Deadline.after(0.0))
    assert not len(one)
    assert not len(other)


def test_of_sums_that_contradict_each_other_true_equals_false():
    sums = np.array([[2, 4, FALSE, FALSE], [4, 6, FALSE, FALSE], [6, 2, FALSE, FALSE]])
    one, other = equal_by_parity(sums, np.array([True, False, False]), Deadline.after())
    assert (TRUE, FALSE) in set(zip(one.tolist(), other.tolist(), strict=True))
    one, other = equal_by_parity(sums, np.array([True, False, True]), Deadline.after())
    assert set(zip(one.tolist(), other.tolist(), strict=True)) == {(4, 3), (6, 3)}
