"""Random figures of whole lengths, and their grid packings by the quick filling alone."""

from __future__ import annotations

import random

import numpy as np

from packer.grid.board import board_of
from packer.grid.greedy import greedy
from packer.grid.grid_packing import GridPacking
from packer.model.figure import Figure, Flap, River
from packer.model.problem import pose
from packer.model.sheet import Sheet


def star(*lengths, **extra):
    flaps = (Flap(f"f{k}", "hub", float(length), **extra) for k, length in enumerate(lengths))
    return Figure("star", tuple(flaps))


def whole_figure(seed, flaps, longest=5, symmetry="none"):
    """A random tree: joints hung on each other, at least three edges each; pairs if mirrored."""
    rng = random.Random(seed)
    joints = [f"j{k}" for k in range(max(1, flaps // 3))]
    rivers = [
        River(f"r{k}", (rng.choice(joints[:k]), joints[k]), float(rng.randint(1, 3)))
        for k in range(1, len(joints))
    ]
    ends = {j: sum(j in r.joints for r in rivers) for j in joints}
    hung = [j for j in joints for _ in range(3 - ends[j])]
    hung += [rng.choice(joints) for _ in range(flaps - len(hung))]
    pair = [symmetry != "none" and rng.random() < 0.6 for _ in hung]
    made = (
        Flap(f"f{k}", j, float(rng.randint(1, longest)), pair=pair[k])
        for k, j in enumerate(hung)
    )
    return Figure(f"random {seed}", tuple(made), tuple(rivers), symmetry=symmetry)


def filled(figure, seed=0, slope=0, root=None):
    """A grid packing of a figure of whole lengths, `slope` cells higher than wide."""
    rng = np.random.default_rng(seed)
    lengths = tuple(int(x) for x in pose(figure).tree.lengths)
    side = 2
    while True:
        size = side, side + slope
        problem = pose(figure, Sheet(float(size[0]), float(size[1])))
        board = board_of(problem, lengths, size)
        places = greedy(board, rng, 4)
        if places is not None:
            tips = tuple(
                (x + b / 2, float(y))
                for (x, y), b in zip(places, board.blunt.tolist(), strict=True)
            )
            return GridPacking(problem, 1.0, lengths, size, tips, root=root or "")
        side += 1
