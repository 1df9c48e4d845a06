"""Layer orders: how many are found, in what time, for figures of 4 to 12 flaps.

    python -m tests.benchmarks.layers [--first 0] [--count 50] [--time 10] [--settle 0] [--csv FILE]

Packs random figures with a few starts, closes them (settled with that many tries, or as they are)
and looks for a layer order of the whole base. Columns: flaps, fillers, creases, layers at most,
findings of the folded form, whether an order was found, roots tried, CPU seconds, and the faults
that 30 random cuts through the stack show (an independent judge; must be 0). Time is CPU time.
`--csv` appends the rows to a file.
"""

from __future__ import annotations

import argparse
import csv
import sys
from pathlib import Path
from time import monotonic, process_time

import numpy as np

from packer import Sheet
from packer.creases.completion.complete import crease_pattern
from packer.creases.settling.settle import settle
from packer.errors import PackerError
from packer.folded import layers, question
from packer.folded.checks import findings
from packer.folded.layers import flat_base
from packer.folded.order_search import best_solver
from packer.search.options import SearchOptions
from packer.search.pack import pack
from packer.search.stopping import MaxStarts
from tests.folded.cutting import random_cuts
from tests.strategies import random_figure

SHEETS = (Sheet(), Sheet(1, 1.5))


class Cpu:
    """A clock that stands still while other processes run."""

    monotonic = staticmethod(process_time)


class Patient:
    """The solver with more real seconds, by as much as this process has been kept waiting."""

    name = "patient"
    began = monotonic() - process_time()

    def __init__(self):
        self.solver = best_solver()

    def __call__(self, conditions, *, seconds, seed, near):
        slower = (monotonic() - self.began) / process_time()
        return self.solver(conditions, seconds=slower * seconds, seed=seed, near=near)


def row(seed, flaps, time, tries):
    packing = pack(
        random_figure(seed, flaps),
        SHEETS[seed % 2],
        options=SearchOptions(seed=seed, stop=MaxStarts(4), workers=1),
    )
    pattern = settle(packing, tries=tries).pattern if tries else crease_pattern(packing)
    base = flat_base(pattern, time=time, solver=Patient())
    found = base.order is not None
    return (
        flaps,
        len(pattern.fillers),
        pattern.creases,
        base.order.layers.most if found else "",
        len(findings(base.pattern, base.form)),
        int(found),
        base.roots,
        f"{base.seconds:.2f}",
        random_cuts(base.pattern, base.form, base.order.of_faces(), 30) if found else "",
    )


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--count", type=int, default=50)
    parser.add_argument("--time", type=float, default=10.0)
    parser.add_argument("--settle", type=int, default=0)
    parser.add_argument("--csv", type=Path)
    asked = parser.parse_args()
    layers.clock = question.clock = Cpu
    rows = []
    for seed in range(asked.first, asked.first + asked.count):
        flaps = 4 + seed % 9
        try:
            rows.append(row(seed, flaps, asked.time, asked.settle))
        except PackerError as error:
            print(f"seed {seed}, {flaps} flaps: {error}", file=sys.stderr)
            continue
        print(*rows[-1], sep="\t", flush=True)
    found = [r for r in rows if r[5] and float(r[7]) <= asked.time]
    seconds = np.array([float(r[7]) for r in found] or [0.0])
    print(f"found in time {len(found)} of {len(rows)}; CPU s median {np.median(seconds):.2f}, "
          f"most {seconds.max():.2f}; faults {sum(r[8] for r in found)}")  # fmt: skip
    if asked.csv:
        with asked.csv.open("a", newline="", encoding="utf-8") as file:
            csv.writer(file).writerows(rows)


if __name__ == "__main__":
    main()
