"""Headroom: how far the proven bound lies above the best packing found.

Run ``python -m tests.benchmarks.headroom [--out headroom.csv] [--seconds 5] [--search 5]
[--only PART]``. Columns: flaps, best scale of a search, and bound / scale - 1 by the classical
rules, with the tree area bound, and after branch and bound for 5 CPU seconds, with the rule that
gave it. All seconds are processor time.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from time import process_time

import numpy as np

from packer.bounds.classical_rules import classical_bounds
from packer.bounds.upper_bound import quick_bound, upper_bound
from packer.deadline import Deadline
from packer.files.figure_toml import read_figure
from packer.model.problem import pose
from packer.search.memetic.run import SearchGoal, advance, begin
from packer.search.parallel.coordinator import plain_packing
from packer.search.parallel.threads import one_thread
from tests.benchmarks.csv_table import write_csv
from tests.strategies import random_figure

SAMPLES = Path(__file__).parent.parent.parent / "samples"
COLUMNS = (
    "figure",
    "symmetry",
    "flaps",
    "scale",
    "classical",
    "quick",
    "proven",
    "seconds",
    "rule",
)


LEG = 0.1


def cases(only):
    """Every sample as it is written, then unsymmetric random figures; those so named."""
    found = [(path.stem, pose(read_figure(path))) for path in sorted(SAMPLES.glob("*.toml"))]
    found = [(name, problem) for name, problem in found if not problem.tree.widths]
    found += [
        (f"random {n}, seed {seed}", pose(random_figure(seed, n)))
        for n in (10, 20, 40)
        for seed in range(3)
    ]
    return [case for case in found if only in case[0]]


def good(problem, seconds, *, whole_rivers=False, enough=np.inf):
    """Return the best packing, unpolished, of so many seconds of processor time."""
    goal = SearchGoal(problem, whole_rivers, enough)
    end, runs = process_time() + seconds, [begin(0, 0)]
    while process_time() < end and not (runs[-1].best and goal.meets(runs[-1].best)):
        runs[-1] = advance(goal, runs[-1], Deadline.after(LEG))
        if runs[-1].done:
            runs.append(begin(0, len(runs)))
    best = min(
        (run.best for run in runs if run.best),
        key=lambda optimum: (optimum.splits, -optimum.scale),
    )
    return plain_packing(problem, best)


def measure(name, problem, seconds, search):
    classical = classical_bounds(problem)[0].scale
    quick = quick_bound(problem).scale
    best = good(problem, search, enough=quick)
    began = process_time()
    bound = upper_bound(problem, best=best, stop=lambda: process_time() > began + seconds)
    spent = process_time() - began
    return {
        "figure": name,
        "symmetry": problem.symmetry,
        "flaps": problem.tree.n_tips,
        "scale": f"{best.scale:.6g}",
        "classical": f"{classical / best.scale - 1:.4f}",
        "quick": f"{quick / best.scale - 1:.4f}",
        "proven": f"{bound.scale / best.scale - 1:.7f}",
        "seconds": f"{spent:.2f}",
        "rule": bound.rule,
    }


def main():
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--out", type=Path)
    options.add_argument(
        "--seconds", type=float, default=5.0, help="CPU seconds for each proof"
    )
    options.add_argument("--search", type=float, default=5.0, help="seconds for each search")
    options.add_argument("--only", default="", help="part of a figure's name")
    chosen = options.parse_args()
    rows = []
    print("\t".join(COLUMNS))
    for name, problem in cases(chosen.only):
        with one_thread():
            rows.append(measure(name, problem, chosen.seconds, chosen.search))
        print("\t".join(str(rows[-1][column]) for column in COLUMNS), flush=True)
    for kind, some in (
        ("samples", [r for r in rows if not r["figure"].startswith("random")]),
        ("random figures", [r for r in rows if r["figure"].startswith("random")]),
    ):
        if some:
            proven = [float(row["proven"]) for row in some]
            print(f"{kind}: median headroom {np.median(proven):.4f}, largest {max(proven):.4f}")
    if chosen.out:
        write_csv(chosen.out, rows)
    return 0


if __name__ == "__main__":
    sys.exit(main())
