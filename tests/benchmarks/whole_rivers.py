"""Whole rivers: what it costs to ask for them.

Run ``python -m tests.benchmarks.whole_rivers [--out whole_rivers.csv] [--search 5]
[--only PART]``. For every sample and some random figures: strands too many without and with the
wish, and the scale with it as a share of the scale without. All seconds are processor time.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import numpy as np

from packer.model.river_connectivity import river_sides, splits
from packer.search.parallel.threads import one_thread
from tests.benchmarks.csv_table import write_csv
from tests.benchmarks.headroom import cases, good

COLUMNS = ("figure", "flaps", "scale", "splits", "whole scale", "whole splits", "share")


def measure(name, problem, search):
    free, whole = (good(problem, search, whole_rivers=wish) for wish in (False, True))
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
    options.add_argument("--only", default="", help="part of a figure's name")
    chosen = options.parse_args()
    rows = []
    print("\t".join(COLUMNS))
    for name, problem in cases(chosen.only):
        with one_thread():
            rows.append(measure(name, problem, chosen.search))
        print("\t".join(str(rows[-1][column]) for column in COLUMNS), flush=True)
    shares = [float(row["share"]) for row in rows]
    split = sum(row["splits"] > 0 for row in rows), sum(row["whole splits"] > 0 for row in rows)
    print(
        f"share: median {np.median(shares):.4f}, least {min(shares):.4f}; figures with split "
        f"rivers: {split[0]} without the wish, {split[1]} with it, of {len(rows)}"
    )
    if chosen.out:
        write_csv(chosen.out, rows)
    return 0


if __name__ == "__main__":
    sys.exit(main())
