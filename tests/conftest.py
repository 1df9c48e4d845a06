"""One thread a process, reproducible examples, and the command line as a fixture."""

from __future__ import annotations

import os
import signal
from dataclasses import dataclass
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

from packer import deadline

# before numpy is first imported
for _variable in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_variable, "1")

settings.register_profile(
    "packer",
    deadline=None,
    max_examples=40,
    derandomize=True,  # the same examples every time, so that a red run can be run again
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture],
)
settings.load_profile("packer")

if times := float(os.environ.get("PACKER_BUSY", "0")):
    # every limit of time comes so many times as soon, as where as many others use the processor
    _monotonic = deadline.monotonic
    deadline.monotonic = lambda: times * _monotonic()

# a shell that runs the tests in its background has Ctrl-C ignored, and the tests of it would wait
signal.signal(signal.SIGINT, signal.default_int_handler)

PATIENCE = 600
"""Seconds for which a test waits for what must happen, on however busy a machine, before it fails."""

SAMPLES = Path(__file__).parent.parent / "samples"
HANDY = sorted(path for path in SAMPLES.glob("*.toml") if path.stem != "spiny_lobster")
"""Samples to 36 flaps; that of 80 takes as long as all of these, and runs in the benchmarks."""


def run(*words):
    """Run the command line in this process; return its exit code."""
    from packer.cli import main  # noqa: PLC0415 - after the threads are set

    with pytest.raises(SystemExit) as ended:
        main([str(word) for word in words])
    code = ended.value.code
    return code if isinstance(code, int) else 0


class Ticks:
    """A clock that goes on by one tick each time it is read: time that is counted, not measured."""

    def __init__(self, tick):
        self.now, self.tick = 0.0, tick

    def __call__(self):
        self.now += self.tick
        return self.now


@dataclass(frozen=True)
class Ran:
    """What a run of the command line left behind."""

    code: int
    out: str
    err: str


@pytest.fixture
def packer_cli(capsys, monkeypatch):
    """Run a command in this process: ``packer_cli("check", figure)`` returns a `Ran`."""
    monkeypatch.setenv("COLUMNS", "100")
    # a line every ten seconds would come or not with how busy the machine is
    monkeypatch.setattr("packer.cli.output.EVERY_SECONDS", 1e6)

    def ran(*words):
        capsys.readouterr()
        code = run(*words)
        captured = capsys.readouterr()
        return Ran(code, captured.out, captured.err)

    return ran


@pytest.fixture
def samples():
    """The directory of the sample figures."""
    return SAMPLES
