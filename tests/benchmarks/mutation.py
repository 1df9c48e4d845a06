"""Change lines of the package one at a time and see whether the tests of their room notice.

Run ``python -m tests.benchmarks.mutation PLACE ... [--count 20] [--skip 0] [--seed 0] [--room]``, such as
``python -m tests.benchmarks.mutation packer/bounds``. A place is a room, a module, or a line of one
(``packer/units.py:59``). Each change swaps one operator or constant: ``<`` for ``<=``, ``+`` for ``-``,
``min`` for ``max``, 0 for 1, ``and`` for ``or`` and the like. The tests are those of the module, by name or as
`tests/test_coverage_map.py` has it, and with ``--room`` all of its room if these notice nothing; slow ones
are left out. Printed are the changes that no test noticed; each is to be met by a test, or the code it is in to be
removed, or explained in `mutation.md`. The files are changed in a copy.
"""

from __future__ import annotations

import argparse
import ast
import os
import random
import shutil
import subprocess
import sys
import tempfile
from collections import Counter
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

from tests.test_coverage_map import COVERED_BY

ROOT = Path(__file__).parent.parent.parent
SWAPS = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.And: ast.Or, ast.Or: ast.And,
}  # fmt: skip
NAMES = {"min": "max", "max": "min", "argmin": "argmax", "argmax": "argmin", "any": "all", "all": "any"}  # fmt: skip
PASSED, FAILED, INTERRUPTED, INTERNAL = range(4)
"""Exit codes of pytest: where all is well, a test failed, a file could not be read, pytest broke."""
MOST_SECONDS = 240
"""After which a run that a change sent round in circles counts as having noticed it."""


@dataclass(frozen=True)
class Change:
    """One change of a file: its number in the order of the syntax tree, where it is, what it says."""

    path: Path
    number: int
    line: int
    what: str

    def __str__(self) -> str:
        return f"{self.path.relative_to(ROOT)}:{self.line}: {self.what}"


def changes(path):
    """Every change of a file, in the order of its syntax tree."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    for number, (node, what) in enumerate(_in_turn(tree)):
        yield Change(path, number, node.lineno, what)


def text_with(change):
    """The text of a file with a change made."""
    tree = ast.parse(change.path.read_text(encoding="utf-8"))
    next(islice(_in_turn(tree), change.number, None))
    return ast.unparse(tree)


def _in_turn(tree):
    """Make each change of a tree in turn, and undo it when the next is asked for."""
    for node in list(ast.walk(tree)):
        for what, undo in _swapped(node):
            yield node, what
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


def passes(copy, tests):
    """Whether tests pass in a copy of the project, which all their children import it from."""
    words = ["pytest", "-q", "-x", "-n", "0", "-m", "not slow", "-p", "no:cacheprovider"]
    try:
        code = subprocess.run(
            [sys.executable, "-m", *words, *tests],
            cwd=copy, env=os.environ | {"PYTHONPATH": str(copy)}, capture_output=True,
            timeout=MOST_SECONDS, check=False,
        ).returncode  # fmt: skip
    except subprocess.TimeoutExpired:
        return False
    if code not in {PASSED, FAILED, INTERRUPTED, INTERNAL}:
        sys.exit(f"pytest {' '.join(tests)} ended with {code}")
    return code == PASSED


def noticed(change, copy, rounds):
    """Whether a test fails with a change made in a copy of the project."""
    target = copy / change.path.relative_to(ROOT)
    before = target.read_text(encoding="utf-8")
    target.write_text(text_with(change), encoding="utf-8")
    try:
        return not all(passes(copy, tests) for tests in rounds)
    finally:
        target.write_text(before, encoding="utf-8")


def own_tests(path):
    """The test file of a module by its name, else the one named in the map; else those of its room."""
    below = path.relative_to(ROOT / "packer").with_suffix("")
    own = Path("tests") / below.parent / f"test_{below.name}.py"
    if (ROOT / own).exists():
        return [str(own)]
    named = COVERED_BY.get(str(below))
    return [f"tests/{named}"] if named else room_tests(path)


def room_tests(path):
    """The tests of a module's room: the outermost folder."""
    parts = path.relative_to(ROOT / "packer").parts
    room = Path("tests") / parts[0]
    return [str(room)] if len(parts) > 1 and (ROOT / room).is_dir() else ["tests"]


def changes_at(place):
    """The changes of a room, a module or a line."""
    name, _, line = str(place).partition(":")
    here = Path(name).resolve()
    files = sorted(here.rglob("*.py")) if here.is_dir() else [here]
    return [c for path in files for c in changes(path) if not line or c.line == int(line)]


def main(arguments=None):
    parser = argparse.ArgumentParser(description=__doc__.split("\n", maxsplit=1)[0])
    parser.add_argument("places", nargs="+")
    parser.add_argument("--count", type=int, default=20, help="changes of each place")
    parser.add_argument("--skip", type=int, default=0, help="changes judged before")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--room", action="store_true")
    given = parser.parse_args(arguments)
    unnoticed = 0
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder)
        for name in ("packer", "tests", "samples", "README.md", "pyproject.toml"):
            (shutil.copytree if (ROOT / name).is_dir() else shutil.copy)(
                ROOT / name, copy / name
            )
        for place in given.places:
            every = changes_at(place)
            random.Random(given.seed).shuffle(every)
            seen = Counter()
            for change in every[given.skip : given.skip + given.count]:
                rounds = [own_tests(change.path)]
                if given.room and room_tests(change.path) not in rounds:
                    rounds.append(room_tests(change.path))
                outcome = "noticed" if noticed(change, copy, rounds) else "unnoticed"
                seen[outcome] += 1
                print(f"{change}, {outcome}", flush=True)
            print(
                f"{place}: {seen['unnoticed']} of {seen.total()} unnoticed, of {len(every)} changes"
            )
            unnoticed += seen["unnoticed"]
    return 1 if unnoticed else 0


if __name__ == "__main__":
    sys.exit(main())
