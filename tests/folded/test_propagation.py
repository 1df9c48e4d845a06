"""Propagation against a truth table: all values of a few unknowns, tried one by one."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from packer.folded.propagation import PropagationSearch, RingsAndSums

UNKNOWNS = 6


def conditions(rng, rings, sums):
    """RingsAndSums on different unknowns each, drawn at random."""

    def literals(count):
        return 2 * rng.choice(UNKNOWNS, count, replace=False) + rng.integers(2, size=count)

    rows = [(tuple(sorted(literals(k) & ~1)), int(rng.integers(2))) for k in sums]
    triples = np.array([literals(3) for _ in range(rings)], dtype=np.intp).reshape(-1, 3)
    return RingsAndSums(np.arange(UNKNOWNS), triples, tuple(rows))


def hold(values, made):
    true = [bool(value) != bool(k % 2) for value in values for k in range(2)]
    return all(0 < sum(true[x] for x in ring) < 3 for ring in made.rings) and all(
        sum(true[x] for x in row) % 2 == odd for row, odd in made.sums
    )


@pytest.mark.parametrize("seed", range(60))
def test_values_are_found_where_there_are_any_and_only_there(seed):
    rng = np.random.default_rng(seed)
    made = conditions(rng, 6 + seed % 13, [2, 4, 4][: seed % 4] + [1] * (seed % 2))
    wish = rng.normal(size=UNKNOWNS)
    found = PropagationSearch(made, wish, 300).run()
    there_are = any(hold(values, made) for values in product((0, 1), repeat=UNKNOWNS))
    assert (found is not None) == there_are
    if found is not None:
        assert hold(found > 0, made)


def test_both_outcomes_occur():
    """Else the test above would compare nothing."""
    outcomes = set()
    for seed in range(60):
        rng = np.random.default_rng(seed)
        made = conditions(rng, 6 + seed % 13, [2, 4, 4][: seed % 4] + [1] * (seed % 2))
        outcomes.add(any(hold(values, made) for values in product((0, 1), repeat=UNKNOWNS)))
    assert outcomes == {True, False}


def test_what_is_wished_is_granted_where_it_can_be():
    made = RingsAndSums(np.arange(3), np.array([[0, 2, 4]]), ())
    found = PropagationSearch(made, np.array([3.0, 2.0, 1.0]), 10).run()
    assert found.tolist() == [1, 1, -1]
