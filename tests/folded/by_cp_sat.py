"""What must hold of all pairs and triples of layers, written out for CP-SAT (OR-tools)."""

from __future__ import annotations

import itertools

import numpy as np
import shapely


def conditions(model, base):
    """Ask of a model what must hold of a base's layers; return what says that one is under another."""
    over = overlaps(base)
    n = len(over)
    under = {(a, b): model.new_bool_var("") for a, b in np.argwhere(np.triu(over)).tolist()}
    both = under | {(b, a): x.negated() for (a, b), x in under.items()}
    for a, b in itertools.combinations(range(n), 2):
        for c in np.flatnonzero(over[a] & over[b] & over[a, b]).tolist():
            if c > b:
                ring = [both[a, b], both[b, c], both[c, a]]
                model.add_bool_or(ring)
                model.add_bool_or([x.negated() for x in ring])
    _creases(model, base.crossings, both)
    return under


def ask_alike(model, under, base, mirror):
    """Ask that all creases are folded like their mirror images."""
    valley = {edge: says_valley(under, base, a, b) for edge, a, b in base.creases.tolist()}
    for edge, image in enumerate(mirror.edges.tolist()):
        if edge < image and edge in valley:
            model.add(valley[edge] == valley[image])


def says_valley(under, base, left, right):
    """What says that the crease between two layers is a valley."""
    low, high = min(left, right), max(left, right)
    turned = bool(base.flipped[left]) != (left > right)
    return under[low, high].negated() if turned else under[low, high]


def overlaps(base):
    """Which layers lie over each other or meet at a crease, asked of every pair."""
    inner = base.crossings.inner
    over = shapely.intersects(inner[:, None], inner)
    for _, a, b in base.creases.tolist():
        over[a, b] = over[b, a] = True
    np.fill_diagonal(over, val=False)
    return over


def _creases(model, crossings, under):
    """Taco-tortilla: a layer lies on one side of a crease across it. Taco-taco: pairs do not alternate."""
    sides = crossings.creases[:, 1:].tolist()
    for row, line in enumerate(crossings.lines):
        a, b = sides[row]
        for c in np.flatnonzero(shapely.intersects(crossings.inner, line)).tolist():
            if c not in (a, b):
                model.add(under[a, c] == under[b, c])
    for one, two in crossings.tacos.tolist():
        pairs = list(itertools.product(sides[one], sides[two]))
        if all(pair in under for pair in pairs):
            model.add_bool_xor([*(under[pair] for pair in pairs), model.new_constant(1)])
