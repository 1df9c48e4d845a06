"""Propagation against a truth table: all values of a few unknowns, tried one by one."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from packer.folded.propagation import PropagationSearch, RingsAndSums

UNKNOWNS = 6
MANY = 13


def conditions(rng, rings, sums, unknowns=UNKNOWNS):
    """RingsAndSums on different unknowns each, drawn at random."""

    def literals(count):
        return 2 * rng.choice(unknowns, count, replace=False) + rng.integers(2, size=count)

    rows = [(tuple(sorted(literals(k) & ~1)), int(rng.integers(2))) for k in sums]
    triples = np.array([literals(3) for _ in range(rings)], dtype=np.intp).reshape(-1, 3)
    return RingsAndSums(np.arange(unknowns), triples, tuple(rows))


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


def answers(made):
    """(k, MANY) all values that hold, in a truth table."""
    table = np.array(list(product((0, 1), repeat=MANY)))
    true = np.stack([table, 1 - table], axis=2).reshape(len(table), -1)
    good = np.ones(len(table), dtype=bool)
    for ring in made.rings:
        good &= np.isin(true[:, ring].sum(axis=1), (1, 2))
    for row, odd in made.sums:
        good &= true[:, row].sum(axis=1) % 2 == odd
    return table[good]


@pytest.mark.parametrize("seed", range(30))
def test_a_search_that_has_seen_all_says_so_and_only_then(seed):
    """So many rings that a third has no answer; what is learned from contradictions stays true."""
    rng = np.random.default_rng(seed)
    made = conditions(rng, 24 + seed % 7, [3, 4, 4], MANY)
    search = PropagationSearch(made, rng.normal(size=MANY), 10_000)
    found = search.run()
    assert search.exhausted == (not len(answers(made)))
    assert (found is None) == search.exhausted
    if found is not None:
        assert hold(found > 0, made)


def test_both_outcomes_occur_after_contradictions():
    ends, learned = [], 0
    for seed in range(30):
        rng = np.random.default_rng(seed)
        made = conditions(rng, 24 + seed % 7, [3, 4, 4], MANY)
        search = PropagationSearch(made, rng.normal(size=MANY), 10_000)
        ends.append(search.run() is None)
        learned += len(search.clauses)
    assert 5 < sum(ends) < 25
    assert learned > 100


@pytest.mark.parametrize("seed", range(20))
def test_what_is_preferred_is_as_wished_in_its_order(seed):
    """The first of all answers in the order of preference, by the truth table."""
    rng = np.random.default_rng(seed)
    made = conditions(rng, 18, [3, 4, 4], MANY)
    first = rng.permutation(MANY)[:7]
    wish = rng.normal(size=MANY)
    asked = RingsAndSums(made.unknowns, made.rings, made.sums, tuple(first.tolist()))
    found = PropagationSearch(asked, wish, 10_000).run()
    granted = answers(made)[:, first] == (wish[first] > 0)
    if not len(granted):
        assert found is None
        return
    best = max(map(tuple, granted.tolist()))
    assert tuple(((found[first] > 0) == (wish[first] > 0)).tolist()) == best
