"""The solver in compiled code against truth tables, and against all orders of a few layers."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest

from packer.deadline import Deadline
from packer.folded import cadical_search
from packer.folded.propagation import OrderConditions
from tests.folded.test_propagation import LAYERS, MANY, all_overlap, answers, conditions, hold

pytest.importorskip("pysolvers")

NONE = np.zeros((0, 2), dtype=np.intp)


def search_of(made, wish, creases=NONE, deadline=None):
    return cadical_search.CadicalSearch(made.asked(), creases, np.append(1.0, wish), deadline)


def drawn(seed):
    """So many rings that a third of them has no answer."""
    return conditions(np.random.default_rng(seed), 24 + seed % 7, [3, 4, 4], MANY)


def beside(made):
    """Of each ring two layers, as if they met at a crease: then its triple is told at once."""
    return 3 * np.arange(len(made.rings))[:, None] + np.array([0, 1])


@pytest.mark.parametrize("told_at_once", [False, True])
@pytest.mark.parametrize("seed", range(30))
def test_values_are_found_where_there_are_any_and_only_there(seed, told_at_once):
    made = drawn(seed)
    creases = beside(made) if told_at_once else NONE
    wish = np.random.default_rng(seed).normal(size=MANY) * (
        seed % 3 > 0
    )  # of some nothing is wished
    search = search_of(made, wish, creases)
    found = search.run(10_000)
    assert search.exhausted == (not len(answers(made)))
    assert (found is None) == search.exhausted
    if found is not None:
        assert hold(found[1:] > 0, made)


@pytest.mark.parametrize("seed", range(30))
def test_what_is_refuted_is_false_wherever_those_assumed_before_it_are_true(seed):
    """Asked again and again, each time with other literals; what was learned must not mislead."""
    made, rng = drawn(seed), np.random.default_rng(seed)
    table = answers(made)
    search = search_of(made, rng.normal(size=MANY))
    for _ in range(20):
        assumed = (2 + 2 * rng.permutation(MANY)[:4] + rng.integers(2, size=4)).tolist()
        holds = np.array([table[:, x // 2 - 1] != x % 2 for x in assumed]).T
        found = search.run(10_000, assumed)
        assert (found is not None) == holds.all(axis=1).any()
        if found is not None:
            assert hold(found[1:] > 0, made)
            assert all((found[x >> 1] > 0) != x % 2 for x in assumed)
        elif not search.exhausted:
            at = assumed.index(search.refuted)
            assert not holds[:, : at + 1].all(axis=1).any()


def test_what_is_set_true_stays_so():
    made = next(made for made in map(drawn, range(30)) if len(answers(made)) > 1)
    table = answers(made)
    (varied,) = np.nonzero(table.min(axis=0) < table.max(axis=0))
    literal = 2 * (int(varied[0]) + 1)
    for given in (literal, literal + 1):
        search = search_of(made, np.ones(MANY))
        search.set_true([given])
        for _ in range(3):
            assert (search.run(10_000)[literal >> 1] > 0) == (given == literal)
        assert search.run(10_000, [given ^ 1]) is None
        assert search.refuted == given ^ 1
    search.set_true([literal])
    assert search.run(10_000) is None
    assert search.exhausted


@pytest.mark.parametrize("seed", range(60))
def test_orders_are_found_where_there_are_any_and_only_there(seed):
    """Against all orders of five layers; many pairs stand for one unknown."""
    rng = np.random.default_rng(seed)
    classes = 5 + seed % 4
    below = all_overlap(rng, classes)
    no_sums, no_odd = np.zeros((0, 4), dtype=np.intp), np.zeros(0, dtype=bool)
    fixed = np.zeros(below.shape, dtype=bool)
    asked = OrderConditions(np.arange(classes + 1), below, fixed, no_sums, no_odd)
    creases = np.array([[0, 1], [2, 3]])[: seed % 3]
    wish = np.append(1.0, rng.normal(size=classes))
    found = cadical_search.CadicalSearch(asked, creases, wish).run(10_000)
    there_is = False
    for order in permutations(range(LAYERS)):
        said = {int(below[a, b]) for k, a in enumerate(order) for b in order[k + 1 :]}
        there_is |= not any(literal ^ 1 in said for literal in said)
    assert (found is not None) == there_is


def test_a_search_that_is_over_says_nothing():
    made = drawn(0)
    search = search_of(made, np.ones(MANY), deadline=Deadline.after(0.0))
    assert search.run(10_000) is None
    assert not search.exhausted
    assert search.refuted is None


def test_a_run_ends_after_so_many_contradictions_and_the_next_goes_on():
    made = conditions(np.random.default_rng(1), 1, [4] * 45, 40)
    search = search_of(made, np.ones(40))
    assert search.run(5) is None
    assert 5 <= search.conflicts < 20  # CaDiCaL looks up now and then
    assert not search.exhausted
    found = search.run(100_000)
    assert search.exhausted == (found is None)
    assert search.conflicts > 50
