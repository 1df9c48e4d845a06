"""A packing with a pentagon of active paths that has no layer order, seen from some joints.

Met in a random figure of 51 flaps, its five flaps and the tree between them written out here. What
else hangs from the tree decides from which joints no order is left.
"""

from __future__ import annotations

import numpy as np

from packer.model.figure import Figure, Flap, River
from packer.model.packing import Packing
from packer.model.problem import pose

CORNERS = {
    "a": (0.2301, 0.886),
    "b": (0.3401, 0.6809),
    "c": (0.3375, 0.461),
    "d": (0.2455, 0.5259),
    "e": (0.1496, 0.6615),
}
HOME = {"a": "m", "b": "k", "c": "j", "d": "j", "e": "k"}
RIVERS = {("j", "m"): 0.025, ("m", "k"): 0.02}
FAR = {"g": (0.95, 0.95), "h": (0.95, 0.05), "i": (0.95, 0.5)}


def pentagon(cut=""):
    """Return the packing; flaps in `cut` bear another, short one at their middles."""
    points = np.array(list(CORNERS.values()))
    sides = np.hypot(*(points - np.roll(points, -1, axis=0)).T)
    rivers = np.array([0.02, 0.045, 0.0, 0.045, 0.02])  # on the paths ab, bc, cd, de, ea
    pairs = np.eye(5) + np.roll(np.eye(5), 1, axis=1)
    lengths = dict(zip(CORNERS, np.linalg.solve(pairs, sides - rivers).tolist(), strict=True))
    at, flaps = dict(CORNERS), []
    between = [River(f"{a}{b}", (a, b), length) for (a, b), length in RIVERS.items()]
    for name, length in lengths.items():
        half = length / 2 if name in cut else 0.0
        joint = f"on {name}" if half else HOME[name]
        flaps.append(Flap(name, joint, length - half))
        if half:
            other = list(FAR)[cut.index(name)]
            between.append(River(f"inner {name}", (HOME[name], joint), half))
            flaps.append(Flap(other, joint, 0.15))
            at[other] = FAR[other]
    problem = pose(Figure("pentagon", tuple(flaps), tuple(between)))
    return Packing(problem, tuple(at[flap] for flap in problem.tree.flaps))
