"""Crease patterns in numbers: how surely packings close, and how fine the creases are.

    python -m tests.benchmarks.creases closing --count 500
    python -m tests.benchmarks.creases settling --seconds 60 --give 0.03 samples/shore_crab.toml

`closing` packs random figures of 4 to 20 flaps on squares and rectangles, closes each packing as
it is and holds the pattern against every check of the folded form; `--first` is the seed of the
first figure, `--csv` appends a row a figure: seed, flaps, fillers, smallest feature in per cent of
the shorter side, split rivers, whether these are the packing's, seconds, closing error,
findings (-1: not closed).

`settling` settles samples, free and symmetric, until the smallest feature is 0.5 % of the shorter
side (0.25 % above 22 flaps) with every river whole, or until the seconds are over
(`--to-the-end`: always). It prints the smallest feature and what was given in per cent, by how
many per cent the part that grew most did so, split rivers, fillers, creases, tries, seconds and
findings. Times are CPU seconds of this process, the pool included, the first packing not.
"""

from __future__ import annotations

import argparse
import csv
import time
from pathlib import Path

import numpy as np

import packer.creases.settling.settle as settling
from packer import Sheet, deadline
from packer.creases.completion.complete import crease_pattern
from packer.creases.smallest_feature import smallest_feature
from packer.errors import PackerError
from packer.files.figure_toml import read_figure
from packer.folded.checks import findings
from packer.folded.form import fold
from packer.model.packing import SearchRecord
from packer.model.problem import pose
from packer.search.enumeration import pool
from packer.search.memetic.run import SearchGoal, begin, stepped
from packer.search.result.finalise import finalised
from tests.strategies import random_figure

SHEETS = (Sheet(), Sheet(1, 1.5), Sheet(2, 1), Sheet(210, 297, "mm"))
ASCENTS = 80
"""A row then takes a second, where a whole start takes ten."""
MORE_ASCENTS = 640
"""For settling, which is harder the nearer a packing is to the best."""
BANDS = ((4, 6), (7, 9), (10, 12), (13, 16), (17, 20))


def closing(seeds, path):
    rows = [_closed(seed) for seed in seeds]
    if path:
        with path.open("a", newline="", encoding="utf-8") as file:
            csv.writer(file).writerows(rows)
    summary(rows)


def _closed(seed):
    rng = np.random.default_rng(seed)
    flaps = int(rng.integers(4, 21))
    figure = random_figure(rng, flaps)
    packing = _local_optimum(SearchGoal(pose(figure, SHEETS[seed % 4])), seed, ASCENTS)
    side = min(packing.sheet.width, packing.sheet.height)
    began = time.process_time()
    try:
        pattern = crease_pattern(packing)
        seconds = time.process_time() - began
        form = fold(pattern)
        wrong = findings(pattern, form)
    except PackerError as error:
        print(f"failed: seed {seed}, {flaps} flaps: {error}", flush=True)
        return seed, flaps, 0, 0, 0, 0, time.process_time() - began, 0, -1
    if wrong:
        print(f"finding: seed {seed}, {flaps} flaps: {wrong[0]}", flush=True)
    return (
        seed,
        flaps,
        len(pattern.fillers),
        100 * smallest_feature(pattern).size / side,
        len(pattern.split_rivers),
        int(set(pattern.split_rivers) == set(packing.split_rivers)),
        seconds,
        form.gaps.max() / side,
        len(wrong),
    )


def _local_optimum(goal, seed, solves):
    """The best of the first ascents of one start: near the best of all, and different each time."""
    run = begin(seed, 0)
    while not run.done and run.solves < solves:
        run = stepped(goal, run)
    record = SearchRecord(seed, 1, 1, 0.0, "starts")
    return finalised(goal.problem, run.best, record)


def summary(rows):
    every = np.array(rows, dtype=float)
    table = every[every[:, 8] == 0]
    print(
        f"{len(table)} of {len(rows)} pass every check ({100 * len(table) / len(rows):.2f} %), "
        f"{(every[:, 8] < 0).sum()} did not close, {(every[:, 8] > 0).sum()} have findings"
    )
    print(f"worst closing error {table[:, 7].max():.1e} of the side")
    print("flaps figures fillers/flap feature%(median,least) split as-packed s(median,most)")
    for low, high in BANDS:
        band = table[(table[:, 1] >= low) & (table[:, 1] <= high)]
        if len(band):
            print(
                f"{low:2d}-{high:2d} {len(band):6d} {(band[:, 2] / band[:, 1]).mean():10.2f}"
                f" {np.median(band[:, 3]):12.3g} {band[:, 3].min():8.1e}"
                f" {band[:, 4].mean():10.2f} {100 * band[:, 5].mean():6.0f} %"
                f" {np.median(band[:, 6]):8.2f} {band[:, 6].max():6.2f}"
            )


def settled(paths, seconds, give, seed, to_the_end):
    deadline.monotonic = time.process_time  # stands still while other processes run
    print(
        "figure symmetry flaps scale feature% given% longest% split fillers creases tries s findings finest at"
    )
    for path in paths:
        figure = read_figure(path)
        for symmetry in dict.fromkeys(["none", figure.symmetry]):
            goal = SearchGoal(pose(figure, None, symmetry), whole_rivers=True)
            first = _local_optimum(goal, seed, MORE_ASCENTS)
            more = pool(first, first.scale * (1 - give), seed)
            side = min(first.sheet.width, first.sheet.height)
            goal = 0.0 if to_the_end else (0.005 if first.tree.n_tips <= 22 else 0.0025)
            began = time.process_time()
            found = settling.settle(
                first,
                give,
                deadline=deadline.Deadline.after(seconds),
                seed=seed,
                more=more,
                progress=None if to_the_end else _ending(goal * side),
            )
            print(
                f"{path.stem} {symmetry} {first.tree.n_tips} {first.scale:.6g}"
                f" {100 * found.feature.size / side:.3f} {100 * found.given:.2f}"
                f" {100 * max(found.changes.values()):.0f}"
                f" {len(found.pattern.split_rivers)} {len(found.pattern.fillers)}"
                f" {found.pattern.creases} {found.tries} {time.process_time() - began:.1f}"
                f" {len(findings(found.pattern, fold(found.pattern)))}"
                f" {', '.join(found.feature.parts)}",
                flush=True,
            )


def _ending(goal):
    """End, as Ctrl-C does, where the smallest feature reaches a size and no river is split."""

    def look(now):
        if now.feature >= goal and not now.split:
            raise KeyboardInterrupt

    return look


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("what", choices=["closing", "settling"])
    parser.add_argument("samples", nargs="*", type=Path)
    parser.add_argument("--count", type=int, default=500)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--csv", type=Path)
    parser.add_argument("--to-the-end", action="store_true", help="use up all the seconds")
    parser.add_argument("--seconds", type=float, default=60)
    parser.add_argument("--give", type=float, default=0.03)
    parser.add_argument("--seed", type=int, default=0)
    options = parser.parse_intermixed_args()
    if options.what == "closing":
        closing(range(options.first, options.first + options.count), options.csv)
    else:
        paths = options.samples or sorted(Path("samples").glob("*.toml"))
        settled(paths, options.seconds, options.give, options.seed, options.to_the_end)
