"""Vary one parameter over figures and seeds, and say what it changes and how surely.

    python -m tests.benchmarks.tune search PARAMETER VALUE ... [--figures NAME ...] [--seeds 10]
    python -m tests.benchmarks.tune PART PARAMETER VALUE ...

``--clock work`` counts work (`tests.benchmarks.work`) in place of CPU seconds, so that every run
repeats on any machine, a busy one too; then seconds are units of work. (The keeping of the working
set is not counted: vary ``working_set_ratio`` by processor time.)

PARAMETER is a field of the part's parameter object, with a dot where it is a field of an object in
it (`relaxed.target`); ``operators.NAME`` is the weight of an operator. The value in use is compared
with whether it is named or not. What is measured, by that clock alone:

- ``search`` (`MemeticParams`): the gap in percent to the best scale that any run of the figure
  reached, after ``--seconds``;
- ``target`` (`MemeticParams`): seconds until an equal star has its published scale, at most ``--seconds``;
- ``interior_point`` (`InteriorPointParams`): milliseconds of a solve, over offspring of a population
  of ``--seconds``, and the share of them that beat their parent;
- ``settling`` (`SettlingParams`): the smallest feature in percent of the shorter side, after
  ``--seconds``;
- ``bounds`` (`BoundParams`): the headroom in percent after a proof of ``--seconds``, counted in boxes,
  guided by a search of as many;
- ``proof`` (`ProofParams`): the headroom in percent after a search of ``--seconds`` with its proof;
- ``loose`` (`RattlerParams`): the mean slack of loose flaps in percent of their length;
- ``gallery`` (`GalleryParams`): how many packings a gallery of six holds after two starts;
- ``grid`` (`GridSearchParams`): cells of the longer side after an effort of ``--seconds``.

Each value's runs are paired with those of the value in use, figure by figure and seed by seed. The
table shows the median, the mean and the median difference with their 95 % bootstrap intervals (2000 resamples), how
many pairs are better and worse, and the two-sided sign test of these. ``--csv`` keeps every run; the
tables of the parameters varied so far are in `tests/benchmarks/tuned/`.
"""

from __future__ import annotations

import argparse
import ast
import csv
import sys
from dataclasses import fields, is_dataclass, replace
from importlib.resources import files
from pathlib import Path

import numpy as np
from scipy.stats import binomtest

from packer import deadline
from packer.bounds.bound_params import BOXES_PER_SECOND, BoundParams
from packer.bounds.upper_bound import upper_bound
from packer.creases.settling.settle import settle
from packer.creases.settling.settling_params import SettlingParams
from packer.deadline import Deadline
from packer.grid.grid_params import GridSearchParams
from packer.grid.pack_grid import pack_grid
from packer.local_solver.params import InteriorPointParams
from packer.local_solver.solver import LocalSolver
from packer.model.packing import SearchRecord
from packer.model.problem import pose
from packer.search.enumeration import pool
from packer.search.gallery import gallery
from packer.search.gallery_params import GalleryParams
from packer.search.memetic.duplicates import known_packings
from packer.search.memetic.memetic_params import MemeticParams
from packer.search.memetic.preselection import preselected_offspring
from packer.search.memetic.run import SearchGoal, advance, begin, stepped
from packer.search.options import SearchOptions
from packer.search.parallel.background_bound import BackgroundBound, ProofParams
from packer.search.parallel.coordinator import Coordinator, plain_packing
from packer.search.parallel.executors import WorkerPool
from packer.search.parallel.threads import one_thread
from packer.search.result.finalise import finalised
from packer.search.result.rattlers import RattlerParams, place_loose
from packer.search.stopping import MaxEffort, MaxStarts, TimeLimit
from tests.benchmarks.figures import large, samples, star, symmetric, unsymmetric
from tests.benchmarks.work import CLOCKS
from tests.strategies import random_figure

GROUPS = {
    "free": ("random 22, 5", "random 24, 2", "random 25, 3"),
    "mirrored": ("lizardfish", "book 3", "diagonal 4"),
    "star": ("star 31", "star 52", "star 76"),
    "large": ("spiny_lobster", "random 80, 4"),
}
USUAL = (*GROUPS["free"][:2], *GROUPS["mirrored"][:2], *GROUPS["star"][:2], *GROUPS["large"])
LEG = 0.2
NEAR = 1e-6
OFFSPRING = 64
"""Solves timed at once by ``interior_point``."""
GIVE = 0.03
RESAMPLES = 2000


def cases():
    """Every figure that may be named."""
    stars = {f"star {n}": star(n) for n in (10, 20, 31, 52, 61, 71, 76, 88, 89)}
    random = {"random 40, 40": pose(random_figure(40, 40, joints=13))}
    return samples() | unsymmetric() | symmetric() | large() | stars | random


def varied(params, name, value):
    """The parameters with one of them changed."""
    if name.startswith("operators."):
        weights = dict(params.operators) | {name.split(".", 1)[1]: value}
        return replace(params, operators=tuple(weights.items()))
    first, _, rest = name.partition(".")
    if first not in {field.name for field in fields(params)}:
        known = ", ".join(field.name for field in fields(params))
        raise SystemExit(f'no parameter "{name}"; known are {known}')
    inner = varied(getattr(params, first), rest, value) if rest else value
    return replace(params, **{first: inner})


def value_of(params, name):
    """The value of a parameter, by the same names."""
    if name.startswith("operators."):
        return dict(params.operators).get(name.split(".", 1)[1], 0.0)
    first, _, rest = name.partition(".")
    inner = getattr(params, first)
    return value_of(inner, rest) if rest and is_dataclass(inner) else inner


# --- what is measured


def search_run(problem, params, seconds, seed):
    """The best scale after so many CPU seconds."""
    goal = SearchGoal(problem, params=params)
    end, index, best = Deadline.after(seconds), 0, 0.0
    run = begin(seed, index)
    while not end.over:
        run = advance(goal, run, end.within(LEG))
        best = max(best, run.best.scale)
        if run.done:
            index += 1
            run = begin(seed, index)
    return {"value": best}


def target_run(problem, params, seconds, seed):
    """Seconds until an equal star has its published scale to a millionth; else all of them."""
    goal, end, index = SearchGoal(problem, params=params), Deadline.after(seconds), 0
    target, begun = (1 - NEAR) * published_scale(problem.tree.n_tips), deadline.monotonic()
    run = begin(seed, index)
    while not end.over:
        run = advance(goal, run, end.within(LEG))
        if run.best.scale >= target:
            break
        if run.done:
            index += 1
            run = begin(seed, index)
    spent = min(seconds, deadline.monotonic() - begun)
    return {"value": spent, "reached": float(run.best.scale >= target)}


def published_scale(n):
    """The scale of so many equal flaps, from the published distances of points in a square."""
    text = files("packer.bounds").joinpath("points_in_square.csv").read_text("utf-8")
    table = csv.DictReader(line for line in text.splitlines() if not line.startswith("#"))
    return {int(row["n"]): float(row["max_min_distance"]) / 2 for row in table}[n]


def solver_run(problem, params, seconds, seed):
    """Milliseconds of a solve of offspring of a young population, and how many are gains."""
    goal, run = SearchGoal(problem), begin(seed, 0)
    until = Deadline.after(seconds)
    while not run.done and (len(run.population) < 8 or not until.over):
        run = stepped(goal, run)
    rng, usual = np.random.default_rng(seed), LocalSolver(problem)
    known = known_packings(usual, run.population, MemeticParams().duplicate_distance)
    parents, starts = preselected_offspring(
        usual, run.population, known, OFFSPRING, MemeticParams(), rng
    )
    solver, batch = LocalSolver(problem, params=params), usual.batch
    solver.programs = usual.programs
    least, scales = run.population[-1].scale, [p.scale for p in run.population[1:]]
    began, gains = deadline.monotonic(), 0
    for k in range(0, len(starts), batch):
        some = slice(k, k + batch)
        ends = solver.solve(starts[some], parents[some], least, scales)
        gains += sum(a.scale > b.scale for a, b in zip(ends, parents[some], strict=True))
    each = 1e3 * (deadline.monotonic() - began) / len(starts)
    return {"value": each, "gains %": 100 * gains / len(starts)}


def settling_run(problem, params, seconds, seed):
    """The smallest feature after so many CPU seconds, from a good packing of its own."""
    goal, run = SearchGoal(problem, whole_rivers=True), begin(seed, 0)
    while not run.done and run.solves < 640:
        run = stepped(goal, run)
    packing = finalised(problem, run.best, SearchRecord(seed, 1, 1, 0.0, "starts"))
    more = pool(packing, packing.scale * (1 - GIVE), seed)
    settled = settle(
        packing, GIVE, deadline=Deadline.after(seconds), seed=seed, more=more, params=params
    )
    side = min(packing.sheet.width, packing.sheet.height)
    return {
        "value": 100 * settled.feature.size / side,
        "split": len(settled.pattern.split_rivers),
    }


def best_after(problem, seconds, seed):
    """The best optimum after so many CPU seconds, and its packing."""
    goal, end, run = SearchGoal(problem), Deadline.after(seconds), begin(seed, 0)
    while not run.done and (run.best is None or not end.over):
        run = stepped(goal, run)
    return run.best, plain_packing(problem, run.best)


def bounds_run(problem, params, seconds, seed):
    """How far a proven bound lies above a packing that was searched for as long."""
    best, guide = best_after(problem, seconds, seed)
    boxes = seconds * BOXES_PER_SECOND
    bound = upper_bound(problem, best=guide, boxes=boxes, params=params)
    return {"value": 100 * (bound.scale / best.scale - 1)}


def proof_run(problem, params, seconds, seed):
    """How far the bound that a search proves beside it lies above its packing."""
    end = Deadline.after(seconds)
    bound = BackgroundBound(problem, end, params=params)
    options = SearchOptions(seed, TimeLimit(seconds), workers=1)
    with WorkerPool(1) as workers:
        search = Coordinator(SearchGoal(problem), options, end, bound)
        search.run(workers)
    return {"value": 100 * (bound.bound.scale / search.best().scale - 1)}


def loose_run(problem, params, seconds, seed):
    """How much longer loose flaps may be on average, all at once; 0 where none is loose."""
    best, _ = best_after(problem, seconds, seed)
    packing = finalised(problem, best, SearchRecord(seed, 1, 1, 0.0, "starts"))
    moved = place_loose(replace(packing, slack=()), params=params)
    shares = [length / packing.lengths[tip] for tip, length in moved.slack]
    return {"value": 100 * float(np.mean(shares or [0.0]))}


def gallery_run(problem, params, seconds, seed):
    """How many packings a gallery of six holds."""
    options = SearchOptions(seed, (MaxStarts(2), TimeLimit(seconds)), workers=1)
    return {"value": len(gallery(problem, 6, options=options, params=params))}


def grid_run(problem, params, seconds, seed):
    """Cells of the longer side of the grid that so much effort finds."""
    options = SearchOptions(seed, MaxEffort(seconds))
    return {"value": max(pack_grid(problem, options=options, params=params).cells)}


PARTS = {
    "search": (MemeticParams(), search_run, 10.0, "gap %", -1),
    "target": (MemeticParams(), target_run, 60.0, "s", -1),
    "interior_point": (InteriorPointParams(), solver_run, 2.0, "ms", -1),
    "settling": (SettlingParams(), settling_run, 10.0, "feature %", 1),
    "bounds": (BoundParams(), bounds_run, 2.0, "headroom %", -1),
    "proof": (ProofParams(), proof_run, 10.0, "headroom %", -1),
    "loose": (RattlerParams(), loose_run, 2.0, "slack %", 1),
    "gallery": (GalleryParams(), gallery_run, 60.0, "packings", 1),
    "grid": (GridSearchParams(), grid_run, 10.0, "cells", -1),
}
"""Usual parameters, one run, usual CPU seconds, what is shown, whether more of it is better."""


# --- the table


def interval(differences, of, rng):
    """The 95 % percentile bootstrap interval of a mean or a median."""
    drawn = rng.choice(differences, size=(RESAMPLES, len(differences)))
    return np.quantile(of(drawn, axis=1), [0.025, 0.975])


def with_gaps(rows):
    """Replace scales by percent below the best of their figure."""
    best = {}
    for row in rows:
        best[row["figure"]] = max(best.get(row["figure"], 0.0), row["value"])
    return [row | {"shown": 100 * (1 - row["value"] / best[row["figure"]])} for row in rows]


def summary(rows, usual, better):
    """One line for each value: median, paired difference with interval, wins, sign test."""
    rng = np.random.default_rng(0)
    by_value = {}
    for row in rows:
        by_value.setdefault(row["setting"], {})[row["figure"], row["seed"]] = row["shown"]
    for setting, runs in by_value.items():
        line = {"setting": setting, "median": float(np.median(list(runs.values())))}
        base = by_value[usual]
        pairs = [key for key in runs if key in base]
        change = np.array([runs[key] - base[key] for key in pairs])
        for name, of in (("mean", np.mean), ("median", np.median)):
            low, high = interval(change, of, rng)
            line[f"{name} change"] = f"{of(change):.3g} [{low:.3g}, {high:.3g}]"
        wins, losses = int((better * change > 1e-9).sum()), int((better * change < -1e-9).sum())
        line["better:worse"] = f"{wins}:{losses}"
        tried = wins + losses
        line["sign test p"] = binomtest(wins, tried).pvalue if tried else 1.0
        for key in ("gains %", "split", "reached"):
            beside = [row[key] for row in rows if row["setting"] == setting and key in row]
            if beside:
                line[f"mean {key}"] = float(np.mean(beside))
        yield line


def measured(asked, part, settings):
    """One row for each run, written as it comes."""
    params, run, usual_seconds, _, _ = part
    seconds = usual_seconds if asked.seconds is None else asked.seconds
    known = cases()
    writer, out = None, asked.csv.open("w", newline="", encoding="utf-8") if asked.csv else None
    rows = []
    for name in asked.figures:
        for seed in range(asked.first, asked.first + asked.seeds):
            for setting in settings:
                changed = varied(params, asked.parameter, setting)
                row = {"parameter": asked.parameter, "setting": str(setting), "figure": name}
                row |= {"seed": seed, "seconds": seconds}
                row |= run(known[name], changed, seconds, seed)
                rows.append(row)
                if out:
                    writer = writer or csv.DictWriter(out, row)
                    if len(rows) == 1:
                        writer.writeheader()
                    writer.writerow(row)
                    out.flush()
        print(f"{name} done", file=sys.stderr, flush=True)
    if out:
        out.close()
    return rows


def figures_of(names):
    """Figures by their own names or by those of groups."""
    known = cases()
    chosen = [figure for name in names for figure in GROUPS.get(name, (name,))]
    for figure in chosen:
        if figure not in known:
            raise SystemExit(f'no figure "{figure}"; known are {", ".join((*GROUPS, *known))}')
    return chosen


def main():
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("part", choices=PARTS)
    parser.add_argument("parameter")
    parser.add_argument("values", nargs="+", help="as Python writes them")
    parser.add_argument("--figures", nargs="+", default=list(USUAL), help="names or groups")
    parser.add_argument("--seeds", type=int, default=10)
    parser.add_argument("--first", type=int, default=0, help="the first seed")
    parser.add_argument("--seconds", type=float, help="CPU seconds a run")
    parser.add_argument("--clock", choices=CLOCKS, default="cpu")
    parser.add_argument("--csv", type=Path, help="write every run here")
    asked = parser.parse_args()
    asked.figures = figures_of(asked.figures)
    params, _, _, shown, better = part = PARTS[asked.part]
    usual = value_of(params, asked.parameter)
    settings = [usual, *(v for v in map(ast.literal_eval, asked.values) if v != usual)]
    with one_thread(), CLOCKS[asked.clock]():
        rows = measured(asked, part, settings)
    search = asked.part == "search"
    rows = with_gaps(rows) if search else [row | {"shown": row["value"]} for row in rows]
    print(f"{asked.parameter}: {shown}, {len(rows)} runs; {usual} is in use")
    for k, line in enumerate(summary(rows, str(usual), better)):
        if not k:
            print("  ".join(f"{key:>24}" for key in line))
        print("  ".join(f"{_text(value):>24}" for value in line.values()), flush=True)
    return 0


def _text(value):
    return f"{value:.4g}" if isinstance(value, float) else str(value)


if __name__ == "__main__":
    sys.exit(main())
