"""Relations of some layers, looked up in those of all, against what was drawn and all orders tried one by one."""

from __future__ import annotations

import numpy as np
import pytest

from packer.folded.layer_relations import layer_relations
from packer.folded.pair_conditions import pair_conditions
from packer.folded.pair_search import searched_order, wish_of
from tests.folded.stacks import LAYERS, stack, valid


@pytest.mark.parametrize("seed", range(30))
def test_relations_of_some_layers_are_those_of_all_between_them(seed):
    """One by one, in the names that the layers have in the whole."""
    relations = layer_relations(stack(seed))
    some = np.random.default_rng(seed).permutation(LAYERS)[:4]
    few = relations.among(some)
    name = some.tolist()
    inside = [
        k for k, sides in enumerate(relations.creases.tolist()) if set(sides) <= set(name)
    ]
    sides = [[name[k] for k in pair] for pair in few.creases.tolist()]
    assert sides == relations.creases[inside].tolist()
    assert {(inside[k], name[layer]) for k, layer in few.across.tolist()} == {
        (k, layer) for k, layer in relations.across.tolist() if k in inside and layer in name
    }
    assert {(inside[a], inside[b]) for a, b in few.aligned.tolist()} == {
        (a, b) for a, b in relations.aligned.tolist() if a in inside and b in inside
    }
    assert (few.overlap == relations.overlap[np.ix_(some, some)]).all()


@pytest.mark.parametrize("seed", range(60))
def test_free_layers_have_an_order_around_the_others_where_any_keeps_these(seed):
    """Two layers of six are free, and one pair with another is to lie the same way as a third."""
    crossings = stack(seed, 5)
    orders = valid(crossings)
    if not orders:
        return
    rank = orders[seed % len(orders)]
    free = np.random.default_rng(seed).permutation(LAYERS)[:2]
    relations, others = layer_relations(crossings).around(free)
    others_in_order = np.argsort(rank[others])
    conditions = pair_conditions(relations, len(free) + others_in_order)
    layers = [*free.tolist(), *others.tolist()]
    assert sorted(layers) == list(range(LAYERS))
    one, two = conditions.below(np.array([0, 1]), np.array([2, 3]))
    joined = conditions.with_equal(one[None] ^ 1, two[None])  # the other way than the second
    a, b, c, d = layers[:4]
    left = [
        r
        for r in orders
        if (np.argsort(r[others]) == others_in_order).all() and (r[a] < r[c]) != (r[b] < r[d])
    ]
    if joined is None:
        assert not left
        return
    searched = searched_order(joined, wish_of(joined, np.zeros(LAYERS)), 1000)
    assert (searched.rank is not None) == bool(left)
    if left:
        whole = np.zeros(LAYERS, dtype=int)
        whole[layers] = searched.rank
        assert any((whole == r).all() for r in left)
