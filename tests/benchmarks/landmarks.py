"""Landmarks in numbers: folds against error, sequences for whole figures, guides recomputed.

    python -m tests.benchmarks.landmarks table [--targets 400]
    python -m tests.benchmarks.landmarks lone
    python -m tests.benchmarks.landmarks shared [FILE ...] [--snap 0.01] [--alone]
    python -m tests.benchmarks.landmarks guides [FILE ...] [--sheet 350]
    python -m tests.benchmarks.landmarks twin

`table` takes random targets on an edge and inside a unit square and prints how near the best mark
of so many creases comes, in per cent of the side, median and 90 %: with all seven alignments, and
as a baseline in the same run with the first five alone. Ancestors count once.

`lone` searches for marks of random tips inside a square, one at a time, as the command does on 350 mm, and
prints how many have how many creases, and how many none.

`shared` and `guides` take samples as NAME.toml, each packed once as written and, if it has a mirror line,
once without (`--starts` starts, so the same on every machine); without a file all samples of up
to `--most` flaps. `shared` reads NAME.packing.json as well, `guides` NAME.creases.fold.

`shared` looks for one sequence that makes a mark
within 0.15 % of the side for every tip, none with an expected error above 1 mm on a sheet of 350 mm;
columns: flaps, steps (a pair of mirrored creases is one), creases, median and largest expected
error in mm, tips without a mark, CPU seconds. With `--snap` the same for that share of the scale,
and the scale given up. With `--alone` the baseline in the same run, one sequence a tip: a search
of its own for each tip, creases added up.

`guides` closes packings as they are, or on their default grid where flaps have widths, writes the
guide of each pattern, recomputes every claim of the JSON from coordinates
(`tests.landmarks.recomputed_guide`), folds its landmarks a thousand times with random misses
(`simulated`: what the tips missed by over what was expected, least and largest) and judges each
stage's flat state: Kawasaki's theorem and closing at every vertex, a layer order without a fault in
random cuts. Where a guide is too long for a picture of each level, the sentence that it gives follows.

`twin` counts the lines that up to three creases by all seven alignments make on the square, and the
marks of every set of creases that can lie there, beside a plain slow twin of the search
(`tests.landmarks.slow_reference`).
"""

from __future__ import annotations

import argparse
import json
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

from packer.creases.completion.complete import crease_pattern
from packer.drawing.guide_panels import panels
from packer.files.figure_toml import read_figure
from packer.files.fold_json import fold_text, read_base, read_pleats
from packer.files.guide_json import guide_text
from packer.files.packing_json import read_packing
from packer.folded.checks import kawasaki_errors
from packer.folded.layers import flat_base
from packer.folded.pleats import pleat_creases, pleated_cells, pleated_parts
from packer.grid.grid_creases import grid_creases
from packer.grid.pack_grid import pack_grid
from packer.landmarks.alignments import crossing
from packer.landmarks.creases import marks_of
from packer.landmarks.fold_guide import fold_guide
from packer.landmarks.search import landmarks
from packer.landmarks.table import table
from packer.model.problem import pose
from packer.model.sheet import Sheet
from packer.planning.snapping import MarkLimits, snapped
from packer.search.options import SearchOptions
from packer.search.pack import pack
from packer.search.stopping import MaxStarts
from packer.units import HAND_MM, MARK_ERROR_MM, MARK_MM, POOR_CROSSING, SHUTS
from tests.folded.cutting import random_cuts
from tests.landmarks import slow_reference
from tests.landmarks.recomputed_guide import faults
from tests.landmarks.test_search import simulated

SAMPLES = Path(__file__).parents[2] / "samples"

NEAR = 0.006
"""Lines so near a target are asked for their crossings there; nearer marks are always among them."""

WITHIN = 0.0015


def tables(count):
    rng = np.random.default_rng(0)
    edge, inner = rng.random(4000), rng.random((count, 2))
    for name, kinds in (("alignments 1-5", range(1, 6)), ("all seven", range(1, 8))):
        began = time.process_time()
        made = table((1.0, 1.0), 3, kinds)
        print(f"{name}: {np.bincount(made.cost).cumsum().tolist()} lines, "
              f"{time.process_time() - began:.2f} s")  # fmt: skip
        for depth in (1, 2, 3):
            told(f"  on an edge, {depth} creases", edge_misses(made, depth, edge))
        best = np.array([inner_misses(made, target) for target in inner])
        for depth in (4, 5, 6):
            told(f"  inside, {depth} creases", best[:, depth])


def lone():
    for seed in (1, 2):
        rng, began = np.random.default_rng(seed), time.process_time()
        tips = rng.random((30, 2)).tolist()
        made = [
            landmarks(
                Sheet(),
                {"tip": (x, y)},
                MARK_MM / 350,
                hand=HAND_MM / 350,
                most_error=MARK_ERROR_MM / 350,
            )
            for x, y in tips
        ]
        creases = [one.count for one in made if not one.unmarked]
        print(
            f"seed {seed}: {len(tips)} tips, creases {np.bincount(creases).tolist()}, "
            f"{len(tips) - len(creases)} without a mark, "
            f"{(time.process_time() - began) / len(tips):.2f} s each"
        )


def told(what, misses):
    print(
        f"{what}: median {100 * np.median(misses):.3f} %, 90 % {100 * np.quantile(misses, 0.9):.3f} %"
    )


def edge_misses(made, depth, targets):
    rows = made.lines[(made.cost <= depth) & (abs(made.lines[:, 0]) > POOR_CROSSING)]
    spots = np.sort(rows[:, 2] / rows[:, 0])
    spots = spots[(spots >= 0) & (spots <= 1)]
    k = np.clip(np.searchsorted(spots, targets), 1, len(spots) - 1)
    return np.minimum(abs(spots[k] - targets), abs(spots[k - 1] - targets))


def inner_misses(made, target):
    """(7,) the least miss of marks of up to 0 ... 6 different creases, NEAR where none is nearer."""
    near = np.flatnonzero(abs(made.lines[:, :2] @ target - made.lines[:, 2]) < NEAR)
    i, j = (near[k] for k in np.triu_indices(len(near), 1))
    a, b = made.lines[i], made.lines[j]
    good = abs(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]) > POOR_CROSSING
    i, j = i[good], j[good]
    miss = np.hypot(*(crossing(made.lines[i], made.lines[j]) - target).T)
    best = np.full(7, NEAR)
    for k in np.argsort(miss):
        if miss[k] >= best[4]:
            break
        cost = different(made, int(i[k]), int(j[k]))
        best[cost:] = np.minimum(best[cost:], miss[k])
    return best


def different(made, i, j):
    """How many creases two lines need together, the cheapest ways."""
    ways = [[need | ({k} - {0, 1, 2, 3}) for need in made.needs[k]] for k in (i, j)]
    return min(6, *(len(x | y) for x in ways[0] for y in ways[1]))


def shared(asked):
    snap, with_alone = asked.snap, asked.alone
    heads = ["figure", "flaps", "steps", "creases", "error mm", "largest", "unmarked", "CPU s"]
    heads += ["one a tip"] * with_alone
    heads += ["snapped: given %", "steps", "creases", "error mm", "largest", "unmarked", "CPU s"] * bool(snap)  # fmt: skip
    print(*heads, sep="\t")
    for name, packing in packings(asked):
        side = min(packing.sheet.width, packing.sheet.height)
        limits = MarkLimits(WITHIN * side, HAND_MM / 350 * side, MARK_ERROR_MM / 350 * side)
        one, spent = timed(packing, 0.0, limits)
        row = [name, len(packing.tips), *numbers(one.landmarks, 350 / side), f"{spent:.1f}"]
        row += [alone(packing, side, limits.hand)] * with_alone
        if snap:
            one, spent = timed(packing, snap, limits)
            assert not one.packing.violations()
            row += [
                f"{100 * one.given:.2f}",
                *numbers(one.landmarks, 350 / side),
                f"{spent:.1f}",
            ]
        print(*row, sep="\t", flush=True)


def figures(asked):
    """Names and figures of the samples asked for, each as written and without its mirror line."""
    paths = [path for path in asked.files if path.endswith(".toml")]
    for path in map(Path, paths if asked.files else sorted(SAMPLES.glob("*.toml"))):
        figure = read_figure(path)
        if asked.files or pose(figure).tree.n_tips <= asked.most:
            for symmetry in dict.fromkeys((figure.symmetry, "none")):
                kind = "free" if symmetry == "none" else "mirrored"
                yield f"{path.stem} {kind}", replace(figure, symmetry=symmetry)


def packings(asked):
    for path in (path for path in asked.files if path.endswith(".json")):
        yield Path(path).name.removesuffix(".packing.json"), read_packing(Path(path))
    for name, figure in figures(asked):
        if not any(flap.width for flap in figure.flaps):
            yield name, packed(figure, asked.starts)


def packed(figure, starts):
    return pack(figure, options=SearchOptions(seed=0, stop=MaxStarts(starts), workers=1))


def bases(asked):
    """Names, bases and pleats of patterns: those of files, and of samples closed as packed."""
    for path in (path for path in asked.files if path.endswith(".fold")):
        base = read_base(Path(path))
        if base.order is None:
            base = flat_base(base.pattern)
        yield Path(path).name.removesuffix(".creases.fold"), base, read_pleats(Path(path))
    for name, figure in figures(asked):
        if any(flap.width for flap in figure.flaps):
            packing = pack_grid(figure)
            base, parts = flat_base(grid_creases(packing)), pleated_cells(packing)
        else:
            packing = packed(figure, asked.starts)
            base, parts = flat_base(crease_pattern(packing)), pleated_parts(packing)
        yield name, base, pleat_creases(base.pattern, base.form, parts)


def timed(packing, share, limits):
    began = time.process_time()
    one = snapped(packing, share, limits)
    return one, time.process_time() - began


def numbers(made, mm):
    errors = [mark.error * mm for mark in made.tips.values()]
    most = [f"{np.median(errors):.2f}", f"{max(errors):.2f}"]
    return [made.count, len(made.steps), *most, len(made.unmarked)]


def alone(packing, side, hand):
    """Creases of one sequence a tip, each its own search, added up."""
    return sum(
        len(landmarks(packing.sheet, {name: tip}, WITHIN * side, hand=hand).steps)
        for name, tip in zip(packing.tree.flaps, packing.tips, strict=True)
    )


def guides(asked):
    print(
        "pattern\ttips\tsteps\tcreases\tlargest error mm\tsimulated\tunmarked\tlevels\tmeasured\tcollapse\tstages\tat once\tbefore\tfaults\torders\tcuts\tCPU s"
    )
    for name, base, pleats in bases(asked):
        pattern = base.pattern
        mm = asked.sheet / min(pattern.sheet.width, pattern.sheet.height)
        began = time.process_time()
        guide = fold_guide(base, mm, 0.5, pleats=pleats)
        spent = time.process_time() - began
        record, fold = json.loads(guide_text(guide)), json.loads(fold_text(base, pleats))
        wrong = faults(record, fold)
        made = guide.landmarks
        print(
            name, len(pattern.tips),
            made.count, len(made.steps), f"{max(m.error for m in made.tips.values()) * mm:.2f}", by_hand(made), len(made.unmarked),
            len(guide.levels), sum(len(p.measured) for p in guide.precreases), len(guide.collapse),
            len(guide.stages), guide.most_together, guide.before, len(wrong),
            f"{sum(s.order is not None for s in guide.stages)} of {len(guide.stages)}",
            judged(guide), f"{spent:.1f}", sep="\t", flush=True,
        )  # fmt: skip
        for fault in wrong[:3]:
            print("   ", fault)
        if made.unmarked:
            print("    unmarked:", *made.unmarked)
        if guide.brief:
            print("   ", brief_sentence(guide))


def brief_sentence(guide):
    return " ".join(
        line
        for _, rows in panels(guide)
        for panel in rows
        if panel.heading == "Print the rest"
        for line in panel.lines
    )


def by_hand(made):
    """Least and largest error of a thousand foldings missed at random, over what was expected."""
    told = np.array([mark.error for mark in made.tips.values()])
    seen = simulated(made)[told > 0] / told[told > 0]
    return f"{seen.min():.2f}-{seen.max():.2f}" if len(seen) else "-"


def judged(guide):
    """Faults of the flat states: vertices that do not fold flat or close, and random cuts."""
    count = 0
    for stage in guide.stages:
        pattern, form, order = stage.pattern, stage.form, stage.order
        count += int((kawasaki_errors(pattern, form) > 1e-6).sum())
        count += int((form.gaps > SHUTS * pattern.sheet.diagonal).sum())
        if order is not None:
            rank = order.of_faces
            count += random_cuts(pattern, form, np.sign(np.subtract.outer(rank, rank)), 12)
    return count


def twin():
    size, kinds = (1.0, 1.0), range(1, 8)
    began = time.process_time()
    lines, cost, states = slow_reference.grown(size, 3, kinds)
    fast = table(size, 3, kinds)
    print(f"lines by cost: {np.bincount(fast.cost).tolist()}, "
          f"the twin {np.bincount(cost).tolist()}, {time.process_time() - began:.0f} s")  # fmt: skip
    for count, sets in enumerate(states):
        own = twins = differing = 0
        for state in sets:
            there = [tuple(map(float, lines[k])) for k in (0, 1, 2, 3, *sorted(state))]
            a = len(marks_of(np.array(there), size).points)
            b = len(slow_reference.points_of(there, size))
            own, twins, differing = own + a, twins + b, differing + (a != b)
        print(f"{len(sets)} sets of {count} creases: {own} marks, the twin {twins}; "
              f"{differing} sets differ")  # fmt: skip


def main():
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("part", choices=["table", "lone", "shared", "guides", "twin"])
    parser.add_argument("files", nargs="*")
    parser.add_argument("--targets", type=int, default=400)
    parser.add_argument("--snap", type=float, default=0.0)
    parser.add_argument("--alone", action="store_true")
    parser.add_argument("--starts", type=int, default=2)
    parser.add_argument("--most", type=int, default=26)
    parser.add_argument("--sheet", type=float, default=350.0)
    asked = parser.parse_intermixed_args()
    if asked.part == "table":
        tables(asked.targets)
    else:
        parts = {"shared": shared, "guides": guides}
        parts |= {"twin": lambda _: twin(), "lone": lambda _: lone()}
        parts[asked.part](asked)


if __name__ == "__main__":
    main()
