"""Layer orders: how many are found, in what time, by number of creases.

    python -m tests.benchmarks.layers [--first 0] [--count 200] [--most 40] [--settle 0] [--csv FILE]
    python -m tests.benchmarks.layers --files DIR [--csv FILE]
    python -m tests.benchmarks.layers --grid samples|random [--first 0] [--count 100] [--csv FILE]

Packs random figures of 4 to `--most` flaps on squares and rectangles, free and mirrored, closes them
(settled with that many tries, or as they are) and asks for a layer order of the whole base; or reads
the patterns of the FOLD files in a directory. `--grid` takes box-pleated patterns instead: every
sample on its default grid, or random figures of 8 to 30 flaps (twins not counted), every second one
mirrored, every fourth packed by the quick filling alone, as on an install without the exact solver.
Orders of more than 1,500 creases are judged by the package's own judge, of more than 10,000 faces in
samples, as the last column tells. Columns: name, creases, split rivers, whether an order
was found, CPU seconds, polygons put in by search, creases unlike their mirror image, findings of the
folded form, faults of the order by all taco-tacos and taco-tortillas (must be 0), and the share judged. Time is CPU
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
from packer.files.figure_toml import read_figure
from packer.files.fold_json import read_fold
from packer.folded.checks import findings
from packer.folded.layers import flat_base
from packer.folded.overlaps import nested, passing
from packer.grid.grid_creases import grid_creases
from packer.grid.grid_problem import GridRequest
from packer.grid.pack_grid import pack_grid
from packer.search.options import SearchOptions
from packer.search.pack import pack
from packer.search.stopping import MaxEffort, MaxStarts
from tests.folded import slow_order
from tests.grid.whole import filled, whole_figure
from tests.strategies import random_figure

SHEETS = (Sheet(), Sheet(1, 1.5), Sheet(2, 1), Sheet(1, 2**0.5))
SYMMETRIES = ("none", "book", "none", "diagonal")
ENOUGH = 60.0
"""Seconds, on the clock on the wall, after which an order is given up."""

MOST_CREASES = 1500
"""Creases up to which an order is judged by all pairs, one by one."""

MOST_FACES = 300
"""Faces up to which the plain twin of the tests judges as well, every crease against every face."""

CLASSES = (0, 200, 400, 700, 1000, 1500, 3000, 6000, 10_000, 10**6)


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
        _faults(base) if found else "",
        f"{base.judgement.looked_at:.0%}" if found else "",
    )


def _faults(base):
    """By a referee of its own; where that would take minutes, what the package's judge counted."""
    if base.pattern.creases > MOST_CREASES:
        return base.judgement.faults
    twin = 0
    if len(base.pattern.faces) <= MOST_FACES:
        twin = slow_order.faults(base.pattern, base.form, base.order.of_faces)
    return faults_of(base) + twin


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


def sample_grids():
    for path in sorted((Path(__file__).parents[2] / "samples").glob("*.toml")):
        yield path.stem, grid_creases(pack_grid(read_figure(path)))


def random_grids(first, count):
    for seed in range(first, first + count):
        flaps = 8 + (seed * 7) % 23
        symmetry = ("none", "book", "none", "diagonal")[seed % 4]
        figure = whole_figure(seed, flaps, 5, symmetry)
        if seed % 4 == 2:
            packing = filled(figure, seed)
        else:
            options = SearchOptions(stop=MaxEffort(3))
            packing = pack_grid(figure, grid=GridRequest(unit=1.0), options=options)
        size = "x".join(str(side) for side in packing.cells)
        yield f"{seed} {packing.tree.n_tips} {symmetry} {size}", grid_creases(packing)


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
    parser.add_argument("--grid", choices=("samples", "random"))
    asked = parser.parse_args()
    if asked.grid == "samples":
        patterns = sample_grids()
    elif asked.grid:
        patterns = random_grids(asked.first, asked.count)
    elif asked.files:
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
