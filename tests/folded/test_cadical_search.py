"""The solver in compiled code against truth tables, and against all orders of a few layers."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest

from packer.deadline import Deadline
from packer.folded.cadical_search import CadicalSearch
from packer.folded.layer_relations import layer_relations
from packer.folded.pair_conditions import FALSE, TRUE, PairConditions, pair_conditions
from tests.folded.stacks import LAYERS, stack, valid
from tests.folded.test_propagation import LAYERS as FIVE
from tests.folded.test_propagation import MANY, all_overlap, answers, conditions, hold

pytest.importorskip("pysolvers")

NONE = np.zeros((0, 2), dtype=np.intp)
ENOUGH = 10_000


def search_of(made, creases=NONE, deadline=None):
    """A search that has been told everything."""
    asked = made.asked()
    unknowns = np.arange(2 * made.unknowns + 2)
    pairs = PairConditions(asked.below, unknowns, asked.sums, asked.odd, creases)
    search = CadicalSearch(pairs, deadline or Deadline.after())
    search.tell(np.ones(len(asked.below), dtype=bool))
    return search


def drawn(seed):
    """So many rings that a third of them has no answer."""
    return conditions(np.random.default_rng(seed), 24 + seed % 7, [3, 4, 4], MANY)


def beside(made):
    """Of each ring two layers, as if they met at a crease: then its triple is told at once."""
    return 3 * np.arange(len(made.rings))[:, None] + np.array([0, 1])


def wished(rng, count):
    return np.append(1, rng.integers(-1, 2, size=count))


@pytest.mark.parametrize("told_at_once", [False, True])
@pytest.mark.parametrize("seed", range(30))
def test_values_are_found_where_there_are_any_and_only_there(seed, told_at_once):
    made = drawn(seed)
    search = search_of(made, beside(made) if told_at_once else NONE)
    found = search.run(TRUE, wished(np.random.default_rng(seed), MANY), ENOUGH)
    assert search.refuted == (not len(answers(made)))
    assert (found is None) == search.refuted
    if found is not None:
        assert hold(found[1:] > 0, made)


@pytest.mark.parametrize("seed", range(30))
def test_what_is_assumed_is_true_or_refuted(seed):
    """Asked again and again, each time with another literal; what was learned must not mislead."""
    made, rng = drawn(seed), np.random.default_rng(seed)
    table = answers(made)
    search = search_of(made)
    for _ in range(20):
        literal = 2 + int(rng.integers(2 * MANY))
        holds = table[:, literal // 2 - 1] != literal % 2
        found = search.run(literal, wished(rng, MANY), ENOUGH)
        assert (found is not None) == holds.any()
        assert search.refuted == (not holds.any())
        if found is not None:
            assert hold(found[1:] > 0, made)
            assert (found[literal >> 1] > 0) != literal % 2


def test_what_is_set_true_stays_so():
    made = next(made for made in map(drawn, range(30)) if len(answers(made)) > 1)
    table = answers(made)
    (varied,) = np.nonzero(table.min(axis=0) < table.max(axis=0))
    literal = 2 * (int(varied[0]) + 1)
    wish = np.ones(MANY + 1)
    for given in (literal, literal + 1):
        search = search_of(made)
        search.set_true([given])
        for _ in range(3):
            assert (search.run(TRUE, wish, ENOUGH)[literal >> 1] > 0) == (given == literal)
        assert search.run(given ^ 1, wish, ENOUGH) is None
        assert search.refuted
    search.set_true([literal])
    assert search.run(TRUE, wish, ENOUGH) is None
    assert search.refuted


def test_what_is_wished_is_granted_where_nothing_contradicts_it():
    made = conditions(np.random.default_rng(2), 3, [4], MANY)
    for row in answers(made)[::50]:
        wish = np.append(1, np.where(row, 1, -1))
        found = search_of(made).run(TRUE, wish, ENOUGH)
        named = {int(x) >> 1 for x in made.rings.ravel()}
        assert all((found[x] > 0) == row[x - 1] for x in named)


@pytest.mark.parametrize("seed", range(60))
def test_orders_are_found_where_there_are_any_and_only_there(seed):
    """Against all orders of five layers; many pairs stand for one unknown."""
    rng = np.random.default_rng(seed)
    classes = 5 + seed % 4
    below = all_overlap(rng, classes)
    no_sums, no_odd = np.zeros((0, 4), dtype=np.intp), np.zeros(0, dtype=bool)
    creases = np.array([[0, 1], [2, 3]])[: seed % 3]
    asked = PairConditions(below, np.arange(2 * classes + 2), no_sums, no_odd, creases)
    search = CadicalSearch(asked, Deadline.after())
    search.tell(np.ones(FIVE, dtype=bool))
    found = search.run(TRUE, wished(rng, classes), ENOUGH)
    there_is = False
    for order in permutations(range(FIVE)):
        said = {int(below[a, b]) for k, a in enumerate(order) for b in order[k + 1 :]}
        there_is |= not any(literal ^ 1 in said for literal in said)
    assert (found is not None) == there_is


@pytest.mark.parametrize("learned", [False, True])
@pytest.mark.parametrize("seed", range(60))
def test_few_layers_refute_nothing_that_all_have_and_all_layers_all_else(seed, learned):
    """Against all orders of six layers, told in three parts; with two pairs the same way, learned late."""
    crossings = stack(seed, 5)
    orders = valid(crossings)
    asked = pair_conditions(layer_relations(crossings))
    if asked is None:
        assert not orders
        return
    rng = np.random.default_rng(seed)
    search = CadicalSearch(asked, Deadline.after())
    layers = rng.permutation(LAYERS)
    for count in (3, 5, LAYERS):
        told = np.isin(np.arange(LAYERS), layers[:count])
        search.tell(told)
        if learned and count == 5:
            a, b, c, d = layers[:4]
            one, other = asked.below(np.array([a, b]), np.array([c, d]))
            joined = asked.with_equal(np.array([one]), np.array([other]))
            orders = [r for r in orders if (r[a] < r[c]) == (r[b] < r[d])]
            if joined is None:
                assert not orders
                return
            search.learn(joined)
            asked = joined
        inside = np.flatnonzero(told)
        for first, second in rng.permuted(np.tile(inside, (6, 1)), axis=1)[:, :2]:
            (literal,) = asked.below(np.array([first]), np.array([second]))
            truth = search.run(int(literal), wished(rng, len(asked.stands_for)), ENOUGH)
            there_is = any(r[first] < r[second] for r in orders)
            assert truth is not None or search.refuted
            assert not (search.refuted and there_is)
            if truth is not None:
                below = search.below(truth)
                assert below[list(inside).index(first), list(inside).index(second)]
                rank = np.full(LAYERS, -1)
                rank[inside] = below.sum(axis=0)
                assert sorted(rank[inside]) == list(range(count))
            if count == LAYERS:
                assert (truth is not None) == there_is
                assert truth is None or any((r == rank).all() for r in orders)


def test_what_is_told_of_few_layers_holds_among_these():
    """Of six layers four: whatever is found for them breaks nothing between them."""
    seen = 0
    for seed in range(60):
        crossings = stack(seed)
        relations = layer_relations(crossings)
        asked = pair_conditions(relations)
        if asked is None:
            continue
        told = np.isin(np.arange(LAYERS), np.random.default_rng(seed).permutation(LAYERS)[:4])
        search = CadicalSearch(asked, Deadline.after())
        search.tell(told)
        truth = search.run(TRUE, np.ones(len(asked.stands_for)), ENOUGH)
        if truth is not None:
            rank = np.zeros(LAYERS, dtype=int)
            rank[told] = search.below(truth).sum(axis=0)
            inside = told[relations.creases].all(axis=1)
            row, third = relations.across.T
            low, high = np.sort(rank[relations.creases], axis=1).T
            across = (low[row] < rank[third]) & (rank[third] < high[row])
            assert not (across & inside[row] & told[third]).any()
            a, b = relations.aligned.T
            within = (low[a] < low[b]) & (low[b] < high[a]) & (high[a] < high[b])
            within |= (low[b] < low[a]) & (low[a] < high[b]) & (high[b] < high[a])
            assert not (within & inside[a] & inside[b]).any()
            seen += int(inside.sum())
    assert seen > 50


def test_a_search_that_is_over_says_nothing():
    search = search_of(drawn(0), deadline=Deadline.after(0.0))
    assert search.run(TRUE, np.ones(MANY + 1), ENOUGH) is None
    assert not search.refuted


def test_a_run_ends_after_so_many_contradictions_and_the_next_goes_on():
    """Of sums of which more are drawn than unknowns, so that they contradict each other."""
    made = conditions(np.random.default_rng(1), 1, [4] * 60, 40)
    search = search_of(made)
    assert search.run(TRUE, np.ones(41), 5) is None
    assert 5 <= search.conflicts < 20  # CaDiCaL looks up now and then
    assert not search.refuted
    assert search.run(TRUE, np.ones(41), 100_000) is None
    assert search.refuted
    assert search.conflicts > 50


def test_what_no_answer_can_have_is_refuted_at_once():
    search = search_of(drawn(1))
    assert search.run(FALSE, np.ones(MANY + 1), ENOUGH) is None
    assert search.refuted
