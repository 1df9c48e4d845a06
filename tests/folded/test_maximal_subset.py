"""Maximal subsets of what is wanted of an order, against all orders of a few layers."""

from __future__ import annotations

import numpy as np
import pytest

from packer.folded import maximal_subset as subsets
from packer.folded.layer_relations import layer_relations
from packer.folded.maximal_subset import maximal_subset
from packer.folded.pair_conditions import pair_conditions
from tests.folded.stacks import ring_of_four, stack, valid

PAIRS = ((0, 1), (1, 2), (2, 3), (3, 4), (4, 5), (5, 0), (0, 3), (1, 4))
"""Pairs of layers of which the next is asked to lie the same way."""


def grown(crossings, rank, conflicts=10_000, each=60):
    """A maximal subset of the pairs that lie the same way as the next, and which of these could be asked for."""
    alike = lie_alike(rank)
    joined = pair_conditions(layer_relations(crossings)).with_equal(
        *(x[alike] for x in ways(crossings))
    )
    one, other = (joined.stands_for[x[~alike]] for x in ways(crossings))
    apart = one >> 1 != other >> 1
    asked, literals = joined.with_preferred(one[apart], other[apart])
    rows = np.flatnonzero(~alike)[apart]
    most = maximal_subset(asked, literals.tolist(), rank, conflicts, each=each)
    number = dict(zip(literals.tolist(), rows.tolist(), strict=True))
    return most, [number[x] for x in most.refuted], [number[x] for x in most.open], rows


def ways(crossings):
    """Of each pair the literal that says which way it lies, and that of the next."""
    said = pair_conditions(layer_relations(crossings)).below(*np.array(PAIRS).T)
    return said, np.roll(said, -1)


def lie_alike(rank):
    """Which pairs of layers an order has the same way round as the next."""
    way = np.array([rank[a] < rank[b] for a, b in PAIRS])
    return way == np.roll(way, -1)


@pytest.mark.parametrize("at_once", [False, True])
@pytest.mark.parametrize("few", [1, 60])
@pytest.mark.parametrize("seed", range(40))
def test_no_literal_that_stays_false_could_be_true_with_all_that_are(
    seed, few, at_once, monkeypatch
):
    """Against all orders of six layers, from each of a few of them; shown is only what is so."""
    if at_once:  # never ask for single ones
        monkeypatch.setattr(subsets._Grown, "one_by_one", lambda *_: None)
    crossings = stack(seed, 4)
    orders = valid(crossings)
    others = [lie_alike(rank) for rank in orders]
    for rank in orders[:: max(1, len(orders) // 4)]:
        most, refuted, left, rows = grown(crossings, rank, each=few)
        after = lie_alike(most.rank)
        assert not any(len(at) for at in crossings.faults(most.rank))
        assert (after >= lie_alike(rank)).all()
        assert not left
        assert sorted(refuted) == [k for k in rows.tolist() if not after[k]]
        assert not any((x >= after).all() and (x > after).any() for x in others)


def test_some_literals_become_true_and_some_cannot():
    """Else the test above would compare nothing."""
    more, shown = 0, 0
    for seed in range(40):
        crossings = stack(seed, 4)
        for rank in valid(crossings)[:1]:
            most, refuted, *_ = grown(crossings, rank)
            more += lie_alike(most.rank).sum() - lie_alike(rank).sum()
            shown += len(refuted)
    assert min(more, shown) > 10


def test_a_search_that_may_not_contradict_itself_keeps_the_order_and_shows_nothing():
    crossings = stack(3, 4)
    rank = valid(crossings)[0]
    most, refuted, left, rows = grown(crossings, rank, conflicts=0)
    assert (most.rank == rank).all()
    assert left == rows.tolist()
    assert not refuted


def test_a_subset_has_an_order_where_layers_that_do_not_all_overlap_could_lie_in_a_ring():
    """Of four pairs round in a ring three lie alike, and the fourth cannot."""
    ring = ring_of_four([1, 2, 3, 4])
    asked, literals = ring.with_preferred(np.array([2, 4, 6]), np.array([4, 6, 8]))
    rank = np.array([0, 1, 0, 1, 2, 3])  # each the other way than the one before
    most = maximal_subset(asked, literals.tolist(), rank, 1000)
    way = [bool(most.rank[k] < most.rank[(k + 1) % 4]) for k in range(4)]
    assert sum(way) in (1, 3)
    assert len(most.refuted) == 1
    assert not most.open
