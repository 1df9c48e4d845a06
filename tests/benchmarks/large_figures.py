"""Processor time of every command that is no search, on figures as large as may be.

Run ``python -m tests.benchmarks.large_figures [--flaps 1000] [--kinds star chain ...] [--seconds 3]``.
Each kind of figure goes through `check`, `plan`, `print` and `report`, each command in a process of its own,
start included; its packing has its tips row by row on a grid, in the order of the figure. A drawing of as
many strokes goes through `sketch`, and with ``--seconds`` each figure through `pack` under that limit.
"""

from __future__ import annotations

import argparse
import math
import resource
import subprocess
import sys
import tempfile
from pathlib import Path

from packer.files.figure_toml import figure_text, parse_figure
from packer.files.newick import parse_newick
from packer.files.packing_json import packing_text
from packer.limits import MOST_TIPS
from packer.model.packing import Packing
from packer.model.problem import pose
from packer.model.sheet import Sheet
from tests.strategies import random_figure

SIDE = 350.0
"""Side of the sheet in mm."""


def star(n):
    """All flaps at one joint."""
    return "[flaps]\n" + "".join(f'f{k} = {{ joint = "j", length = 1 }}\n' for k in range(n))


def chain(n):
    """So many rivers one after another, with two flaps at each end."""
    ends = "".join(
        f'{name} = {{ joint = "j{k}", length = 1 }}\n'
        for name, k in (("a", 0), ("b", 0), ("c", n), ("d", n))
    )
    rivers = "".join(
        f'r{k} = {{ joints = ["j{k}", "j{k + 1}"], length = 1 }}\n' for k in range(n)
    )
    return f"[flaps]\n{ends}[rivers]\n{rivers}"


def caterpillar(n):
    """A flap at every joint of a chain, in Newick's notation."""
    tree = "(a:1,b:1):1"
    for k in range(n - 3):
        tree = f"(f{k}:1,{tree}):1"
    return f"(z:1,{tree.removesuffix(':1')}:1);"


def newick_chain(n):
    """So many rivers one after another between two flaps at one end and one at the other, in Newick's notation."""
    return f"(z:1,{'(' * n}(a:1,b:1):1{'):1' * n});"


def comb(n):
    """A drawing of a body that goes to and fro in rows with a leg at each vertex, as SVG."""
    across = math.ceil(math.sqrt(n))
    rows = [divmod(k, across) for k in range(n)]
    joints = [(20 * (c if r % 2 == 0 else across - 1 - c), 40 * r) for r, c in rows]
    body = "M" + "L".join(f"{x} {y}" for x, y in joints[: n - 2])
    legs = "".join(f'<path d="M{x} {y}l8 15"/>' for x, y in joints[: n - 2])
    side = 40 * across + 40
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="-20 -20 {side} {side}">'
        f'<g fill="none" stroke="black"><path d="{body}"/>{legs}</g></svg>'
    )


def figures(n):
    """The figure of each kind."""
    return {
        "star": parse_figure(star(n), "star"),
        "chain": parse_figure(chain(n), "chain"),
        "caterpillar": parse_newick(caterpillar(n)),
        "random": random_figure(4, n, joints=n // 3),
    }


def on_a_grid(figure):
    """A packing of a figure with its tips row by row on a grid: valid, and nowhere near the best."""
    problem = pose(figure, Sheet(SIDE, SIDE, "mm"))
    n = problem.tree.n_tips
    across = math.ceil(math.sqrt(n))
    step = SIDE / (across - 1)
    return Packing(problem, tuple((k % across * step, k // across * step) for k in range(n)))


def seconds_of(words, folder):
    """Processor seconds of a command of its own process; ends the benchmark where it fails."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    ran = subprocess.run(
        [sys.executable, "-m", "packer", *words, "--quiet", "--force"],
        cwd=folder, capture_output=True, text=True, check=False,
    )  # fmt: skip
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    if ran.returncode:
        sys.exit(f"packer {' '.join(words)} ended with {ran.returncode}: {ran.stderr[-300:]}")
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def commands(kind, seconds):
    """The commands that a figure of a kind goes through."""
    yield ("check", f"{kind}.toml", "--out", "out")
    yield ("plan", f"{kind}.packing.json", "--out", "out")
    yield ("print", f"{kind}.packing.json", "--out", "out")
    yield ("report", f"{kind}.packing.json", "--out", "out")
    if seconds:
        yield ("pack", f"{kind}.toml", "--time", str(seconds), "--workers", "1", "--out", "out")


def main(arguments=None):
    parser = argparse.ArgumentParser(description=__doc__.split("\n", maxsplit=1)[0])
    parser.add_argument("--flaps", type=int, default=MOST_TIPS)
    parser.add_argument(
        "--kinds", nargs="+", default=["star", "chain", "caterpillar", "random"]
    )
    parser.add_argument("--seconds", type=float, default=0.0, help="limit of time of pack")
    given = parser.parse_args(arguments)
    made = figures(given.flaps)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "comb.svg").write_text(comb(given.flaps))
        print(
            f"{seconds_of(('sketch', 'comb.svg', '--out', 'out'), folder):6.1f} s  sketch",
            flush=True,
        )
        for kind in given.kinds:
            (folder / f"{kind}.toml").write_text(figure_text(made[kind]))
            packing = packing_text(on_a_grid(made[kind]))
            (folder / f"{kind}.packing.json").write_text(packing)
            for words in commands(kind, given.seconds):
                print(f"{seconds_of(words, folder):6.1f} s  {words[0]}, {kind}", flush=True)


if __name__ == "__main__":
    main()
