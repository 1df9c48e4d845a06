"""Blocks of layers against every place tried in turn; inverted gussets against those laid by hand."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from packer.folded.ordering.blocks import with_block
from packer.folded.ordering.rings import InnerConditions, Ring
from packer.folded.ordering.states import _inverted, states

LAYERS, BLOCK = 8, 3


def random_conditions(seed):
    """Creases between two layers each, which layers they cross, and pairs that lie in one line."""
    rng = np.random.default_rng(seed)
    sides = np.array([rng.permutation(LAYERS)[:2] for _ in range(7)])
    crossing = rng.random((len(sides), LAYERS)) < 0.25
    crossing[np.arange(len(sides))[:, None], sides] = False
    pairs = [(a, b) for a in range(7) for b in range(a) if not set(sides[a]) & set(sides[b])]
    tacos = np.array([p for p in pairs if rng.random() < 0.4], dtype=int).reshape(-1, 2)
    return sides, crossing, tacos


def molecules_of(conditions):
    """What a block is put in by, with these conditions."""
    sides, crossing, tacos = conditions
    return SimpleNamespace(
        creases=np.column_stack([np.arange(len(sides)), sides]),
        molecule_of=np.zeros(LAYERS, dtype=int),
        crossings=SimpleNamespace(tacos=tacos, across=lambda row, layer: crossing[row, layer]),
    )


def crosses(rank, block, conditions):
    """Whether a layer lies in a crease, or two creases alternate, of which the block has a part."""
    sides, crossing, tacos = conditions
    for row, layer in np.argwhere(crossing).tolist():
        a, b = sorted(rank[side] for side in sides[row].tolist())
        if layer in block and not set(sides[row].tolist()) & block and a < rank[layer] < b:
            return True
    for one, other in tacos.tolist():
        first, second = set(sides[one].tolist()), set(sides[other].tolist())
        within = len((first | second) & block)
        a, b = sorted(rank[side] for side in first)
        if 0 < within < 4 and sum(a < rank[side] < b for side in second) == 1:
            return True
    return False


@pytest.mark.parametrize("seed", range(120))
def test_a_block_goes_where_trying_every_place_puts_it_first(seed):
    conditions = random_conditions(seed)
    molecules = molecules_of(conditions)
    layers = np.random.default_rng(seed + 1000).permutation(LAYERS).tolist()
    order, block = layers[BLOCK:], layers[:BLOCK]
    wanted = None
    for run in (block, block[::-1]):
        for place in range(len(order) + 1):
            tried = [*order[:place], *run, *order[place:]]
            rank = {layer: k for k, layer in enumerate(tried)}
            if wanted is None and not crosses(rank, set(block), conditions):
                wanted = tried
    assert with_block(molecules, order, block) == wanted


def test_a_block_alone_is_the_whole_order():
    assert with_block(molecules_of(random_conditions(0)), [], [2, 0, 1]) == [2, 0, 1]


GUSSET = SimpleNamespace(ends=((1, 2), (5, 6)))
NONE = (-1,) * 8


@pytest.mark.parametrize(
    ("turn", "layers"),
    [(1, (0, 3, 2, 1, 6, 5, 4, 7)), (2, (2, 1, 0, 3, 4, 7, 6, 5))],
)
def test_a_gusset_is_laid_inside_the_layers_beside_it(turn, layers):
    """By hand: 1, 2 and the layer after them turn over as one, and 5, 6 with the one before."""
    ring = Ring(tuple(range(8)), NONE)
    assert _inverted(ring, GUSSET, turn).layers == layers


@pytest.mark.parametrize(("turn", "held"), [(1, {2, 3, 5, 6}), (2, {1, 2, 6, 7})])
def test_it_stays_where_something_hangs_between_those_layers(turn, held):
    """What hangs in a gap between two of the three would be torn off."""
    for gap in range(1, 8):
        gaps = tuple(0 if k == gap else -1 for k in range(8))
        inverted = _inverted(Ring(tuple(range(8)), gaps), GUSSET, turn)
        assert (inverted is None) == (gap in held)


def test_a_gusset_with_a_fault_at_one_end_is_inverted():
    """By hand: layer 3 lies in the crease of 2 and 4; laid inside 2 and 1 it does not."""
    numbers = {layer: layer for layer in range(8)}
    crossed, none = np.array([[0, 3]]), np.empty((0, 2), dtype=int)
    inner = InnerConditions(numbers, np.array([[2, 4]]), crossed, none)
    gusset = SimpleNamespace(ends=GUSSET.ends, depth=2.0)
    member = SimpleNamespace(
        ring=Ring(tuple(range(8)), (9, *NONE[1:])), low=1.0, gussets=(gusset,)
    )
    molecules = SimpleNamespace(all=(member,), room=1e-9, inner_conditions=lambda _: inner)
    assert [ring.layers for ring in states(molecules, 0, 9)] == [(0, 3, 2, 1, 6, 5, 4, 7)]
