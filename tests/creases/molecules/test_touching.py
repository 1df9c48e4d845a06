"""Several things at one moment in a universal_molecule: diagonals that touch as facing sides meet."""

from __future__ import annotations

import math

import numpy as np
import pytest

from packer.creases.molecules.universal_molecule import polygon, universal_molecule
from packer.creases.tree_metric import Metric
from packer.model.figure import Figure, Flap, River
from packer.model.problem import pose

NAMES = ("a", "b", "c", "d")


@pytest.mark.parametrize("seed", range(20))
def test_a_mirrored_trapezoid_shrinks_to_its_river(seed):
    """Two pairs of flaps p and q joined by a river r, all four sides active.

    Pythagoras: slanting sides p + q whose feet differ by p - q make the trapezoid 2 sqrt(p q)
    high. Its facing sides meet in the middle, and there, at one moment, all four flaps are used
    up: what remains is the river's r (universal universal_molecule, SoCG 1996). No diagonal is active
    before, and all slacks vanish there as squares.
    """
    p, q, r = np.random.default_rng(seed).uniform([0.03, 0.02, 0.1], [0.2, 0.2, 0.4]).tolist()
    flaps = [Flap(n, side, x) for n, side, x in zip(NAMES, "lrrl", (p, p, q, q), strict=True)]
    tree = pose(Figure("trapezoid", tuple(flaps), (River("river", ("l", "r"), r),))).tree
    high = 2 * math.sqrt(p * q)
    points = [(0.0, 0.0), (2 * p + r, 0.0), (p + q + r, high), (p - q, high)]
    metric = Metric(tree, tree.lengths, 1e-10)
    tree_points = [metric.home[tree.flaps.index(n)] for n in NAMES]
    pieces = universal_molecule(polygon(points, tree_points), metric)
    top = {
        (round(v.x, 7), round(v.y, 7))
        for s in pieces
        for v in (s.a, s.b)
        if v.height > high / 4
    }
    assert top == {(round(x, 7), round(high / 2, 7)) for x in (p, p + r)}
