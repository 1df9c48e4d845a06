"""Change lines of the package one at a time and see whether the tests of their room notice.

Run ``python -m tests.benchmarks.mutation PLACE ... [--count 20] [--skip 0] [--seed 0] [--tests PATH ...]
[--reach FILE]``, such as ``python -m tests.benchmarks.mutation packer/bounds``. Each change swaps one operator or constant: ``<`` for ``<=``,
``+`` for ``-``, ``min`` for ``max``, 0 for 1, ``and`` for ``or`` and the like. The tests are those of the same
room under ``tests/`` and those that `tests/test_coverage_map.py` names, without the slow ones. They run once
unchanged, and tell which of them reach which line; a change is then judged by those that reach it, the quick ones
first. (Which tests reach which line is kept in a file for the next slice where one is named.) Printed are the changes that no test noticed; each is to be met by a test, or the code it is in to be removed,
or explained in `mutation.md`. The files are changed in a copy.
"""

from __future__ import annotations

import argparse
import ast
import json
import os
import random
import re
import shutil
import subprocess
import sys
import tempfile
from collections import Counter, defaultdict
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

from coverage import CoverageData

from tests.test_coverage_map import COVERED_BY

ROOT = Path(__file__).parent.parent.parent
SWAPS = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.And: ast.Or, ast.Or: ast.And,
}  # fmt: skip
NAMES = {"min": "max", "max": "min", "argmin": "argmax", "argmax": "argmin", "any": "all", "all": "any"}  # fmt: skip
FAILED, INTERRUPTED, INTERNAL = 1, 2, 3
"""Exit codes of pytest where a test failed, a file could not be imported, pytest itself broke."""
LEAST_SECONDS, TIMES_AS_LONG = 60, 10
"""A run that a change sends round in circles is ended after so long, and counts as having noticed."""


@dataclass(frozen=True)
class Change:
    """One change of a file: its number in the order of the syntax tree, where it is, what it says."""

    path: Path
    number: int
    line: int
    statement: range
    what: str

    def __str__(self) -> str:
        return f"{self.path.relative_to(ROOT)}:{self.line}: {self.what}"


@dataclass(frozen=True)
class Reach:
    """Which tests reach a line of a file, and how long each takes."""

    tests: dict[tuple[str, int], set[str]]
    seconds: dict[str, float]

    def of(self, change: Change) -> list[str]:
        """The tests that reach a change, the quick ones first; all where importing reaches it."""
        name = str(change.path.relative_to(ROOT))
        own = set().union(*(self.tests.get((name, line), set()) for line in change.statement))
        tests = set(self.seconds) if "" in own else own
        return sorted(tests & set(self.seconds), key=self.seconds.__getitem__)


def kept_reach(path, make):
    """The reach kept in a file; made and kept there where there is none."""
    if path is None:
        return make()
    if not path.exists():
        made = make()
        rows = [[*key, *sorted(tests)] for key, tests in made.tests.items()]
        path.write_text(json.dumps([rows, made.seconds]), encoding="utf-8")
    rows, seconds = json.loads(path.read_text(encoding="utf-8"))
    return Reach({(name, line): set(tests) for name, line, *tests in rows}, seconds)


def changes(path):
    """Every change of a file, in the order of its syntax tree."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    statements = _statements(tree)
    for number, (node, what) in enumerate(_in_turn(tree)):
        yield Change(path, number, node.lineno, statements[node.lineno], what)


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


def _statements(tree):
    """For each line the lines of the innermost statement it is in; a block counts by its head."""
    found = {}
    for node in ast.walk(tree):
        if isinstance(node, ast.stmt):
            body = getattr(node, "body", None)
            first = min([node.lineno, *(d.lineno for d in getattr(node, "decorator_list", []))])
            last = body[0].lineno if body else node.end_lineno + 1
            lines = range(first, max(last, node.lineno + 1))
            found |= dict.fromkeys(lines, lines)
    return found


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


def pytest_in(copy, *words, most=None):
    """Run pytest in a copy of the project, which all its children import the package from."""
    return subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-n", "0", "-p", "no:cacheprovider", *words],
        cwd=copy, env=os.environ | {"PYTHONPATH": str(copy)}, capture_output=True, text=True,
        timeout=most, check=False,
    )  # fmt: skip


def reached(copy, tests):
    """Run the tests once as the project is; which lines each reaches and how long it takes."""
    ran = pytest_in(
        copy, "-m", "not slow", "--cov=packer", "--cov-context=test", "--cov-report=",
        "--durations=0", "-vv", *tests,
    )  # fmt: skip
    for line in re.findall(r"^(?:FAILED|ERROR) .*", ran.stdout, re.MULTILINE):
        print(f"left out, since it fails as it is: {line}", flush=True)
    seconds = dict.fromkeys(re.findall(r"^(tests/\S.*?) PASSED", ran.stdout, re.MULTILINE), 0.0)
    spent = re.findall(r"^([\d.]+)s (?:call|setup) +(tests/.*)$", ran.stdout, re.MULTILINE)
    for time, test in spent:
        if test in seconds:
            seconds[test] += float(time)
    data = CoverageData(str(copy / "out" / "coverage"))
    data.read()
    found = defaultdict(set)
    for path in data.measured_files():
        for line, contexts in data.contexts_by_lineno(path).items():
            name = str(Path(path).resolve().relative_to(copy.resolve()))
            found[name, line] |= {context.rsplit("|", 1)[0] for context in contexts}
    return Reach(found, seconds)


def noticed(change, copy, reach):
    """Whether a test fails with a change made in a copy of the project."""
    tests = reach.of(change)
    if not tests:
        return False
    target = copy / change.path.relative_to(ROOT)
    before = target.read_text(encoding="utf-8")
    target.write_text(text_with(change), encoding="utf-8")
    most = LEAST_SECONDS + TIMES_AS_LONG * sum(reach.seconds[test] for test in tests)
    try:
        code = pytest_in(copy, "-x", *tests, most=most).returncode
    except subprocess.TimeoutExpired:
        return True
    finally:
        target.write_text(before, encoding="utf-8")
    if code not in {0, FAILED, INTERRUPTED, INTERNAL}:
        sys.exit(f"{change}: pytest ended with {code}")
    return code != 0


def tests_of(path):
    """The tests of a module, by the map of the house: those of its room and the file named for it."""
    below = path.relative_to(ROOT / "packer").with_suffix("")
    own = ROOT / "tests" / below.parent / f"test_{below.name}.py"
    folders = [folder for folder in below.parents if str(folder) != "."]
    return {
        str(test.relative_to(ROOT))
        for test in [own, *(ROOT / "tests" / folder for folder in folders[-1:])]
        if test.exists()
    } | {f"tests/{named}" for named in [COVERED_BY.get(str(below))] if named}


def outermost(tests):
    """Paths of tests without those that lie in another of them."""
    return sorted(t for t in tests if not any(str(p) in tests for p in Path(t).parents))


def main(arguments=None):
    parser = argparse.ArgumentParser(description=__doc__.split("\n", maxsplit=1)[0])
    parser.add_argument("places", type=Path, nargs="+")
    parser.add_argument("--count", type=int, default=20)
    parser.add_argument("--skip", type=int, default=0, help="changes judged before")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--tests", nargs="*")
    parser.add_argument("--reach", type=Path, help="file for what reaches what")
    given = parser.parse_args(arguments)
    files = []
    for place in given.places:
        here = place.resolve()
        files += sorted(here.rglob("*.py")) if here.is_dir() else [here]
    every = [change for path in files for change in changes(path)]
    random.Random(given.seed).shuffle(every)
    tests = given.tests or outermost(set().union(*map(tests_of, files)))
    seen = Counter()
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder)
        for name in ("packer", "tests", "samples", "pyproject.toml", "README.md"):
            (shutil.copytree if (ROOT / name).is_dir() else shutil.copy)(
                ROOT / name, copy / name
            )
        (copy / "out").mkdir()
        reach = kept_reach(given.reach, lambda: reached(copy, tests))
        print(f"{len(reach.seconds)} tests, {sum(reach.seconds.values()):.0f} s", flush=True)
        for change in every[given.skip : given.skip + given.count]:
            outcome = "noticed" if noticed(change, copy, reach) else "unnoticed"
            seen[outcome] += 1
            if outcome == "unnoticed":
                why = "" if reach.of(change) else " (no test reaches it)"
                print(f"{change}{why}", flush=True)
            print(f"{seen.total()} judged", file=sys.stderr, flush=True)
    print(f"{seen['unnoticed']} of {seen.total()} unnoticed ({len(every)} changes there are)")
    return 1 if seen["unnoticed"] else 0


if __name__ == "__main__":
    sys.exit(main())
