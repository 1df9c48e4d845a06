"""The figures that benchmarks of the search share."""

from __future__ import annotations

from pathlib import Path

from packer.files.figure_toml import read_figure
from packer.model.figure import Figure, Flap
from packer.model.problem import pose
from tests.strategies import random_figure

SAMPLES = Path(__file__).parent.parent.parent / "samples"


def star(n):
    return pose(Figure(f"star {n}", tuple(Flap(f"f{k}", "hub", 1.0) for k in range(n))))


def samples():
    problems = {path.stem: pose(read_figure(path)) for path in sorted(SAMPLES.glob("*.toml"))}
    return {name: problem for name, problem in problems.items() if not problem.tree.widths}


def unsymmetric():
    """Random figures of 20 to 25 flaps, and a sample whose twins are set free."""
    seeds = ((20, 1), (22, 5), (24, 2), (25, 3))
    found = {f"random {n}, {seed}": _random(n, seed) for n, seed in seeds}
    lizardfish = read_figure(SAMPLES / "lizardfish.toml")
    return found | {"lizardfish, free": pose(lizardfish, symmetry="none")}


def symmetric():
    """Samples and random figures of 10 to 22 flaps under a symmetry."""
    found = {name: problem for name, problem in samples().items() if problem.symmetry != "none"}
    for seed, symmetry in ((1, "book"), (2, "diagonal"), (3, "book"), (4, "diagonal")):
        figure = random_figure(seed, 11, joints=4, symmetry=symmetry, pairs=True)
        found[f"{symmetry} {seed}"] = pose(figure)
    return {name: p for name, p in found.items() if 10 <= p.tree.n_tips <= 22}


def large():
    """The sample of 80 flaps and a random figure of as many."""
    return {"spiny_lobster": samples()["spiny_lobster"], "random 80, 4": _random(80, 4)}


def _random(n, seed):
    return pose(random_figure(seed, n, joints=max(2, n // 3)))
