"""Whatever is put in: the result or one sentence, soon, in little memory, and nothing half done."""

from __future__ import annotations

import os
import resource
import signal
import sys
from contextlib import contextmanager

import pytest

from tests.battery.cases import HERE, cases
from tests.conftest import run

KINDS = sorted(path.stem for path in HERE.glob("*.toml"))
CASES = [(kind, case) for kind in KINDS for case in cases(kind)]

FIGURE = """
symmetry = "book"
[sheet]
width = 300
height = 300
unit = "mm"
[flaps]
head = { joint = "neck", length = 1 }
arm = { joint = "neck", length = 1.5, pair = true }
tail = { joint = "rear", length = 2 }
[rivers]
body = { joints = ["neck", "rear"], length = 0.5 }
"""

MOST_CALLS = 4_000_000
"""Calls of functions that a quick run may take: some 2 s. Counted, since clocks tell of others."""
MOST_MEMORY = 2**30
"""Bytes that a run may take on top of what the tests have."""
END_STOP = 120
"""Seconds of processor time after which a run that counts no calls is stopped for good."""
LONGEST = 500
"""Letters of the sentence that refuses; a name or a path of 5,000 is cut."""


@pytest.fixture(scope="module")
def bases(tmp_path_factory):
    """Results of every kind for one small figure, by the end of their names; all modules loaded."""
    folder = tmp_path_factory.mktemp("bases")
    figure = folder / "base.toml"
    figure.write_text(FIGURE, encoding="utf-8")
    packing = folder / "base.packing.json"
    limits = ("--starts", "1", "--workers", "1", "--quiet", "--out", folder)
    assert run("pack", figure, *limits) == 0
    assert run("crease", packing, "--time", "1", "--quiet", "--out", folder) == 0
    assert run("grid", figure, "--effort", "1", "--quiet", "--out", folder) == 0
    assert run("compare", figure, "--sheet", "1x1", "--sheet", "2x1", *limits) == 0
    for name in ("creases.fold", "grid.json"):
        assert run("print", folder / f"base.{name}", "--quiet", "--out", folder) == 0
    assert run("check", figure, "--quiet", "--out", folder) == 0
    names = ("packing.json", "creases.fold", "grid.json", "compare.json")
    return {name: (folder / f"base.{name}").read_text(encoding="utf-8") for name in names}


class TooMuchError(Exception):
    """A run took more calls or more processor time than its budget."""


@contextmanager
def budget(calls):
    """Stop what runs inside after so many calls of functions, or in far too much memory."""
    left = calls

    def count(*_):
        nonlocal left
        left -= 1
        if left < 0:
            sys.setprofile(None)
            raise TooMuchError(f"more than {calls} calls")

    def stop(*_):
        raise TooMuchError(f"more than {END_STOP} s of processor time")

    was, hard = resource.getrlimit(resource.RLIMIT_AS)
    with open("/proc/self/statm", encoding="ascii") as file:  # noqa: PTH123 - no file of ours
        here = int(file.read().split()[0]) * resource.getpagesize()
    handler = signal.signal(signal.SIGPROF, stop)
    resource.setrlimit(resource.RLIMIT_AS, (here + MOST_MEMORY, hard))
    signal.setitimer(signal.ITIMER_PROF, END_STOP)
    sys.setprofile(count)
    try:
        yield
    finally:
        sys.setprofile(None)
        signal.setitimer(signal.ITIMER_PROF, 0)
        resource.setrlimit(resource.RLIMIT_AS, (was, hard))
        signal.signal(signal.SIGPROF, handler)


def held(case, bases, folder, capsys, calls):
    """Run a case and hold its end against what every end must be."""
    words = case.prepare(folder, bases)
    before = sorted(folder.rglob("*"))
    capsys.readouterr()
    with budget(calls):
        code = run(*words)
    said = capsys.readouterr()
    assert code in case.ends, said.err[-600:]
    left = [path for path in folder.rglob("*") if path.name.startswith(".")]
    assert not left
    if code == 0:
        assert "Traceback" not in said.err
        return
    assert said.out == ""
    assert said.err.endswith("\n")
    assert said.err.count("\n") == 1, said.err
    assert len(said.err) - len(str(folder)) <= LONGEST
    assert case.says in said.err
    assert sorted(folder.rglob("*")) == before


WHOLE = os.environ.get("PACKER_BATTERY") == "all"
"""Whether every case is run: 2,100 quick ones and the slow ones; DEVELOPERS.md says how long."""
EVERY = 12
"""Without it one in so many of the quick cases is run, spread over all kinds."""


def _chosen(slow):
    found = [
        pytest.param(case, id=f"{kind}: {case.name}")
        for kind, case in CASES
        if case.slow == slow
    ]
    return found if WHOLE else found[:: 10 * EVERY if slow else EVERY]


@pytest.mark.skipif(sys.platform != "linux", reason="budgets are read from /proc")
@pytest.mark.parametrize("case", _chosen(slow=False))
def test_a_run_ends_in_its_result_or_in_one_sentence(case, bases, tmp_path, capsys):
    held(case, bases, tmp_path, capsys, MOST_CALLS)


@pytest.mark.slow
@pytest.mark.skipif(sys.platform != "linux", reason="budgets are read from /proc")
@pytest.mark.parametrize("case", _chosen(slow=True))
def test_a_longer_run_ends_so_too(case, bases, tmp_path, capsys):
    held(case, bases, tmp_path, capsys, 25 * MOST_CALLS)
