"""Every bound against packings found without it, on small random figures of every kind.

Run ``python -m tests.benchmarks.bounds [--first 0] [--count 3000] [--boxes 20000]``. Each seed is a
figure of two to six lines with pairs, rivers, places of every kind and flex, on a sheet of any ratio
under any symmetry. Packings come from the interior point method started anywhere; their tips are
then nudged by rounding. Printed are the bounds that a packing exceeds, which there must be none, and how
many were met to 1e-6, so that the check has teeth.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter

import numpy as np

from packer.bounds.classical_rules import classical_bounds
from packer.bounds.tree_area import area_bound
from packer.bounds.upper_bound import upper_bound
from packer.errors import PackerError
from packer.local_solver.flexible_lengths import flexible
from packer.local_solver.initial_points import fresh_points
from packer.local_solver.interior_point import maximise
from packer.local_solver.nonlinear_program import compile_program
from packer.local_solver.range_assignment import assigned_ranges
from packer.model.figure import CORNERS, SIDES, Figure, Flap, River
from packer.model.packing import Packing
from packer.model.problem import pose
from packer.model.sheet import Sheet
from packer.units import BOUND_ROOM

NUDGES = (0.0, 1e-16, 1e-13)
"""Largest errors of a coordinate, as a share of the sheet, with which tips are looked at again."""


def problem_of(seed):
    """A small problem with every kind of wish; None where the wishes contradict each other."""
    rng = np.random.default_rng([18, seed])
    symmetry = str(rng.choice(["none", "book", "book", "diagonal"]))
    joints = int(rng.integers(1, 4))
    rivers = [
        River(
            f"r{k}",
            (f"j{int(rng.integers(0, k))}", f"j{k}"),
            _length(rng),
            bool(rng.random() < 0.3),
            _flex(rng),
        )
        for k in range(1, joints)
    ]
    lines = int(rng.integers(max(2, joints), 7))
    homes = [k % joints for k in range(joints)] + rng.integers(0, joints, 9).tolist()
    flaps = [
        Flap(
            f"f{k}",
            f"j{homes[k]}",
            _length(rng),
            bool(rng.random() < 0.5),
            _place(rng),
            _flex(rng),
        )
        for k in range(lines)
    ]
    ratio = 1.0 if symmetry == "diagonal" else float(rng.choice([1, 1, 0.3, 1.7, 5, 2**0.5]))
    try:
        figure = Figure("small", tuple(flaps), tuple(rivers), symmetry)
        return pose(figure, Sheet(ratio, 1.0))
    except PackerError:
        return None


def _length(rng):
    return float(rng.choice([1.0, 1.0, 2.0, round(float(rng.uniform(0.2, 3)), 3)]))


def _flex(rng):
    return float(rng.choice([0, 0, 0, 0.1, 0.4]))


def _place(rng):
    if rng.random() < 0.5:
        return ()
    points = [(float(x), float(y)) for x, y in rng.integers(0, 5, (2, 2)) / 4]
    kinds = ["corner", "edge", "middle", "axis", *SIDES, *CORNERS, *points]
    chosen = rng.choice(len(kinds), int(rng.integers(1, 3)), replace=False)
    return tuple(kinds[k] for k in chosen)


def packings_of(problem, starts, seed=0):
    """Packings by the interior point method from points anywhere, the tips nudged by rounding."""
    rng = np.random.default_rng(seed)
    lengths = flexible(problem.tree)
    for _ in range(starts):
        points = fresh_points(problem, rng)
        program = compile_program(problem, assigned_ranges(problem, points, rng))
        z = program.variables(points)
        if not program.scale(z, np.zeros(program.n_w)) > 0:
            continue  # two tips chose one point
        end = maximise(program, z)
        used = tuple(lengths.lengths(problem.tree.lengths, end.change).tolist())
        tips = program.tips(end.z)
        for nudge in NUDGES:
            moved = tips + rng.uniform(-nudge, nudge, tips.shape)
            packing = Packing(problem, tuple(map(tuple, moved.tolist())), used)
            if packing.scale > 0 and not packing.violations():
                yield packing


def broken(seed, boxes, starts=6):
    """(rule, bound, scale) of every bound that a packing of a seed exceeds, and the best ratio."""
    problem = problem_of(seed)
    if problem is None:
        return None
    best = max((packing.scale for packing in packings_of(problem, starts, seed)), default=0.0)
    bounds = [*classical_bounds(problem), area_bound(problem)]
    upper_bound(problem, boxes=boxes, report=bounds.append)
    wrong = [
        (bound.rule, bound.scale, best)
        for bound in bounds
        if best > bound.scale * (1 + BOUND_ROOM)
    ]
    return wrong, best / min(bound.scale for bound in bounds)


def main(arguments=None):
    parser = argparse.ArgumentParser(description=__doc__.split("\n", maxsplit=1)[0])
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--count", type=int, default=3000)
    parser.add_argument("--boxes", type=float, default=20_000)
    given = parser.parse_args(arguments)
    seen = Counter()
    highest = 0.0
    for seed in range(given.first, given.first + given.count):
        outcome = broken(seed, given.boxes)
        if outcome is None:
            seen["contradictory"] += 1
            continue
        wrong, ratio = outcome
        highest = max(highest, ratio)
        seen["figures"] += 1
        seen["met to 1e-6"] += ratio > 1 - 1e-6
        seen["broken"] += bool(wrong)
        for rule, bound, scale in wrong:
            print(f"seed {seed}: {rule} says {bound!r}, and a packing reaches {scale!r}")
    print(dict(seen), f"highest scale / bound - 1: {highest - 1:.3g}")
    return 1 if seen["broken"] else 0


if __name__ == "__main__":
    sys.exit(main())
