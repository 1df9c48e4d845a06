"""The slow twin of the layer order's referees on whole sets of patterns, and mutations of orders.

    python -m tests.benchmarks.twin DIR [--most 300] [--swaps 4] [--seconds 240]

Reads the FOLD files of a directory. For each pattern of at most so many faces it asks for a layer
order, counts the faults that the slow twin (`tests.folded.slow_order`: every crease against every
face and every other crease, by brute force) finds, which must be none, and cuts the folded paper
by random lines. Then it exchanges so many pairs of overlapping neighbours in the order, and turns as
many folds over, one at a time, and counts how many the twin, the file's reader or Maekawa's theorem
notices. Ends after so many seconds of CPU time, and says how many patterns it saw.
"""

from __future__ import annotations

import argparse
import itertools
from pathlib import Path
from time import process_time

import numpy as np

from packer.files.fold_json import read_fold
from packer.folded.checks import findings
from packer.folded.layers import base_of_ranks, flat_base
from tests.folded.cutting import random_cuts
from tests.folded.slow_order import faults, overlapping

CUTS = 6


def mutations(base, count, rng):
    """(seen, noticed by the twin, noticed by the reader) of exchanges of layers, (seen, noticed) of folds."""
    layers, rank = base.order.layers, base.order.rank
    at = np.argsort(rank)
    over = overlapping(layers)
    pairs = [(a, b) for a, b in itertools.pairwise(at.tolist()) if over[a, b]]
    twin = reader = 0
    chosen = rng.permutation(len(pairs))[:count]
    for k in chosen:
        a, b = pairs[k]
        other = rank.copy()
        other[[a, b]] = other[[b, a]]
        faces = other[layers.layer_of]
        twin += faults(base.pattern, base.form, faces) > 0
        reader += base_of_ranks(base.pattern, faces).order is None
    folded = np.flatnonzero(base.form.folded)
    turned = rng.permutation(folded)[:count]
    noticed = 0
    for k in turned:
        folds = list(base.pattern.folds)
        folds[k] = "M" if folds[k] == "V" else "V"
        changed = base.pattern.with_folds(folds)
        noticed += base_of_ranks(changed, base.order.of_faces).order is None
    return len(chosen), twin, reader, len(turned), noticed


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("directory", type=Path)
    parser.add_argument("--most", type=int, default=300)
    parser.add_argument("--swaps", type=int, default=4)
    parser.add_argument("--seconds", type=float, default=240.0)
    asked = parser.parse_args()
    rng = np.random.default_rng(0)
    total = np.zeros(5, dtype=int)
    seen = wrong = left = 0
    for file in sorted(asked.directory.glob("*.fold")):
        pattern = read_fold(file)
        if len(pattern.faces) > asked.most:
            continue
        if process_time() > asked.seconds:
            left += 1
            continue
        base = flat_base(pattern)
        if base.order is None:
            print(f"{file.stem}: {base.status}")
            continue
        ranks = base.order.of_faces
        above = np.sign(ranks[:, None] - ranks[None, :])
        bad = (
            faults(base.pattern, base.form, ranks)
            + random_cuts(base.pattern, base.form, above, CUTS)
            + len(findings(base.pattern, base.form))
        )
        counts = mutations(base, asked.swaps, rng)
        total += counts
        seen += 1
        wrong += bad > 0
        print(file.stem, len(pattern.faces), bad, *counts, sep="\t", flush=True)
    swaps, twin, reader, turned, noticed = total.tolist()
    print(
        f"{seen} patterns of at most {asked.most} faces, {wrong} with faults; of {swaps} exchanges the twin "
        f"noticed {twin}, the reader {reader}; of {turned} folds turned over the reader noticed {noticed}; "
        f"{left} patterns not reached in time"
    )


if __name__ == "__main__":
    main()
