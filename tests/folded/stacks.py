"""A few layers that stand for a folded form, of which all orders can be tried one by one."""

from __future__ import annotations

from itertools import permutations
from types import SimpleNamespace

import numpy as np
import shapely

from packer.folded.pair_conditions import PairConditions

LAYERS = 6


def stack(seed, creases=7):
    """Layers that all overlap, creases between two of them each, which lie across others or on one line.

    Stands in for `Crossings`: what lies across what is drawn at random, and shown as lines and
    regions in the plane that meet where it does.
    """
    rng = np.random.default_rng(seed)
    sides = np.array([rng.permutation(LAYERS)[:2] for _ in range(creases)])
    crossing = rng.random((creases, LAYERS)) < 0.22
    crossing[np.arange(creases)[:, None], sides] = False
    pairs = [
        (a, b) for a in range(creases) for b in range(a) if not set(sides[a]) & set(sides[b])
    ]
    tacos = np.array([p for p in pairs if rng.random() < 0.4], dtype=int).reshape(-1, 2)
    # each layer is a box that all share, and one more for each crease across it
    shared = shapely.box(-2, 0, -1, 1)
    inner = [
        shapely.union_all([shared, *(shapely.box(3 * k, 0, 3 * k + 1, 1) for k in rows)])
        for rows in (np.flatnonzero(crossing[:, layer]) for layer in range(LAYERS))
    ]
    lines = [
        shapely.LineString([(3 * k + 0.2, 0.5), (3 * k + 0.8, 0.5)]) for k in range(creases)
    ]

    def faults(rank):
        low, high = np.sort(rank[sides], axis=1).T
        row, third = np.nonzero(crossing)
        across = (low[row] < rank[third]) & (rank[third] < high[row])
        a, b = tacos.T
        alternate = ((low[a] < low[b]) & (low[b] < high[a]) & (high[a] < high[b])) | (
            (low[b] < low[a]) & (low[a] < high[b]) & (high[b] < high[a])
        )
        return row[across], a[alternate]

    return SimpleNamespace(
        flipped=np.zeros(LAYERS, dtype=bool),
        creases=np.column_stack([np.arange(creases), sides]),
        inner=np.array(inner),
        lines=np.array(lines),
        tacos=tacos,
        faults=faults,
    )


def valid(crossings):
    """The ranks of all orders that break nothing."""
    ranks = (np.argsort(order) for order in permutations(range(LAYERS)))
    return [rank for rank in ranks if not any(len(rows) for rows in crossings.faults(rank))]


def ring_of_four(unknowns):
    """Four layers of which only neighbours overlap, round in a ring, each below the next by its literal."""
    literal = np.full((LAYERS, LAYERS), -1, dtype=np.int32)
    for k, unknown in enumerate(unknowns):
        one, other = k, (k + 1) % 4
        literal[one, other], literal[other, one] = 2 * unknown, 2 * unknown + 1
    none = np.zeros((0, 4), dtype=np.intp)
    return PairConditions(
        literal, np.arange(2 * max(unknowns) + 2), none, np.zeros(0, dtype=bool), none[:, :2]
    )
