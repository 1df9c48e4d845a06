"""Layer orders: how many are found, in what time, by number of creases.

    python -m tests.benchmarks.layers [--first 0] [--count 200] [--most 40] [--settle 0] [--csv FILE]
    python -m tests.benchmarks.layers --files DIR [--csv FILE]

Packs random figures of 4 to `--most` flaps on squares and rectangles, free and mirrored, closes them
(settled with that many tries, or as they are) and asks for a layer order of the whole base; or reads
the patterns of the FOLD files in a directory. Columns: name, creases, split rivers, whether an order
was found, CPU seconds, polygons put in by search, creases unlike their mirror image, findings of the
folded form, and faults of the order by all taco-tacos and taco-tortillas (must be 0). Time is CPU
time, of one core, the packing not counted. `--csv` appends the rows to a file.
"""

from __future__ import annotations

import argparse
import csv
import itertools
import sys
from pathlib import Path
from time import process_time

import numpy as np

from packer import Sheet
from packer.creases.completion.complete import crease_pattern
from packer.creases.settling.settle import settle
from packer.deadline import Deadline
from packer.errors import PackerError
from packer.files.fold_json import read_fold
from packer.folded.checks import findings
from packer.folded.layers import flat_base
from packer.folded.overlaps import nested, passing
from packer.search.options import SearchOptions
from packer.search.pack import pack
from packer.search.stopping import MaxStarts
from tests.strategies import random_figure

SHEETS = (Sheet(), Sheet(1, 1.5), Sheet(2, 1), Sheet(1, 2**0.5))
SYMMETRIES = ("none", "book", "none", "diagonal")
ENOUGH = 60.0
"""Seconds, on the clock on the wall, after which an order is given up."""

CLASSES = (0, 200, 400, 700, 1000, 1500, 10**6)


def faults_of(base):
    """All taco-tacos and taco-tortillas that an order breaks, each asked one by one."""
    layers, rank = base.order.layers, base.order.rank
    sides = np.sort(rank[layers.creases[:, 1:]], axis=1)
    rows = passing(base.pattern, base.form, layers)
    low, high = sides[rows[:, 0]].T
    third = rank[rows[:, 1]]
    pairs = nested(base.pattern, base.form, layers)
    (a, b), (c, d) = sides[pairs[:, 0]].T, sides[pairs[:, 1]].T
    alternate = ((a < c) & (c < b) & (b < d)) | ((c < a) & (a < d) & (d < b))
    return int(((low < third) & (third < high)).sum() + alternate.sum())


def row(name, pattern):
    begun = process_time()
    base = flat_base(pattern, deadline=Deadline.after(ENOUGH))
    seconds = process_time() - begun
    found = base.order is not None
    return (
        name,
        pattern.creases,
        len(pattern.split_rivers),
        int(found),
        f"{seconds:.2f}",
        base.repaired,
        "" if base.mirrored.uneven is None else base.mirrored.uneven,
        len(findings(base.pattern, base.form)),
        faults_of(base) if found else "",
    )


def random_patterns(first, count, most, tries):
    for seed in range(first, first + count):
        flaps = 4 + (seed * 7) % (most - 3)
        symmetry = SYMMETRIES[seed % 4]
        sheet = SHEETS[0] if symmetry == "diagonal" else SHEETS[seed // 4 % 4]
        figure = random_figure(seed, flaps, symmetry=symmetry, pairs=symmetry != "none")
        try:
            options = SearchOptions(stop=MaxStarts(8), workers=1, seed=seed)
            packing = pack(figure, sheet, options=options)
            pattern = settle(packing, tries=tries).pattern if tries else crease_pattern(packing)
        except PackerError as error:
            print(f"seed {seed}, {flaps} flaps: {error}", file=sys.stderr)
            continue
        yield f"{seed} {flaps} {symmetry}", pattern


def summary(rows):
    print("\ncreases\tpatterns\tfound\tmedian s\tmost s\tfaults")
    for low, high in itertools.pairwise(CLASSES):
        here = [r for r in rows if low <= r[1] < high]
        if here:
            seconds = [float(r[4]) for r in here]
            faults = sum(r[8] or 0 for r in here) + sum(r[7] for r in here)
            print(
                f"{low}-\t{len(here)}\t{sum(r[3] for r in here)}\t{np.median(seconds):.2f}"
                f"\t{max(seconds):.2f}\t{faults}"
            )
    print(f"all\t{len(rows)}\t{sum(r[3] for r in rows)}")


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument("--most", type=int, default=40)
    parser.add_argument("--settle", type=int, default=0)
    parser.add_argument("--files", type=Path)
    parser.add_argument("--csv", type=Path)
    asked = parser.parse_args()
    if asked.files:
        patterns = ((f.stem, read_fold(f)) for f in sorted(asked.files.glob("*.fold")))
    else:
        patterns = random_patterns(asked.first, asked.count, asked.most, asked.settle)
    rows = []
    for name, pattern in patterns:
        rows.append(row(name, pattern))
        print(*rows[-1], sep="\t", flush=True)
        if asked.csv:
            with asked.csv.open("a", newline="", encoding="utf-8") as file:
                csv.writer(file).writerow(rows[-1])
    summary(rows)


if __name__ == "__main__":
    main()
