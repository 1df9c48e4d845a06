"""Propagation against a truth table: all values of a few unknowns, tried one by one."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import permutations, product

import numpy as np
import pytest

from packer.deadline import Deadline
from packer.folded import propagation
from packer.folded.decisions import Decisions
from packer.folded.pair_conditions import FALSE
from packer.folded.propagation import OrderConditions, PropagationSearch

UNKNOWNS = 6
MANY = 13


@dataclass(frozen=True)
class Drawn:
    """Literals that may not all be equal, and sums, of unknowns from 1 on."""

    rings: np.ndarray
    sums: tuple[tuple[tuple[int, ...], int], ...]
    unknowns: int

    def asked(self, first=()):
        """The same as conditions: for each ring three layers that lie over each other."""
        below = np.full((3 * len(self.rings), 3 * len(self.rings)), -1)
        for k, ring in enumerate(self.rings.tolist()):
            for at, literal in enumerate(ring):
                one, other = 3 * k + at, 3 * k + (at + 1) % 3
                below[one, other], below[other, one] = literal, literal ^ 1
        sums = np.full((len(self.sums), 4), FALSE)
        for row, (literals, _) in zip(sums, self.sums, strict=True):
            row[: len(literals)] = literals
        odd = np.array([odd == 1 for _, odd in self.sums], dtype=bool)
        fixed = np.zeros(below.shape, dtype=bool)
        return OrderConditions(
            np.arange(self.unknowns + 1), below, fixed, sums, odd, tuple(first)
        )

    def search(self, wish, first=()):
        return PropagationSearch(self.asked(first), np.append(1.0, wish))


def conditions(rng, rings, sums, unknowns=UNKNOWNS):
    """Conditions on different unknowns each, drawn at random."""

    def literals(count):
        return 2 + 2 * rng.choice(unknowns, count, replace=False) + rng.integers(2, size=count)

    rows = [(tuple(sorted(literals(k) & ~1)), int(rng.integers(2))) for k in sums]
    triples = np.array([literals(3) for _ in range(rings)], dtype=np.intp).reshape(-1, 3)
    return Drawn(triples, tuple(rows), unknowns)


def hold(values, made):
    true = [True, False, *(bool(value) != bool(k % 2) for value in values for k in range(2))]
    return all(0 < sum(true[x] for x in ring) < 3 for ring in made.rings) and all(
        sum(true[x] for x in row) % 2 == odd for row, odd in made.sums
    )


@pytest.mark.parametrize("seed", range(60))
def test_values_are_found_where_there_are_any_and_only_there(seed):
    rng = np.random.default_rng(seed)
    made = conditions(rng, 6 + seed % 13, [2, 4, 4][: seed % 4] + [1] * (seed % 2))
    wish = rng.normal(size=UNKNOWNS)
    found = made.search(wish).run(300)
    there_are = any(hold(values, made) for values in product((0, 1), repeat=UNKNOWNS))
    assert (found is not None) == there_are
    if found is not None:
        assert hold(found[1:] > 0, made)


def test_both_outcomes_occur():
    """Else the test above would compare nothing."""
    outcomes = set()
    for seed in range(60):
        rng = np.random.default_rng(seed)
        made = conditions(rng, 6 + seed % 13, [2, 4, 4][: seed % 4] + [1] * (seed % 2))
        outcomes.add(any(hold(values, made) for values in product((0, 1), repeat=UNKNOWNS)))
    assert outcomes == {True, False}


def test_what_is_wished_is_granted_where_it_can_be():
    made = Drawn(np.array([[2, 4, 6]]), (), 3)
    found = made.search(np.array([3.0, 2.0, 1.0])).run(10)
    assert found.tolist() == [1, 1, 1, -1]


def answers(made):
    """(k, MANY) all values that hold, in a truth table."""
    table = np.array(list(product((0, 1), repeat=MANY)))
    known = np.tile([1, 0], (len(table), 1))
    true = np.hstack([known, np.stack([table, 1 - table], axis=2).reshape(len(table), -1)])
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
    search = made.search(rng.normal(size=MANY))
    found = search.run(10_000)
    assert search.exhausted == (not len(answers(made)))
    assert (found is None) == search.exhausted
    if found is not None:
        assert hold(found[1:] > 0, made)


def test_both_outcomes_occur_after_contradictions():
    ends, learned = [], 0
    for seed in range(30):
        rng = np.random.default_rng(seed)
        made = conditions(rng, 24 + seed % 7, [3, 4, 4], MANY)
        search = made.search(rng.normal(size=MANY))
        ends.append(search.run(10_000) is None)
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
    found = made.search(wish, (1 + first).tolist()).run(10_000)
    granted = answers(made)[:, first] == (wish[first] > 0)
    if not len(granted):
        assert found is None
        return
    best = max(map(tuple, granted.tolist()))
    assert tuple(((found[1:][first] > 0) == (wish[first] > 0)).tolist()) == best


@pytest.mark.parametrize("seed", range(20))
def test_beginning_anew_after_every_contradiction_changes_no_outcome(seed, monkeypatch):
    """Whatever unknowns are decided as then, the truth table tells what is found."""
    monkeypatch.setattr(propagation, "RESTART", 1)
    monkeypatch.setattr(propagation, "GROWTH", 1.0)
    rng = np.random.default_rng(seed)
    made = conditions(rng, 22, [3, 4, 4], MANY)
    first = rng.permutation(MANY)[:3]
    wish = rng.normal(size=MANY)
    search = made.search(wish, (1 + first).tolist())
    found = search.run(10_000)
    granted = answers(made)[:, first] == (wish[first] > 0)
    assert search.exhausted == (found is None) == (not len(granted))
    if found is not None:
        best = max(map(tuple, granted.tolist()))
        assert tuple(((found[1:][first] > 0) == (wish[first] > 0)).tolist()) == best


@pytest.mark.parametrize("seed", range(40))
def test_literals_assumed_are_true_or_one_is_refuted_by_those_before_it(seed):
    """One search run again and again, what it has learned kept, against the truth table."""
    rng = np.random.default_rng(seed)
    made = conditions(rng, 10 + seed % 7, [3, 4, 4], MANY)
    search, good = made.search(rng.normal(size=MANY)), answers(made)
    for _ in range(6):
        assumed = (2 + 2 * rng.permutation(MANY)[:5] + rng.integers(2, size=5)).tolist()
        granted = np.column_stack([good[:, x // 2 - 1] == 1 - x % 2 for x in assumed])
        there_are = [granted[:, : k + 1].all(axis=1).any() for k in range(len(assumed))]
        truth = search.run(10_000, assumed)
        assert (truth is not None) == all(there_are)
        if truth is not None:
            assert hold(truth[1:] > 0, made)
            assert all((truth[x // 2] > 0) == (x % 2 == 0) for x in assumed)
        elif len(good):
            k = assumed.index(search.refuted)
            assert not there_are[k]
        assert search.exhausted <= (not len(good))


def test_both_outcomes_occur_of_what_is_assumed():
    ends = []
    for seed in range(40):
        rng = np.random.default_rng(seed)
        search = conditions(rng, 10, [3, 4, 4], MANY).search(rng.normal(size=MANY))
        ends.append(search.run(10_000, (2 + 2 * rng.permutation(MANY)[:5]).tolist()) is None)
    assert 5 < sum(ends) < 35


@pytest.mark.parametrize("seed", range(20))
def test_what_is_set_true_stays_so(seed):
    rng = np.random.default_rng(seed)
    made = conditions(rng, 14, [3, 4, 4], MANY)
    search, good = made.search(rng.normal(size=MANY)), answers(made)
    while len(good):
        truth = search.run(10_000)
        assert truth is not None
        literal = int(rng.integers(2, 2 * MANY + 2))
        search.set_true([literal])
        good = good[good[:, literal // 2 - 1] == 1 - literal % 2]
    assert search.run(10_000) is None
    assert search.exhausted


def test_many_begin_anew(monkeypatch):
    monkeypatch.setattr(propagation, "RESTART", 1)
    monkeypatch.setattr(propagation, "GROWTH", 1.0)
    beginnings = 0
    for seed in range(20):
        rng = np.random.default_rng(seed)
        search = conditions(rng, 22, [3, 4, 4], MANY).search(rng.normal(size=MANY))
        search.run(10_000)
        beginnings += search.beginnings
    assert beginnings > 40


def test_a_search_past_its_deadline_ends_without_saying_that_it_has_seen_all():
    made = Drawn(np.array([[2, 4, 6]]), (), 3)
    search = PropagationSearch(made.asked(), np.ones(4), Deadline.after(0.0))
    assert search.run(10) is None
    assert not search.exhausted


LAYERS = 5


def all_overlap(rng, classes):
    """(n, n) literals of layers that all overlap, each pair in one of some classes drawn at random."""
    below = np.full((LAYERS, LAYERS), -1)
    for one, other in zip(*np.triu_indices(LAYERS, 1), strict=True):
        literal = int(rng.integers(2, 2 * classes + 2))
        below[one, other], below[other, one] = literal, literal ^ 1
    return below


@pytest.mark.parametrize("seed", range(60))
def test_orders_are_found_where_there_are_any_and_only_there(seed):
    """Against all orders of five layers: many pairs stand for one unknown, and follow from each other."""
    rng = np.random.default_rng(seed)
    classes = 5 + seed % 4
    below = all_overlap(rng, classes)
    none = np.zeros((0, 4), dtype=np.intp)
    fixed = np.zeros(below.shape, dtype=bool)
    asked = OrderConditions(np.arange(classes + 1), below, fixed, none, np.zeros(0, dtype=bool))
    found = PropagationSearch(asked, np.append(1.0, rng.normal(size=classes))).run(10_000)
    orders = set()
    for order in permutations(range(LAYERS)):
        said = {int(below[a, b]) for k, a in enumerate(order) for b in order[k + 1 :]}
        if not any(literal ^ 1 in said for literal in said):
            orders.add(frozenset(said))
    assert (found is not None) == bool(orders)
    if found is not None:
        true = {2 * k + int(found[k] < 0) for k in range(1, classes + 1)}
        assert any(said <= true for said in orders)


def test_some_have_orders_and_some_have_none():
    """Else the test above would compare nothing."""
    ends = set()
    for seed in range(60):
        rng = np.random.default_rng(seed)
        below = all_overlap(rng, 5 + seed % 4)
        ends.add(
            any(
                not any(int(x) ^ 1 in said for x in said)
                for order in permutations(range(LAYERS))
                for said in [
                    {int(below[a, b]) for k, a in enumerate(order) for b in order[k + 1 :]}
                ]
            )
        )
    assert ends == {True, False}


def test_weights_grown_great_keep_their_order():
    """After thousands of contradictions they are made smaller; else they would end as infinite."""
    decisions = Decisions(np.arange(4), (), np.ones(4))
    for _ in range(5000):
        decisions.blame([1])
        decisions.blame([2])
    truth = np.zeros(8, dtype=np.int8)
    assert np.isfinite(decisions.weight).all()
    assert decisions.following(truth) == 2
    truth[[4, 5]] = 1, -1
    assert decisions.following(truth) == 1
    truth[[2, 3]] = 1, -1
    assert decisions.following(truth) == 0
