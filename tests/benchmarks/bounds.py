"""Every bound against packings found without it, on small random figures of every kind.

Run ``python -m tests.benchmarks.bounds [--first 0] [--count 3000] [--boxes 20000]``. Each seed is a
figure of two to six lines with pairs, rivers, places of every kind and flex, on a sheet of any ratio
under any symmetry. Packings come from the interior point method started anywhere; their tips are
then nudged, by rounding and by all that a packing may be off.

Two laws are checked. No packing exceeds a bound. And branch and bound, asked to exclude a scale that
a packing just exceeds, never does so: not for all tips, and not for some of them. (A bound alone
hides a wrong proof: proofs are only tried above the best packing of their own tips.) Printed are the
laws broken, of which there must be none, and how many bounds were met to 1e-6, so that the check has
teeth.
"""

from __future__ import annotations

import argparse
import math
import sys
import warnings
from collections import Counter
from dataclasses import replace
from itertools import combinations

import numpy as np

from packer.bounds.branch_and_bound import exclude
from packer.bounds.classical_rules import classical_bounds
from packer.bounds.subsets import (
    closed_under_mirror,
    places_of,
    relaxed,
    subproblem,
    subset_program,
)
from packer.bounds.symmetry_breaking import one_of_equals
from packer.bounds.tree_area import area_bound
from packer.bounds.upper_bound import upper_bound
from packer.bounds.work_budget import WorkBudget
from packer.errors import PackerError
from packer.local_solver.flexible_lengths import flexible
from packer.local_solver.initial_points import fresh_points
from packer.local_solver.interior_point import maximise
from packer.local_solver.nonlinear_program import compile_program
from packer.local_solver.range_assignment import assigned_ranges
from packer.model.exact_places import exact_scale
from packer.model.figure import CORNERS, SIDES, Figure, Flap, River
from packer.model.packing import Packing
from packer.model.problem import pose
from packer.model.sheet import Sheet

NUDGES = (0.0, 1e-16, 1e-13, 9e-10)
"""Largest errors of a coordinate, as a share of the sheet, with which tips are looked at again.

The last is nearly all that a packing permits itself, `packer.units.ON_EDGE`.
"""
JUST_BELOW = 1e-9
"""Relative distance from the scale of a packing to the one below that must not be excluded."""


EVERY = 100
"""Figures after which it is told how many there were."""


def problem_of(seed):
    """A small problem with every kind of wish: the first of some whose wishes go together."""
    for attempt in range(100):
        rng = np.random.default_rng([18, seed, attempt])
        try:
            figure = _figure(rng)
            square = figure.symmetry == "diagonal"
            ratio = 1.0 if square else float(rng.choice([1, 1, 0.3, 1.7, 5, 2**0.5]))
            return pose(figure, Sheet(ratio, 1.0))
        except PackerError:
            continue
    raise AssertionError(f"no figure for seed {seed}")


def _figure(rng):
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
    flaps = []
    for k in range(lines):
        pair = bool(rng.random() < 0.5)
        place = _upright_place(rng) if pair and rng.random() < 0.4 else _place(rng)
        flaps.append(Flap(f"f{k}", f"j{homes[k]}", _length(rng), pair, place, _flex(rng)))
    return Figure("small", tuple(flaps), tuple(rivers), symmetry)


def _length(rng):
    return float(rng.choice([1.0, 1.0, 2.0, round(float(rng.uniform(0.2, 3)), 3)]))


def _flex(rng):
    return float(rng.choice([0, 0, 0, 0.1, 0.4]))


def _place(rng):
    if rng.random() < 0.5:
        return ()
    kinds = ["corner", "edge", "middle", "axis", *SIDES, *CORNERS, *_points(rng)]
    chosen = rng.choice(len(kinds), int(rng.integers(1, 3)), replace=False)
    return tuple(kinds[k] for k in chosen)


def _upright_place(rng):
    """One place that leaves a tip no choice of x: of twins under book symmetry, how far apart."""
    kinds = ["left", "right", *CORNERS, *_points(rng)]
    return (kinds[int(rng.integers(len(kinds)))],)


def _points(rng):
    return [(float(x), float(y)) for x, y in rng.integers(0, 5, (2, 2)) / 4]


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


def program_of(problem, tips):
    """The problem of some tips, the program of boxes, and the places they are held to."""
    small = subproblem(problem, tips)
    return small, subset_program(problem, relaxed(small), tips), places_of(small)


def excluded(problem, tips, target, boxes, rows=None):
    """How an attempt to exclude a scale by some tips ends."""
    small, program, places = program_of(problem, tips)
    rows = one_of_equals(small, program) if rows is None else rows
    return exclude(program, target, rows, places, WorkBudget(boxes))


def reached_by(packing, tips):
    """The scale of some tips of a packing, pair by pair and by the discs that stay on the sheet."""
    d, points = packing.distances, packing.points
    room = np.minimum(points, [packing.sheet.width, packing.sheet.height] - points).min(axis=1)
    paths = [math.dist(points[i], points[j]) / d[i, j] for i, j in combinations(tips, 2)]
    kept = [i for i in tips if packing.problem.keeps_disc(i, packing.tips[i])]
    return min(paths + [room[i] / packing.lengths[i] for i in kept])


def wrong_proofs(packing, boxes, seed=0):
    """(rule, bound, scale) of sets of tips, all and some, whose scale is excluded all the same."""
    problem = packing.problem
    rng = np.random.default_rng([19, seed])
    everything = tuple(range(problem.tree.n_tips))
    some = closed_under_mirror(problem, rng.choice(everything, 2, replace=False).tolist())
    for tips in dict.fromkeys((everything, some)):
        target = reached_by(packing, tips) * (1 - JUST_BELOW)
        if excluded(problem, tips, target, boxes).proven:
            yield f"branch and bound on tips {tips}", target, target * (1 + JUST_BELOW)


def broken(seed, boxes, starts=6):
    """The laws broken, as (rule, bound, scale), and the best scale over the least bound."""
    problem = problem_of(seed)
    packings = list(packings_of(problem, starts, seed))
    bounds = [*classical_bounds(problem), area_bound(problem)]
    upper_bound(problem, boxes=boxes, report=bounds.append)
    least = min(bounds, key=lambda bound: bound.scale)
    wrong = [
        (bound.rule, bound.scale, packing.scale)
        for bound in bounds
        for packing in packings
        if replace(packing, bound=bound).violations()
    ]
    exact = [packing for packing in packings if packing.scale <= exact_scale(packing)]
    best = max(exact, key=lambda packing: packing.scale, default=None)
    if best is None:
        return wrong, 0.0
    return [*wrong, *wrong_proofs(best, boxes, seed)], best.scale / least.scale


def main(arguments=None):
    parser = argparse.ArgumentParser(description=__doc__.split("\n", maxsplit=1)[0])
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--count", type=int, default=3000)
    parser.add_argument("--boxes", type=float, default=20_000)
    given = parser.parse_args(arguments)
    seen = Counter()
    highest = 0.0
    warnings.simplefilter("error")  # a division by nothing is a fault as well
    for seed in range(given.first, given.first + given.count):
        wrong, ratio = broken(seed, given.boxes)
        highest = max(highest, ratio)
        seen["figures"] += 1
        seen["met to 1e-6"] += ratio > 1 - 1e-6
        seen["broken"] += bool(wrong)
        for rule, bound, scale in wrong:
            print(f"seed {seed}: {rule} excludes {bound!r}, and a packing reaches {scale!r}")
        if seen["figures"] % EVERY == 0 or seen["figures"] == given.count:
            told = ", ".join(f"{count} {what}" for what, count in seen.items())
            print(f"{told}, scale / bound - 1 at most {highest - 1:.3g}", flush=True)
    return 1 if seen["broken"] else 0


if __name__ == "__main__":
    sys.exit(main())
