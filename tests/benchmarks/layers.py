"""Layer orders: how many are found, in what time, by number of creases and of flaps.

    python -m tests.benchmarks.layers [--settle TRIES] [--first 0] [--count 300] [--step 1] [--csv FILE]
    python -m tests.benchmarks.layers --files DIR [--csv FILE]
    python -m tests.benchmarks.layers --grid samples|random [--first 0] [--count 100] [--csv FILE]

Reads the packings of `layer_corpus.csv` (200 random figures of 4 to 40 flaps on squares and rectangles,
free and mirrored; every sample as written and free; a random one of 80 flaps), closes them as they are, or
settled with that many tries, and asks for a layer order of the whole base; or reads the patterns of the
FOLD files in a directory. `--keep DIR` writes the patterns as FOLD files, with what was found. `--grid` takes box-pleated patterns instead: every
sample on its default grid, or random figures of 8 to 30 flaps (twins not counted), every second one
mirrored, every fourth packed by the quick filling alone, as on an install without the exact solver.
`--plain` hides that solver, as on an install without extras: random grids are then all filled quickly. Orders of more than 1,500 creases are
judged by the package's own judge, of more than 10,000 faces in samples, as the last column tells.
Columns: name (of a random figure its seed, lines under [flaps] and symmetry), flaps with twins, creases,
split rivers, whether an order was found, CPU seconds, polygons put in by search, creases unlike their
mirror image, how many of these a search has shown must be, findings of the folded form, faults of the order by all taco-tacos and taco-tortillas
(must be 0), and the share judged. Time is CPU time, of one core, the packing not counted. `--csv` appends
the rows to a file.
"""

from __future__ import annotations

import argparse
import csv
import itertools
import sys
from pathlib import Path
from time import process_time

import numpy as np
import shapely

from packer.creases.completion.complete import crease_pattern
from packer.creases.settling.settle import settle
from packer.deadline import Deadline
from packer.errors import PackerError
from packer.files.figure_toml import read_figure
from packer.files.fold_json import fold_text, read_fold
from packer.folded.checks import findings
from packer.folded.layers import flat_base
from packer.folded.overlaps import on_one_line, segments_of
from packer.grid.cp_sat import available
from packer.grid.grid_creases import grid_creases
from packer.grid.grid_problem import GridRequest
from packer.grid.pack_grid import pack_grid
from packer.search.options import SearchOptions
from packer.search.stopping import MaxEffort
from packer.units import LAYER_TOLERANCE
from tests.benchmarks.layer_corpus import corpus
from tests.benchmarks.work import clock_of_cpu
from tests.folded import slow_order
from tests.grid.whole import filled, whole_figure

ENOUGH = 60.0
"""CPU seconds after which an order is given up."""

MOST_CREASES = 1500
"""Creases up to which an order is judged by all pairs, one by one."""

MOST_FACES = 300
"""Faces up to which the plain twin of the tests judges as well, every crease against every face."""

CREASES = (0, 200, 400, 700, 1000, 1500, 3000, 6000, 10_000, 10**6)
FLAPS = (0, 10, 20, 30, 40, 60, 100)


def faults_of(base):
    """All taco-tacos and taco-tortillas that an order breaks, each asked one by one."""
    layers, rank = base.order.layers, base.order.rank
    sides = np.sort(rank[layers.creases[:, 1:]], axis=1)
    rows = passing(base.pattern, base.form, layers)
    low, high = sides[rows[:, 0]].T
    third = rank[rows[:, 1]]
    pairs = on_one_line(base.pattern, base.form, layers.creases, layers.flipped)
    (a, b), (c, d) = sides[pairs[:, 0]].T, sides[pairs[:, 1]].T
    alternate = ((a < c) & (c < b) & (b < d)) | ((c < a) & (a < d) & (d < b))
    return int(((low < third) & (third < high)).sum() + alternate.sum())


def passing(pattern, form, layers):
    """Return (k, 2) rows of creases and a third layer across whose inside each lies: taco-tortillas."""
    tolerance = LAYER_TOLERANCE * pattern.sheet.diagonal
    inner = shapely.buffer(layers.regions, -tolerance, join_style="mitre")
    segments = segments_of(pattern, form, layers.creases[:, 0])
    row, layer = shapely.STRtree(inner).query(segments, predicate="intersects")
    apart = (layers.creases[row, 1] != layer) & (layers.creases[row, 2] != layer)
    row, layer = row[apart], layer[apart]
    across = shapely.length(shapely.intersection(segments[row], inner[layer])) > tolerance
    return np.column_stack([row, layer])[across]


def row(name, pattern, keep=None, limit=ENOUGH):
    begun = process_time()
    with clock_of_cpu():
        base = flat_base(pattern, deadline=Deadline.after(limit))
    seconds = process_time() - begun
    found = base.order is not None
    if keep:
        (keep / f"{name.replace(' ', '_')}.fold").write_text(fold_text(base), encoding="utf-8")
    return (
        name,
        len({pattern.part_of[flap] for flap in pattern.tree.flaps if flap in pattern.part_of}),
        pattern.creases,
        len(pattern.split_rivers),
        int(found),
        f"{seconds:.2f}",
        base.repaired,
        "" if base.mirrored.unlike is None else base.mirrored.unlike,
        "" if base.mirrored.unlike is None else base.mirrored.shown,
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


def corpus_patterns(tries, rows):
    for name, packing in itertools.islice(corpus(), rows.start, rows.stop, rows.step):
        try:
            pattern = settle(packing, tries=tries).pattern if tries else crease_pattern(packing)
        except PackerError as error:
            print(f"{name}: {error}", file=sys.stderr)
            continue
        yield name, pattern


def sample_grids():
    for path in sorted((Path(__file__).parents[2] / "samples").glob("*.toml")):
        yield path.stem, grid_creases(pack_grid(read_figure(path)))


def random_grids(seeds):
    for seed in seeds:
        flaps = 8 + (seed * 7) % 23
        symmetry = ("none", "book", "none", "diagonal")[seed % 4]
        figure = whole_figure(seed, flaps, 5, symmetry)
        if seed % 4 == 2 or not available():
            packing = filled(figure, seed)
        else:
            options = SearchOptions(stop=MaxEffort(3))
            packing = pack_grid(figure, grid=GridRequest(unit=1.0), options=options)
        size = "x".join(str(side) for side in packing.cells)
        yield f"{seed} {packing.tree.n_tips} {symmetry} {size}", grid_creases(packing)


def summary(rows):
    _table("creases", CREASES, [(r[2], r) for r in rows])
    _table("flaps", FLAPS, [(r[1] - 1, r) for r in rows])
    print(f"all\t{len(rows)}\t{sum(r[4] for r in rows)}")


def _table(what, classes, rows):
    print(f"\n{what} above\tpatterns\tfound\tmedian s\tmost s\tfaults")
    for low, high in itertools.pairwise(classes):
        here = [r for count, r in rows if low <= count < high]
        if here:
            seconds = [float(r[5]) for r in here]
            faults = sum(r[10] or 0 for r in here) + sum(r[9] for r in here)
            print(
                f"{low}\t{len(here)}\t{sum(r[4] for r in here)}\t{np.median(seconds):.2f}"
                f"\t{max(seconds):.2f}\t{faults}"
            )


def patterns_of(asked):
    rows = range(asked.first, asked.first + asked.count, asked.step)
    if asked.grid == "samples":
        return sample_grids()
    if asked.grid:
        return random_grids(rows)
    if asked.files:
        return ((f.stem, read_fold(f)) for f in sorted(asked.files.glob("*.fold")))
    return corpus_patterns(asked.settle, rows)


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--count", type=int, default=300)
    parser.add_argument("--step", type=int, default=1)
    parser.add_argument("--settle", type=int, default=0)
    parser.add_argument("--files", type=Path)
    parser.add_argument("--keep", type=Path)
    parser.add_argument("--csv", type=Path)
    parser.add_argument("--grid", choices=("samples", "random"))
    parser.add_argument("--seconds", type=float, default=ENOUGH, help="limit for each order")
    parser.add_argument("--plain", action="store_true")
    asked = parser.parse_args()
    if asked.plain:
        sys.modules["ortools"] = None
    rows = []
    for name, pattern in patterns_of(asked):
        rows.append(row(name, pattern, asked.keep, asked.seconds))
        print(*rows[-1], sep="\t", flush=True)
        if asked.csv:
            with asked.csv.open("a", newline="", encoding="utf-8") as file:
                csv.writer(file).writerow(rows[-1])
    summary(rows)


if __name__ == "__main__":
    main()
