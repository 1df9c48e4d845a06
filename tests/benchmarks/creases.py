"""Crease patterns in numbers: how surely packings close, and how fine the creases are.

    python -m tests.benchmarks.creases closing --count 500
    python -m tests.benchmarks.creases settling --seconds 60 --give 0.03 samples/shore_crab.toml

`closing` packs random figures of 4 to 20 flaps on squares and rectangles and closes each packing
as it is. `settling` settles samples, free and symmetric, and prints the smallest feature in per
cent of the shorter side against what was given up. Times are CPU seconds of this process.
"""

from __future__ import annotations

import argparse
import dataclasses
import time
from itertools import count
from pathlib import Path

import numpy as np

import packer.creases.settle as settling
from packer import Sheet, pack
from packer.creases.complete import crease_pattern
from packer.creases.faces import misfit
from packer.creases.feature import smallest_feature
from packer.errors import PackerError
from packer.files.figure_toml import read_figure
from tests.strategies import random_figure

SHEETS = (Sheet(), Sheet(1, 1.5), Sheet(2, 1), Sheet(210, 297, "mm"))
BANDS = ((4, 6), (7, 9), (10, 12), (13, 16), (17, 20))


def closing(number, seed):
    rng = np.random.default_rng(seed)
    rows, failures = [], []
    for k in range(number):
        flaps = int(rng.integers(4, 21))
        figure = random_figure(rng, flaps)
        packing = pack(figure, SHEETS[k % 4], starts=1, workers=1, seed=k)
        side = min(packing.sheet.width, packing.sheet.height)
        began = time.process_time()
        try:
            pattern = crease_pattern(packing)
        except PackerError as error:
            failures.append((k, flaps, str(error)))
            continue
        seconds = time.process_time() - began
        feature = 100 * smallest_feature(pattern).size / side
        agree = set(pattern.split_rivers) == set(packing.split_rivers)
        fillers = len(pattern.fillers)
        split = len(pattern.split_rivers)
        worst = misfit(pattern) / side
        rows.append((flaps, fillers, feature, split, agree, seconds, worst))
    table = np.array(rows, dtype=float)
    print(f"closed {len(rows)} of {number} ({100 * len(rows) / number:.2f} %)")
    print(f"worst error of a folded distance {table[:, 6].max():.1e} of the side")
    print(
        "flaps   figures  fillers/flap  feature % (median, least)  split rivers  as packed  s"
    )
    for low, high in BANDS:
        band = table[(table[:, 0] >= low) & (table[:, 0] <= high)]
        if len(band):
            print(
                f"{low:2d}-{high:2d} {len(band):8d} {(band[:, 1] / band[:, 0]).mean():12.2f}"
                f" {np.median(band[:, 2]):16.3g} {band[:, 2].min():10.1e}"
                f" {band[:, 3].mean():12.2f} {100 * band[:, 4].mean():10.0f} %"
                f" {band[:, 5].mean():6.2f}"
            )
    for failure in failures:
        print("failed:", *failure)


class _Cpu:
    """A clock that stands still while other processes run."""

    monotonic = staticmethod(time.process_time)


def settled(paths, seconds, give, seed):
    settling.time = _Cpu
    print("figure symmetry flaps feature% given% split fillers creases tries finest at")
    for path in paths:
        figure = dataclasses.replace(read_figure(path), whole_rivers=True)
        for symmetry in dict.fromkeys(["none", figure.symmetry]):
            first = _packing(figure, symmetry, seed)
            more = (_packing(figure, symmetry, seed + k) for k in count(1))
            began = time.process_time()
            found = settling.settle(first, give, seconds=seconds, seed=seed, more=more)
            side = min(first.sheet.width, first.sheet.height)
            print(
                f"{path.stem} {symmetry} {first.tree.n_tips}"
                f" {100 * found.feature.size / side:.3f} {100 * found.given:.2f}"
                f" {len(found.pattern.split_rivers)} {len(found.pattern.fillers)}"
                f" {found.pattern.creases} {found.tries} {', '.join(found.feature.parts)}"
                f" ({time.process_time() - began:.0f} s)",
                flush=True,
            )


def _packing(figure, symmetry, seed):
    return pack(figure, symmetry=symmetry, seed=seed, time=1.0, workers=1)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("what", choices=["closing", "settling"])
    parser.add_argument("samples", nargs="*", type=Path)
    parser.add_argument("--count", type=int, default=500)
    parser.add_argument("--seconds", type=float, default=60)
    parser.add_argument("--give", type=float, default=0.03)
    parser.add_argument("--seed", type=int, default=0)
    options = parser.parse_args()
    if options.what == "closing":
        closing(options.count, options.seed)
    else:
        paths = options.samples or sorted(Path("samples").glob("*.toml"))
        settled(paths, options.seconds, options.give, options.seed)
