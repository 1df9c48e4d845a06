"""Odd surroundings: streams that are full or closed, no UTF-8, settings, links, runs that were killed."""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from packer.cli.output import print_json
from packer.files import write
from tests.conftest import PATIENCE, SAMPLES

if sys.platform == "win32":
    pytest.skip("needs POSIX streams and links", allow_module_level=True)

CRAB = SAMPLES / "shore_crab.toml"
WILD = '[flaps]\n"Fühler \U0001f980" = { joint = "j", length = 1 }\nb = { joint = "j", length = 1 }\n'


def started(*words, folder=None, close="", **changes):
    """Run packer through a shell, which can close a stream before; return the finished process."""
    surroundings = {k: v for k, v in os.environ.items() if not k.startswith(("MPL", "PYTHON"))}
    surroundings |= {"PYTHONPATH": str(SAMPLES.parent)} | changes
    line = f'exec "$0" -W default -m packer "$@" {close}'
    return subprocess.run(
        ["/bin/sh", "-c", line, sys.executable, *map(str, words)],
        cwd=folder, env=surroundings, capture_output=True, timeout=PATIENCE, check=False,
    )  # fmt: skip


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="a device of Linux")
def test_a_full_stdout_is_told_in_one_line():
    ran = started("check", CRAB, close=">/dev/full")
    assert ran.returncode == 1
    assert ran.stderr == b"the results could not be printed (No space left on device)\n"


def test_closed_streams_leave_the_files(tmp_path):
    ran = started("check", CRAB, "--out", tmp_path, close=">&- 2>&-")
    assert (ran.returncode, ran.stdout, ran.stderr) == (0, b"", b"")
    written = {path.name: path.read_bytes()[:4] for path in tmp_path.iterdir()}
    assert written == {"shore_crab.figure.svg": b"<svg", "shore_crab.figure.png": b"\x89PNG"}


def test_a_closed_stderr_keeps_the_exit_code():
    ran = started("check", "nothing.toml", close="2>&-")
    assert (ran.returncode, ran.stdout, ran.stderr) == (2, b"", b"")


def test_a_reader_that_leaves_is_no_fault():
    ran = started("check", SAMPLES / "spiny_lobster.toml", close="| true")
    assert ran.stderr == b""


def test_letters_that_the_terminal_lacks_are_escaped(tmp_path):
    figure = tmp_path / "wild.toml"
    figure.write_text(WILD, encoding="utf-8")
    # a terminal of the locale C, with Python's own remedies switched off
    bare = {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}
    ran = started("check", figure, **bare)
    assert (ran.returncode, ran.stderr) == (0, b"")
    assert b"F\\xfchler \\U0001f980" in ran.stdout
    ran = started("check", figure, "--json", **bare)
    assert (ran.returncode, ran.stderr) == (0, b"")
    record = json.loads(ran.stdout.decode("ascii"))
    assert "\U0001f980" in json.dumps(record, ensure_ascii=False)
    assert b"\\ud83e\\udd80" in ran.stdout


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "utf-8"])
def test_json_is_json_whatever_letters_the_terminal_has(encoding, monkeypatch):
    """By the standard library's own reader: RFC 8259, section 7, escapes beyond 16 bits as a pair."""
    written = io.BytesIO()
    monkeypatch.setattr(sys, "stdout", io.TextIOWrapper(written, encoding, "backslashreplace"))
    record = {"Möwe": "鷗 🦀", "e": "é", "lone": "\ud800"}
    print_json(json.dumps(record, ensure_ascii=False))
    sys.stdout.flush()
    assert json.loads(written.getvalue().decode(encoding)) == record


def test_what_another_run_wrote_meanwhile_is_not_replaced(tmp_path):
    path = tmp_path / "a.json"
    write.write_files({path: "mine"})
    assert write.rewrite(path, "mine", "mine with advice")
    write.write_files({path: "theirs"}, force=True)
    assert not write.rewrite(path, "mine with advice", "mine again")
    assert [p.name for p in tmp_path.iterdir()] == ["a.json"]
    assert path.read_text() == "theirs"


def test_settings_of_matplotlib_and_a_home_that_cannot_be_read_leave_no_trace(tmp_path):
    rules = "text.usetex : True\nfont.size : 40\nno.such.key : 1\nlines.linewidth : red\n"
    (tmp_path / "matplotlibrc").write_text(rules)
    ran = started("check", CRAB, "--out", "out", "--quiet", folder=tmp_path, HOME="/dev/null")
    assert (ran.returncode, ran.stdout, ran.stderr) == (0, b"", b"")
    plain = started("check", CRAB, "--out", tmp_path / "plain", "--quiet")
    assert plain.returncode == 0
    pictures = [tmp_path / where / "shore_crab.figure.png" for where in ("out", "plain")]
    assert pictures[0].read_bytes() == pictures[1].read_bytes()


@pytest.mark.parametrize("what", ["link", "pipe"])
def test_force_tells_what_it_replaces(what, tmp_path, packer_cli):
    target = tmp_path / "shore_crab.figure.svg"
    (tmp_path / "mine.svg").write_text("mine")
    if what == "link":
        target.symlink_to("mine.svg")
    else:
        os.mkfifo(target)
    assert packer_cli("check", CRAB, "--out", tmp_path).code == 2
    ran = packer_cli("check", CRAB, "--out", tmp_path, "--force", "--json")
    stood = "a link to mine.svg" if what == "link" else "a pipe"
    assert ran.code == 0
    assert f"wrote {target} in place of {stood}\n" in ran.err
    assert not target.is_symlink()
    assert target.read_bytes().startswith(b"<svg")
    assert (tmp_path / "mine.svg").read_text() == "mine"


def test_what_killed_runs_left_is_cleared_and_nothing_else(tmp_path):
    begin, end = write.UNFINISHED
    for name in (f"{begin}abc{end}", f"{begin}{end}", "mine.part", ".mine.part", f"{begin}abc"):
        (tmp_path / name).write_text("x")
    write.write_files({tmp_path / "a.txt": "new"})
    assert {path.name for path in tmp_path.iterdir()} == {
        "a.txt", "mine.part", ".mine.part", f"{begin}abc",
    }  # fmt: skip


WRITER = """
import sys
from pathlib import Path
from packer.files.write import write_files
folder, name, rounds = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3])
for k in range(rounds):
    write_files({folder / f"{part}.txt": name for part in "abcdef"}, force=True)
    found = {(folder / f"{part}.txt").read_text() for part in "abcdef"}
"""

READER = """
import fcntl, os, sys
from pathlib import Path
folder = Path(sys.argv[1])
mixed = 0
for k in range(int(sys.argv[2])):
    handle = os.open(folder, os.O_RDONLY)
    fcntl.flock(handle, fcntl.LOCK_EX)
    mixed += len({path.read_text() for path in folder.glob("*.txt")}) > 1
    os.close(handle)
print(mixed)
"""


def test_two_runs_that_write_into_one_folder_are_never_mixed(tmp_path):
    here = {"cwd": SAMPLES.parent, "stdout": subprocess.PIPE, "text": True}
    runs = [
        subprocess.Popen([sys.executable, "-c", WRITER, tmp_path, name, "60"], **here)
        for name in ("one", "two")
    ]
    reader = subprocess.Popen([sys.executable, "-c", READER, tmp_path, "300"], **here)
    assert reader.communicate()[0].strip() == "0"
    for run in runs:
        run.communicate()
        assert run.returncode == 0
    assert {path.name for path in tmp_path.iterdir()} == {f"{part}.txt" for part in "abcdef"}
    assert len({path.read_text() for path in tmp_path.iterdir()}) == 1
