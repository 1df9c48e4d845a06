"""Conditions on pairs of layers against all orders of a few layers, tried one by one."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest

from packer.folded import pair_conditions as conditions_of_pairs
from packer.folded.layer_relations import layer_relations
from packer.folded.ordering.search import put_in
from packer.folded.pair_conditions import FALSE, pair_conditions
from packer.folded.pair_search import searched_order, wish_of
from tests.folded.stacks import LAYERS, ring_of_four, stack, valid


@pytest.mark.parametrize("seed", range(40))
def test_an_order_is_found_where_there_is_one_and_only_there(seed):
    crossings = stack(seed)
    conditions = pair_conditions(layer_relations(crossings))
    orders = valid(crossings)
    if conditions is None:
        assert not orders
        return
    wish = wish_of(conditions, np.arange(float(LAYERS)))
    found = searched_order(conditions, wish, 10_000)
    assert found.impossible == (not orders)
    assert (found.rank is None) == (not orders)
    if orders:
        assert not any(len(rows) for rows in crossings.faults(found.rank))


def test_some_have_no_order_by_propagation_some_by_search_and_some_have_one():
    """Else the test above would compare little."""
    ends = set()
    for seed in range(40):
        conditions = pair_conditions(layer_relations(stack(seed)))
        ends.add((conditions is None, bool(valid(stack(seed)))))
    assert {(True, False), (False, True)} <= ends


@pytest.mark.parametrize("seed", range(40))
def test_layers_taken_out_find_a_place_in_the_order_of_the_others(seed):
    """By trying all orders: one is found if any keeps that of the others, or else any at all."""
    crossings = stack(seed, 5)
    orders = valid(crossings)
    if not orders:
        assert put_in(crossings, []) is None
        return
    order = np.argsort(orders[seed % len(orders)])
    rest = [int(x) for x in order if x not in {seed % LAYERS, (seed + 2) % LAYERS}]
    rank = put_in(crossings, rest)
    assert not any(len(rows) for rows in crossings.faults(rank))
    assert sorted(rest, key=rank.__getitem__) == rest


@pytest.mark.parametrize("seed", range(40))
def test_equal_pairs_leave_the_orders_in_which_they_are(seed):
    """Two pairs of layers joined: what is left are the orders in which both or neither turn over."""
    crossings = stack(seed, 5)
    conditions = pair_conditions(layer_relations(crossings))
    if conditions is None:
        return
    one, other = (
        conditions.below(np.array([0]), np.array([1])),
        conditions.below(np.array([2]), np.array([3])),
    )
    left = [r for r in valid(crossings) if (r[0] < r[1]) == (r[2] < r[3])]
    joined = conditions.with_equal(one, other)
    if joined is None:
        assert not left
        return
    found = searched_order(joined, wish_of(joined, np.zeros(LAYERS)), 10_000)
    assert (found.rank is not None) == bool(left)
    if left:
        assert (found.rank[0] < found.rank[1]) == (found.rank[2] < found.rank[3])


@pytest.mark.parametrize("at_a_time", [1, 3, 1_000_000])
@pytest.mark.parametrize("seed", range(20))
def test_what_a_literal_says_of_two_pairs_it_says_of_the_third(seed, at_a_time, monkeypatch):
    """All triples one by one, before and after two pairs are joined."""
    monkeypatch.setattr(conditions_of_pairs, "AT_A_TIME", at_a_time)
    conditions = pair_conditions(layer_relations(stack(seed, 5)))
    if conditions is None:
        return
    first, second = np.array([[0, 1], [2, 3]]).T
    joined = conditions.with_equal(*conditions.below(first, second)[:, None])
    for made in (conditions, joined):
        if made is not None:
            below = made.below(*np.indices(made.literal.shape))
            for a, b, c in permutations(range(LAYERS), 3):
                if below[a, b] == below[b, c] > FALSE and below[a, c] >= 0:
                    assert below[a, c] == below[a, b]


def test_layers_that_do_not_all_overlap_never_lie_round_in_a_ring():
    """No order has a ring, though no three of the four overlap pairwise: one pair turns over."""
    conditions = ring_of_four([1, 2, 3, 4])
    found = searched_order(conditions, np.array([4.0, 3.0, 2.0, 1.0]), 100)
    turned = [found.rank[k] > found.rank[(k + 1) % 4] for k in range(4)]
    assert sum(turned) == 1


def test_where_a_ring_is_all_that_is_left_there_is_no_order():
    """All four pairs in one unknown: true or false, they lie round in a ring."""
    assert searched_order(ring_of_four([1, 1, 1, 1]), np.ones(1), 100).impossible
