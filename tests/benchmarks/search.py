"""The search against an independent solver, published values, itself and its own size.

Run ``python -m tests.benchmarks.search PART [--csv FILE]`` with PART one of

- ``scale``: against multistart SLSQP (scipy), from uniform starts and from the search's own
  starts, on equal CPU time; every sample and random figures of 10 to 80 flaps;
- ``stars``: CPU seconds until equal stars reach the proven (n <= 33, to 1e-9) or best known
  (to 1e-4) value of the table beside the bounds;
- ``spread``: gap of each of several seeds to the best known of them all and of a long run;
- ``growth``: milliseconds of a local solve and peak memory against flaps, with the exponent.

All times are CPU seconds of one process, so that a busy machine changes little.
"""

from __future__ import annotations

import argparse
import csv
import math
import resource
import sys
from importlib.resources import files
from pathlib import Path
from time import process_time

import numpy as np

from packer.figure import Figure, Flap
from packer.files.figure_toml import read_figure
from packer.problem import pose
from packer.search.bounds.best import quick_bound
from packer.search.interior import ascend
from packer.search.placements import settle
from packer.search.population import Quest, advance, begin
from packer.search.program import compile_program
from packer.search.search import pack
from packer.search.starts import fresh_points, uniform_points
from packer.search.threads import one_thread
from tests.benchmarks.slsqp import multistart
from tests.strategies import random_figure

SAMPLES = Path(__file__).parent.parent.parent / "samples"
LEG = 0.2


def search_by_cpu(problem, seconds, seed=0, enough=math.inf):
    """Return the best scale after so many CPU seconds, and those until it was reached."""
    quest = Quest(problem, enough=enough)
    began, index, best, at = process_time(), 0, 0.0, 0.0
    walk = begin(seed, index)
    while process_time() - began < seconds and best < enough * (1 - 1e-9):
        walk = advance(quest, walk, LEG)
        if walk.best.scale > best:
            best, at = walk.best.scale, process_time() - began
        if walk.done:
            index += 1
            walk = begin(seed, index)
    return best, at


def star(n):
    return pose(Figure(f"star {n}", tuple(Flap(f"f{k}", "hub", 1.0) for k in range(n))))


def samples():
    return {path.stem: pose(read_figure(path)) for path in sorted(SAMPLES.glob("*.toml"))}


def scale_rows(options):
    """Scale of the search over that of SLSQP multistart on equal CPU."""
    cases = samples() | {
        f"random {n}": pose(random_figure(n, n, joints=max(2, n // 3)))
        for n in (10, 15, 20, 40, 80)
    }
    for name, problem in cases.items():
        if options.only and options.only not in name:
            continue
        ours, _ = search_by_cpu(problem, options.seconds, options.seed)
        plain = multistart(problem, options.seconds, options.seed, uniform_points)
        same = multistart(problem, options.seconds, options.seed, fresh_points)
        yield {
            "figure": name,
            "symmetry": problem.symmetry,
            "flaps": problem.tree.n_tips,
            "scale": ours,
            "over uniform": ours / plain if plain else math.inf,
            "over own starts": ours / same if same else math.inf,
        }


def star_rows(options):
    """CPU seconds and hits of equal stars."""
    text = files("packer.search.bounds").joinpath("points_in_square.csv").read_text("utf-8")
    table = csv.DictReader(line for line in text.splitlines() if not line.startswith("#"))
    for row in table:
        n = int(row["n"])
        if not options.least <= n <= options.most:
            continue
        goal = float(row["max_min_distance"]) / 2
        near = 1e-9 if n <= 30 else 1e-4
        runs = []
        for seed in range(options.seeds):
            found, at = search_by_cpu(
                star(n), options.seconds, seed, goal * (1 - near) / (1 - 1e-9)
            )
            runs.append((found / goal - 1, at if found >= goal * (1 - near) else math.inf))
        times = [at for _, at in runs]
        yield {
            "flaps": n,
            "proven": row["proven"].startswith("yes"),
            "hits": sum(math.isfinite(at) for at in times),
            "seeds": options.seeds,
            "median s": float(np.median(times)),
            "worst gap": min(gap for gap, _ in runs),
        }


def spread_rows(options):
    """Gap of each seed to the best of all of them and of a long run."""
    cases = {
        f"random {n}, {seed}": pose(random_figure(seed, n, joints=max(2, n // 3)))
        for n, seed in ((20, 1), (22, 5), (24, 2), (25, 3))
    }
    cases |= {f"{name}": p for name, p in samples().items() if 10 <= p.tree.n_tips <= 25}
    cases["random 80, 4"] = pose(random_figure(4, 80, joints=26))
    for name, problem in cases.items():
        if options.only and options.only not in name:
            continue
        found = [
            search_by_cpu(problem, options.seconds, seed)[0] for seed in range(options.seeds)
        ]
        best = max([*found, search_by_cpu(problem, options.long, 1000)[0]])
        gaps = 1 - np.array(found) / best
        yield {
            "figure": name,
            "symmetry": problem.symmetry,
            "flaps": problem.tree.n_tips,
            "best": best,
            "headroom": quick_bound(problem).scale / best - 1,
            "median gap %": 100 * float(np.median(gaps)),
            "worst gap %": 100 * float(gaps.max()),
            "within 1e-6": int((gaps < 1e-6).sum()),
            "seeds": options.seeds,
        }


def growth_rows(options):
    """Milliseconds of one local solve from the search's starts, and memory."""
    sizes, times = [], []
    for n in (10, 20, 40, 80, 120, 200):
        problem = pose(random_figure(n, n, joints=max(2, n // 3)))
        rng = np.random.default_rng(options.seed)
        count = max(3, 400 // n)
        points = [fresh_points(problem, rng) for _ in range(count)]
        program = compile_program(problem, settle(problem, points[0], rng))
        ascend(program, program.variables(points[0]))
        began = process_time()
        for start in points:
            ascend(program, program.variables(start))
        sizes.append(n)
        times.append((process_time() - began) / count)
        big = [k for k, size in enumerate(sizes) if size >= 20]
        fit = (
            np.polyfit(np.log(np.take(sizes, big)), np.log(np.take(times, big)), 1)
            if len(big) > 1
            else [math.nan]
        )
        if n == 200:
            pack(problem, time=options.seconds, workers=1)
        yield {
            "flaps": n,
            "ms a solve": 1e3 * times[-1],
            "exponent from 20": float(fit[0]),
            "peak MiB": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
        }


PARTS = {"scale": scale_rows, "stars": star_rows, "spread": spread_rows, "growth": growth_rows}


def main():
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("part", choices=PARTS)
    parser.add_argument("--csv", type=Path, help="write the table here as well")
    parser.add_argument("--seconds", type=float, default=5.0, help="CPU seconds a run")
    parser.add_argument("--long", type=float, default=60.0, help="CPU seconds of the long run")
    parser.add_argument("--seeds", type=int, default=5)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--least", type=int, default=10, help="smallest star")
    parser.add_argument("--most", type=int, default=30, help="largest star")
    parser.add_argument("--only", default="", help="part of a figure's name")
    options = parser.parse_args()
    rows = []
    with one_thread():
        for row in PARTS[options.part](options):
            if not rows:
                print("  ".join(f"{key:>14}" for key in row))
            print("  ".join(f"{shown(value):>14}" for value in row.values()), flush=True)
            rows.append(row)
    if options.csv:
        with options.csv.open("w", newline="", encoding="utf-8") as out:
            writer = csv.DictWriter(out, rows[0])
            writer.writeheader()
            writer.writerows(rows)
    return 0


def shown(value):
    return f"{value:.5g}" if isinstance(value, float) else str(value)


if __name__ == "__main__":
    sys.exit(main())
