"""How runs end: on a terminal, on a pipe, by Ctrl-C and by force."""

from __future__ import annotations

import json
import os
import pty
import select
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.conftest import PATIENCE, SAMPLES
from tests.recomputed import check_record

if sys.platform == "win32":
    pytest.skip("needs POSIX signals and terminals", allow_module_level=True)

STAR = str(SAMPLES / "brittle_star.toml")


def start(*words, stderr):
    return subprocess.Popen(
        [sys.executable, "-m", "packer", *map(str, words)],
        stdout=subprocess.PIPE,
        stderr=stderr,
        text=True,
        cwd=SAMPLES.parent,
    )


class Terminal:
    """A pseudo-terminal for a run's stderr, and all that was written to it."""

    def __init__(self):
        self.ours, self.theirs = pty.openpty()
        self.seen = ""

    def wait_for(self, text):
        end = time.monotonic() + PATIENCE
        while text not in self.seen:
            assert time.monotonic() < end, f"{text!r} never came, but {self.seen!r}"
            if select.select([self.ours], [], [], 0.2)[0]:
                self.seen += os.read(self.ours, 65536).decode()

    def close(self):
        os.close(self.ours)
        os.close(self.theirs)


def wait_for_children(pid, count):
    """Wait until a process has so many children; on Linux alone, where they are listed."""
    tasks = Path(f"/proc/{pid}/task")
    end = time.monotonic() + PATIENCE
    while tasks.exists():
        listed = [(task / "children").read_text().split() for task in tasks.iterdir()]
        if sum(map(len, listed)) >= count:
            return
        assert time.monotonic() < end, f"{count} workers never came"
        time.sleep(0.05)


@pytest.fixture
def terminal():
    made = Terminal()
    yield made
    made.close()


@pytest.mark.parametrize("workers", [1, 2])
def test_ctrl_c_keeps_the_best_so_far(workers, terminal, tmp_path):
    words = ("pack", STAR, "--time", 300, "--workers", workers, "--out", tmp_path)
    run = start(*words, stderr=terminal.theirs)
    terminal.wait_for("scale 0.")  # there is something to keep, and a terminal shows it
    run.send_signal(signal.SIGINT)
    out, _ = run.communicate(timeout=PATIENCE)
    assert run.returncode == 0
    terminal.wait_for("interrupted: this is the best packing found until then")
    assert out.startswith("Brittle star: scale 0.")
    record = json.loads((tmp_path / "brittle_star.packing.json").read_text(encoding="utf-8"))
    assert record["search"]["stopped"] == "interrupted"
    check_record(record)


def test_a_terminal_sees_progress_that_leaves_no_trace(terminal, tmp_path):
    words = ("pack", STAR, "--time", 300, "--workers", 1, "--out", tmp_path)
    run = start(*words, stderr=terminal.theirs)
    terminal.wait_for(" tried, scale 0.")
    run.send_signal(signal.SIGINT)
    terminal.wait_for("png")
    run.communicate(timeout=PATIENCE)
    lines = terminal.seen.replace("\r\n", "\n").split("\n")
    # the line is wiped before anything else is said
    assert lines[0].split("\r\x1b[2K")[-1].startswith("wrote ")


def test_a_pipe_sees_results_and_no_progress(tmp_path):
    words = ("pack", STAR, "--time", 1, "--workers", 1, "--out", tmp_path)
    run = start(*words, stderr=subprocess.PIPE)
    out, err = run.communicate(timeout=PATIENCE)
    assert run.returncode == 0
    assert out.startswith("Brittle star: scale 0.")
    # a run that a busy machine holds up for ten seconds says so in a line of its own
    told = [line for line in err.splitlines() if " of about 1 s" not in line]
    assert [line.split()[0] for line in told] == ["wrote"] * 3
    assert "\x1b" not in out + err


def test_a_pipe_that_closes_early_is_no_fault(tmp_path):
    words = ("check", STAR)
    run = start(*words, stderr=subprocess.PIPE)
    run.stdout.close()
    err = run.stderr.read()
    run.stderr.close()
    run.wait(timeout=PATIENCE)
    assert "Traceback" not in err


@pytest.mark.parametrize("workers", [1, 2])
def test_a_run_that_is_killed_leaves_nothing(workers, terminal, tmp_path):
    out = tmp_path / "out"
    words = ("pack", STAR, "--time", 300, "--workers", workers, "--out", out)
    run = start(*words, stderr=terminal.theirs)
    terminal.wait_for("scale 0.")
    wait_for_children(run.pid, workers if workers > 1 else 0)
    run.kill()
    # the pipe of stdout ends only when every process that holds it has ended
    run.communicate(timeout=PATIENCE)
    assert run.returncode == -signal.SIGKILL
    assert not out.exists()


WRITER = """
import sys
from pathlib import Path
from packer.files.write import write_files
out = Path(sys.argv[1])
text = "x" * 3_000_000
for k in range(10_000):
    write_files({out / f"{k}.a": text, out / f"{k}.b": text})
    print(k, flush=True)
"""


@pytest.mark.parametrize("extra", [0.0, 0.003, 0.011])
def test_a_run_that_is_killed_while_writing_leaves_only_whole_files(extra, tmp_path):
    run = subprocess.Popen(
        [sys.executable, "-c", WRITER, str(tmp_path)],
        stdout=subprocess.PIPE,
        cwd=SAMPLES.parent,
    )
    run.stdout.readline()
    time.sleep(extra)
    run.kill()
    run.communicate(timeout=PATIENCE)
    named = [path for path in tmp_path.iterdir() if not path.name.startswith(".")]
    assert named
    assert {path.stat().st_size for path in named} == {3_000_000}


def test_the_module_runs_as_the_command_does():
    ran = subprocess.run(
        [sys.executable, "-m", "packer", "pack", "none.toml"],
        capture_output=True, text=True, cwd=SAMPLES.parent, check=False,
    )  # fmt: skip
    assert (ran.returncode, ran.stdout) == (2, "")
    assert ran.stderr == "none.toml: no such file; name a figure file\n"
