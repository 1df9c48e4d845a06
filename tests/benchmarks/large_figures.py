"""Processor time of every command that is no search, on figures as large as may be.

Run ``python -m tests.benchmarks.large_figures [--flaps 1000] [--kinds star chain ...] [--seconds 3]``.
Each kind of figure goes through `check`, `plan`, `print` on pages and in the other formats, and `report`, each
command in a process of its own, start included, with the most memory that it took; its packing has its tips
row by row on a grid, in the order of the figure. What is too large to fold goes through `crease`, `grid` and
`landmarks`, which refuse it; what is not, with ``--seconds``, through `landmarks`. A drawing of as many
strokes goes through `sketch`, and with ``--seconds`` each figure through `pack`, from nothing, from its packing
and with a gallery of three, `compare` on five sheets and `levels`, every second flap of a detail of its own,
under that limit: of these the time that elapsed beyond the limit is told as well, and is right only where
nothing else runs.
"""

from __future__ import annotations

import argparse
import math
import os
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

from packer.files.figure_toml import figure_text, parse_figure
from packer.files.newick import parse_newick
from packer.files.packing_json import packing_text
from packer.limits import MOST_FOLDED, MOST_FOLDED_RIVERS, MOST_TIPS
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


def with_details(figure):
    """The figure with every second flap of detail 2."""
    return replace(
        figure,
        flaps=tuple(replace(flap, detail=1 + k % 2) for k, flap in enumerate(figure.flaps)),
    )


def told(words, folder, code=0):
    """Run a command in a process of its own and print what it took; ends the benchmark where it fails."""
    began = time.monotonic()
    process = subprocess.Popen(
        [sys.executable, "-m", "packer", *words, "--quiet", "--force", "--out", "out"],
        cwd=folder, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    said = process.stderr.read()
    _, status, usage = os.wait4(process.pid, 0)
    if os.waitstatus_to_exitcode(status) != code:
        sys.exit(f"packer {' '.join(words)} ended otherwise than with {code}: {said[-300:]}")
    elapsed = time.monotonic() - began
    seconds = usage.ru_utime + usage.ru_stime
    notes = "  refused" if code else ""
    if "--time" in words:
        notes += f"  {elapsed - float(words[words.index('--time') + 1]):.1f} s beyond its time"
    print(
        f"{seconds:6.1f} s  {usage.ru_maxrss // 1024:5d} MiB  {' '.join(words)}{notes}",
        flush=True,
    )


def commands(kind, flaps, rivers, seconds):
    """The commands that a figure of a kind goes through, each with its exit code."""
    packing, figure = f"{kind}.packing.json", f"{kind}.toml"
    yield ("check", figure), 0
    yield ("plan", packing), 0
    yield ("print", packing), 0
    yield ("print", packing, "--as", "one-page"), 0
    yield ("print", packing, "--as", "svg"), 0
    yield ("print", packing, "--as", "plotter,dxf"), 0
    yield ("report", packing), 0
    if flaps > MOST_FOLDED or rivers > MOST_FOLDED_RIVERS:
        yield ("crease", packing), 2
        yield ("grid", figure), 2
    if flaps > MOST_FOLDED:
        yield ("landmarks", packing), 2
    elif seconds:
        yield ("landmarks", packing, "--time", str(seconds)), 0
    if seconds:
        limit = ("--time", str(seconds), "--workers", "1")
        yield ("pack", figure, *limit), 0
        yield ("pack", figure, "--from", packing, *limit), 0
        yield ("pack", figure, "--gallery", "3", *limit), 0
        yield ("compare", figure, *limit), 0
        if flaps > MOST_FOLDED:  # a chain without its ends is none
            yield ("levels", f"{kind}.levels.toml", *limit), 0


def main(arguments=None):
    parser = argparse.ArgumentParser(description=__doc__.split("\n", maxsplit=1)[0])
    parser.add_argument("--flaps", type=int, default=MOST_TIPS)
    parser.add_argument(
        "--kinds", nargs="+", default=["star", "chain", "caterpillar", "random"]
    )
    parser.add_argument("--seconds", type=float, default=0.0, help="limit of time of searches")
    given = parser.parse_args(arguments)
    made = figures(given.flaps)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "comb.svg").write_text(comb(given.flaps))
        told(("sketch", "comb.svg"), folder)
        for kind in given.kinds:
            figure = made[kind]
            (folder / f"{kind}.toml").write_text(figure_text(figure))
            (folder / f"{kind}.levels.toml").write_text(figure_text(with_details(figure)))
            packing = on_a_grid(figure)
            (folder / f"{kind}.packing.json").write_text(packing_text(packing))
            size = len(packing.tree.flaps), len(packing.tree.rivers)
            for words, code in commands(kind, *size, given.seconds):
                told(words, folder, code)


if __name__ == "__main__":
    main()
