"""The packings whose layer orders are measured: made once, kept as data, read in a moment.

    python -m tests.benchmarks.layer_corpus --csv FILE [--first 0] [--count 200]

Packs random figures of 4 to 40 flaps (twins not counted) on squares and rectangles, free and mirrored,
every sample as written and free, and a random figure of 80 flaps. Each search ends after so many units of counted work (`tests.benchmarks.work`), not
of a clock, so that a busy machine packs as well as one that is idle. `layer_corpus.csv` holds the points
of the tips, with all digits; figures are made anew from their seeds, and what is read is checked by
`Packing.violations`.
"""

from __future__ import annotations

import argparse
import csv
import itertools
from pathlib import Path

from packer import Packing, Sheet
from packer.files.figure_toml import read_figure
from packer.model.problem import pose
from packer.search.options import SearchOptions
from packer.search.pack import pack
from packer.search.stopping import MaxStarts, TimeLimit
from tests.benchmarks.work import clock_of_work
from tests.strategies import random_figure

FILE = Path(__file__).with_suffix(".csv")
SAMPLES = Path(__file__).parents[2] / "samples"
SHEETS = (Sheet(), Sheet(1, 1.5), Sheet(2, 1), Sheet(1, 2**0.5))
SYMMETRIES = ("none", "book", "none", "diagonal")
COUNT, MOST = 200, 40
STARTS = 4
UNITS, UNITS_LARGE = 1.5, 10.0
"""Units of work, about seconds, after which a search ends; and one of `MANY` tips or more."""
MANY = 70


def names(first=0, count=COUNT):
    """Return the entries: seeds, every sample as written and free, and a random figure of 80 flaps."""
    samples = {path.stem: read_figure(path) for path in sorted(SAMPLES.glob("*.toml"))}
    return [
        *(str(seed) for seed in range(first, first + count)),
        *(
            f"{name} {symmetry}"
            for name, figure in samples.items()
            if not any(flap.width for flap in figure.flaps)
            for symmetry in dict.fromkeys((figure.symmetry, "none"))
        ),
        "random_80 none",
    ]


def problem_of(name):
    """Return the problem of an entry: a seed, or a figure's name and its symmetry."""
    if name.isdigit():
        seed = int(name)
        symmetry = SYMMETRIES[seed % 4]
        sheet = SHEETS[0] if symmetry == "diagonal" else SHEETS[seed // 4 % 4]
        figure = random_figure(
            seed, 4 + (seed * 7) % (MOST - 3), symmetry=symmetry, pairs=symmetry != "none"
        )
        return pose(figure, sheet)
    figure, symmetry = name.split()
    if figure == "random_80":
        return pose(random_figure(4, 80, joints=26))
    return pose(read_figure(SAMPLES / f"{figure}.toml"), symmetry=symmetry)


def packed(name):
    """Return a packing of an entry, found anew."""
    problem = problem_of(name)
    seed = int(name) if name.isdigit() else 0
    units = UNITS_LARGE if problem.tree.n_tips >= MANY else UNITS
    stop = MaxStarts(STARTS), TimeLimit(units)
    with clock_of_work():
        return pack(problem, options=SearchOptions(stop=stop, workers=1, seed=seed), proof=0)


def corpus(file=FILE):
    """Yield the name and the packing of each entry of the file.

    Raises
    ------
    ValueError
        Where the points are none of a packing of the figure.
    """
    with file.open(newline="", encoding="utf-8") as lines:
        for name, rows in itertools.groupby(csv.DictReader(lines), lambda row: row["figure"]):
            points = {row["tip"]: (float(row["x"]), float(row["y"])) for row in rows}
            problem = problem_of(name)
            if tuple(points) != problem.tree.flaps:
                raise ValueError(f"{file}: {name}: these are not the tips of the figure")
            packing = Packing(problem, tuple(points.values()))
            if wrong := packing.violations():
                raise ValueError(f"{file}: {name}: {'; '.join(wrong)}")
            yield name, packing


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--csv", type=Path, required=True)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--count", type=int, default=COUNT)
    asked = parser.parse_args()
    new = not asked.csv.exists()
    with asked.csv.open("a", newline="", encoding="utf-8") as file:
        table = csv.writer(file)
        if new:
            table.writerow(("figure", "tip", "x", "y"))
        for name in names(asked.first, asked.count):
            packing = packed(name)
            for tip, (x, y) in zip(packing.tree.flaps, packing.tips, strict=True):
                table.writerow((name, tip, x, y))
            file.flush()
            print(name, packing.tree.n_tips, f"{packing.scale:.6f}", sep="\t", flush=True)


if __name__ == "__main__":
    main()
