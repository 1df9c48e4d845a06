"""The search against an independent solver, published values, itself and its own size.

Run ``python -m tests.benchmarks.search PART [--csv FILE]`` with PART one of

- ``scale``: against multistart SLSQP (scipy), from uniform starts and from the search's own
  starts, on equal CPU time; every sample and random figures of 10 to 80 flaps;
- ``stars``: CPU seconds until equal stars reach the published value of the table beside the
  bounds, to 1e-9 up to 30 flaps and to 1e-4 above; a run ends when it does;
- ``spread``, ``symmetric``, ``large``: how far each of several seeds stays behind the best known,
  on figures of 20 to 25 flaps without symmetry, on symmetric ones of up to 22, on those of 80;
- ``records``: a long run of each figure of these three, for `best_known.csv`;
- ``growth``: milliseconds of a local solve and peak memory against flaps, with the exponent.

All times are CPU seconds of one process, so that a busy machine changes little. ``--clock work``
counts work in their place (`tests.benchmarks.work`; about a second a unit), so that a run repeats on any
machine; ``scale`` and ``growth`` measure another solver too and want seconds. ``--total`` bounds those of the
whole table: no figure is begun after it.
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

from packer import deadline
from packer.deadline import Deadline
from packer.local_solver.initial_points import fresh_points, uniform_points
from packer.local_solver.interior_point import maximise
from packer.local_solver.nonlinear_program import compile_program
from packer.local_solver.range_assignment import assigned_ranges
from packer.model.problem import pose
from packer.search.memetic.run import SearchGoal, advance, begin
from packer.search.options import SearchOptions
from packer.search.pack import pack
from packer.search.parallel.threads import one_thread
from packer.search.stopping import TimeLimit
from tests.benchmarks.csv_table import write_csv
from tests.benchmarks.figures import large, samples, star, symmetric, unsymmetric
from tests.benchmarks.slsqp import multistart
from tests.benchmarks.work import CLOCKS
from tests.strategies import random_figure

BEST_KNOWN = Path(__file__).parent / "best_known.csv"
LEG = 0.2


def search_by_cpu(problem, seconds, seed=0, enough=math.inf):
    """Return the best scale after so many CPU seconds, and those until it was reached."""
    goal = SearchGoal(problem, enough=enough)
    began, index, best, at = deadline.monotonic(), 0, 0.0, 0.0
    run = begin(seed, index)
    while deadline.monotonic() - began < seconds and best < enough * (1 - 1e-9):
        run = advance(goal, run, Deadline.after(LEG))
        if run.best.scale > best:
            best, at = run.best.scale, deadline.monotonic() - began
        if run.done:
            index += 1
            run = begin(seed, index)
    return best, at


def chosen(cases, options):
    """The cases asked for, until the time for all of them is over."""
    began = process_time()
    for name, problem in cases.items():
        if options.only not in name:
            continue
        if process_time() - began > options.total:
            print(f"no time left for {name} and those after it", file=sys.stderr)
            return
        yield name, problem


def scale_rows(options):
    """Scale of the search over that of SLSQP multistart on equal CPU."""
    cases = samples() | {
        f"random {n}": pose(random_figure(n, n, joints=max(2, n // 3)))
        for n in (10, 15, 20, 40, 80)
    }
    for name, problem in chosen(cases, options):
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
    text = files("packer.bounds").joinpath("points_in_square.csv").read_text("utf-8")
    table = csv.DictReader(line for line in text.splitlines() if not line.startswith("#"))
    rows = {f"star {row['n']}": row for row in table}
    sizes = range(options.smallest, options.largest + 1, options.step)
    for name, problem in chosen({f"star {n}": star(n) for n in sizes}, options):
        row, n = rows[name], problem.tree.n_tips
        goal = float(row["max_min_distance"]) / 2
        near = 1e-9 if n <= 30 else 1e-4
        runs = []
        for seed in range(options.seeds):
            enough = goal * (1 - near) / (1 - 1e-9)
            found, at = search_by_cpu(problem, options.seconds, seed, enough)
            runs.append((found / goal - 1, at if found >= goal * (1 - near) else math.inf))
        times = [at for _, at in runs]
        yield {
            "flaps": n,
            "proven": row["proven"].startswith("yes"),
            "hits": sum(math.isfinite(at) for at in times),
            "seeds": options.seeds,
            "median s": float(np.median(times)),
            "worst s": max(times),
            "worst gap": min(gap for gap, _ in runs),
        }


def best_known():
    """The largest scale that any run of these benchmarks has found, by figure."""
    with BEST_KNOWN.open(encoding="utf-8") as text:
        table = csv.DictReader(line for line in text if not line.startswith("#"))
        return {row["figure"]: float(row["scale"]) for row in table}


def gap_rows(cases, options):
    """How far each seed stays behind the best known; a run ends when it reaches it."""
    known = best_known()
    for name, problem in chosen(cases, options):
        goal = known.get(name, math.inf)
        runs = [
            search_by_cpu(problem, options.seconds, seed, goal) for seed in range(options.seeds)
        ]
        found = np.array([scale for scale, _ in runs])
        best = max(found.max(), known.get(name, 0.0))
        gaps = 1 - found / best
        yield {
            "figure": name,
            "symmetry": problem.symmetry,
            "flaps": problem.tree.n_tips,
            "best": f"{best:.12g}",
            "median gap %": 100 * float(np.median(gaps)),
            "worst gap %": 100 * float(gaps.max()),
            "within 1e-6": int((gaps < 1e-6).sum()),
            "seeds": options.seeds,
            "median s": float(np.median([at for _, at in runs])),
        }


def record_rows(options):
    """The best of a long run of each figure."""
    known = best_known()
    for name, problem in chosen(unsymmetric() | symmetric() | large(), options):
        found, at = search_by_cpu(problem, options.seconds, options.seed)
        old = known.get(name, 0.0)
        yield {"figure": name, "scale": f"{max(found, old):.12g}", "new": found, "s": at}


def growth_rows(options):
    """Milliseconds of one local solve from the search's starts, and memory."""
    sizes, times = [], []
    for n in (10, 20, 40, 80, 120, 200):
        problem = pose(random_figure(n, n, joints=max(2, n // 3)))
        rng = np.random.default_rng(options.seed)
        count = max(3, 400 // n)
        points = [fresh_points(problem, rng) for _ in range(count)]
        program = compile_program(problem, assigned_ranges(problem, points[0], rng))
        maximise(program, program.variables(points[0]))
        began = process_time()
        for start in points:
            maximise(program, program.variables(start))
        sizes.append(n)
        times.append((process_time() - began) / count)
        big = [k for k, size in enumerate(sizes) if size >= 20]
        fit = (
            np.polyfit(np.log(np.take(sizes, big)), np.log(np.take(times, big)), 1)
            if len(big) > 1
            else [math.nan]
        )
        if n == 200:
            pack(problem, options=SearchOptions(stop=TimeLimit(options.seconds), workers=1))
        yield {
            "flaps": n,
            "ms a solve": 1e3 * times[-1],
            "exponent from 20": float(fit[0]),
            "peak MiB": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
        }


PARTS = {
    "scale": (5, scale_rows),
    "stars": (60, star_rows),
    "spread": (20, lambda options: gap_rows(unsymmetric(), options)),
    "symmetric": (5, lambda options: gap_rows(symmetric(), options)),
    "large": (60, lambda options: gap_rows(large(), options)),
    "records": (300, record_rows),
    "growth": (5, growth_rows),
}
"""CPU seconds of a run unless told otherwise, and what makes the rows."""


def main():
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("part", choices=PARTS)
    parser.add_argument("--csv", type=Path, help="write the table here as well")
    parser.add_argument("--seconds", type=float, help="CPU seconds a run")
    parser.add_argument("--total", type=float, default=math.inf, help="CPU seconds in all")
    parser.add_argument("--seeds", type=int, default=10)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--smallest", type=int, default=2, help="smallest star")
    parser.add_argument("--largest", type=int, default=30, help="largest star")
    parser.add_argument("--step", type=int, default=1, help="from one star to the next")
    parser.add_argument("--only", default="", help="part of a figure's name")
    parser.add_argument("--clock", choices=CLOCKS, default="cpu")
    options = parser.parse_args()
    usual, part = PARTS[options.part]
    options.seconds = options.seconds or usual
    rows = []
    with one_thread(), CLOCKS[options.clock]():
        for row in part(options):
            if not rows:
                print("  ".join(f"{key:>14}" for key in row))
            print("  ".join(f"{shown(value):>14}" for value in row.values()), flush=True)
            rows.append(row)
    if options.csv:
        write_csv(options.csv, rows)
    return 0


def shown(value):
    return f"{value:.5g}" if isinstance(value, float) else str(value)


if __name__ == "__main__":
    sys.exit(main())
