"""Change lines of the package one at a time and see whether the tests of their room notice.

Run ``python -m tests.benchmarks.mutation ROOM-OR-FILE [--count 20] [--seed 0] [--tests PATH ...]``, such as
``python -m tests.benchmarks.mutation packer/bounds``. Each change swaps one operator or constant: ``<`` for ``<=``,
``+`` for ``-``, ``min`` for ``max``, 0 for 1, ``and`` for ``or`` and the like. The tests are those of the same
room under ``tests/`` unless others are named. Printed are the changes that no test noticed; each is to be
met by a test, or the code it is in to be removed, or explained beside it. The files are changed in a copy.
"""

from __future__ import annotations

import argparse
import ast
import random
import shutil
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parent.parent.parent
SWAPS = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.And: ast.Or, ast.Or: ast.And,
}  # fmt: skip
NAMES = {"min": "max", "max": "min", "argmin": "argmax", "argmax": "argmin", "any": "all", "all": "any"}  # fmt: skip
MOST_SECONDS = 600
"""After which a test run that a change sent round in circles counts as having noticed it."""


@dataclass(frozen=True)
class Change:
    """One change of a file: the line it is in, what it says and the whole text with it."""

    path: Path
    line: int
    what: str
    text: str


def changes(path):
    """Every change of a file, in the order of its syntax tree."""
    source = path.read_text(encoding="utf-8")
    tree = ast.parse(source)
    for node in list(ast.walk(tree)):
        for what, undo in _swapped(node):
            yield Change(path, node.lineno, what, ast.unparse(tree))
            undo()


def _swapped(node):
    """Change a node in each way it can be; after each the caller calls what undoes it."""
    if isinstance(node, ast.Compare):
        for k, old in enumerate(node.ops):
            if type(old) in SWAPS:
                node.ops[k] = SWAPS[type(old)]()
                yield f"{_word(node.ops[k])} for {_word(old)}", _put(node.ops, k, old)
    elif isinstance(node, ast.BinOp | ast.BoolOp) and type(node.op) in SWAPS:
        old = node.op
        node.op = SWAPS[type(old)]()
        yield f"{_word(node.op)} for {_word(old)}", lambda: setattr(node, "op", old)
    elif isinstance(node, ast.Constant) and type(node.value) is int and node.value in {0, 1}:
        node.value = 1 - node.value
        yield (
            f"{node.value} for {1 - node.value}",
            lambda: setattr(node, "value", 1 - node.value),
        )
    elif isinstance(node, ast.Name) and node.id in NAMES:
        node.id = NAMES[node.id]
        yield f"{node.id} for {NAMES[node.id]}", lambda: setattr(node, "id", NAMES[node.id])
    elif isinstance(node, ast.Attribute) and node.attr in NAMES:
        node.attr = NAMES[node.attr]
        yield (
            f"{node.attr} for {NAMES[node.attr]}",
            lambda: setattr(node, "attr", NAMES[node.attr]),
        )


def _put(ops, k, old):
    return lambda: ops.__setitem__(k, old)


def _word(operator):
    return type(operator).__name__


def noticed(change, copy, tests):
    """Whether a test fails with a change made in a copy of the project."""
    target = copy / change.path.relative_to(ROOT)
    before = target.read_text(encoding="utf-8")
    target.write_text(change.text, encoding="utf-8")
    words = [
        sys.executable,
        "-m",
        "pytest",
        "-q",
        "-x",
        "-n",
        "0",
        "-m",
        "not slow",
        "-p",
        "no:cacheprovider",
    ]
    try:
        ran = subprocess.run(
            [*words, *tests], cwd=copy, capture_output=True, timeout=MOST_SECONDS, check=False
        )
    except subprocess.TimeoutExpired:
        return True
    finally:
        target.write_text(before, encoding="utf-8")
    return ran.returncode != 0


def tests_of(path):
    """The tests of a room or of a module, by the map of the house: the nearest folder or file."""
    below = path.relative_to(ROOT / "packer").with_suffix("")
    module = ROOT / "tests" / below.parent / f"test_{below.name}.py"
    if module.exists():
        return [str(module.relative_to(ROOT))]
    for folder in (below, *below.parents):
        if (ROOT / "tests" / folder).is_dir() and str(folder) != ".":
            return [str(Path("tests") / folder)]
    return ["tests"]


def main(arguments=None):
    parser = argparse.ArgumentParser(description=__doc__.split("\n", maxsplit=1)[0])
    parser.add_argument("place", type=Path)
    parser.add_argument("--count", type=int, default=20)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--tests", nargs="*")
    given = parser.parse_args(arguments)
    place = given.place.resolve()
    files = sorted(place.rglob("*.py")) if place.is_dir() else [place]
    every = [change for path in files for change in changes(path)]
    chosen = random.Random(given.seed).sample(every, min(given.count, len(every)))
    survived = 0
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder)
        for name in ("packer", "tests", "samples", "pyproject.toml"):
            (shutil.copytree if (ROOT / name).is_dir() else shutil.copy)(
                ROOT / name, copy / name
            )
        for change in chosen:
            if not noticed(change, copy, given.tests or tests_of(change.path)):
                survived += 1
                print(
                    f"{change.path.relative_to(ROOT)}:{change.line}: {change.what}", flush=True
                )
    print(f"{survived} of {len(chosen)} changes went unnoticed ({len(every)} there are)")
    return 1 if survived else 0


if __name__ == "__main__":
    sys.exit(main())
