"""Whole rivers: what it costs to ask for them.

Run ``python -m tests.benchmarks.whole_rivers [--out whole_rivers.csv] [--search 5]``. For every
sample and some random figures: strands too many without and with the wish, and the scale with it
as a share of the scale without.
"""

from __future__ import annotations

import argparse
import csv
import sys
from pathlib import Path

import numpy as np

from packer.search.search import pack
from packer.search.wholeness import river_sides, splits
from tests.benchmarks.headroom import cases

COLUMNS = ("figure", "flaps", "scale", "splits", "whole scale", "whole splits", "share")


def measure(name, problem, search):
    free, whole = (
        pack(problem, time=search, workers=1, whole_rivers=wish) for wish in (False, True)
    )
    sides = river_sides(problem)
    return {
        "figure": name,
        "flaps": problem.tree.n_tips,
        "scale": f"{free.scale:.6g}",
        "splits": int(splits(sides, free.points).sum()),
        "whole scale": f"{whole.scale:.6g}",
        "whole splits": int(splits(sides, whole.points).sum()),
        "share": f"{whole.scale / free.scale:.4f}",
    }


def main():
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--out", type=Path)
    options.add_argument("--search", type=float, default=5.0, help="seconds for each search")
    options.add_argument("--samples", action="store_true", help="the samples only")
    chosen = options.parse_args()
    rows = []
    print("\t".join(COLUMNS))
    for name, problem in cases(chosen.samples):
        rows.append(measure(name, problem, chosen.search))
        print("\t".join(str(rows[-1][column]) for column in COLUMNS), flush=True)
    shares = [float(row["share"]) for row in rows]
    split = sum(row["splits"] > 0 for row in rows), sum(row["whole splits"] > 0 for row in rows)
    print(
        f"share: median {np.median(shares):.4f}, least {min(shares):.4f}; figures with split "
        f"rivers: {split[0]} without the wish, {split[1]} with it, of {len(rows)}"
    )
    if chosen.out:
        with chosen.out.open("w", newline="", encoding="utf-8") as file:
            table = csv.DictWriter(file, COLUMNS)
            table.writeheader()
            table.writerows(rows)
    return 0


if __name__ == "__main__":
    sys.exit(main())
