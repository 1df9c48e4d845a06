"""Inverted gussets against those laid by hand."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from packer.folded.ordering.rings import InnerConditions, Ring
from packer.folded.ordering.states import _inverted, states

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
