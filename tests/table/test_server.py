"""How the table ends, and that nothing of it is left running."""

import json
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from websockets.sync.client import connect

from packer.deadline import Deadline
from tests.conftest import PATIENCE, SAMPLES
from tests.table.serving import table

ROOT = Path(__file__).parents[2]


def children(number):
    """Numbers of the processes below one, as Linux tells them."""
    below, todo = [], [number]
    while todo:
        path = Path(f"/proc/{todo.pop()}/task")
        for task in path.glob("*/children"):
            try:
                more = [int(n) for n in task.read_text().split()]
            except OSError:
                continue
            below += more
            todo += more
    return below


def gone(numbers):
    """Whether all processes end in time; one that only waits to be reaped has ended."""

    def runs(number):
        try:
            state = Path(f"/proc/{number}/stat").read_text().rpartition(")")[2].split()[0]
        except OSError:
            return False
        return state != "Z"

    end = time.monotonic() + PATIENCE
    while any(map(runs, numbers)):
        if time.monotonic() > end:
            return False
        time.sleep(0.05)
    return True


@pytest.fixture
def served(tmp_path):
    """A table in a process of its own, with a page and a search beside it."""
    if not Path("/proc/self/task").exists():
        pytest.skip("the processes below one are looked up as Linux tells them")
    words = ["table", str(SAMPLES / "sea_star.toml"), "--out", str(tmp_path), "--no-browser"]
    server = subprocess.Popen(
        [sys.executable, "-m", "packer", *words], cwd=ROOT, stdout=subprocess.PIPE, text=True
    )
    address = server.stdout.readline().strip()
    host = address.split("/")[2]
    way = address.replace("http:", "ws:") + "line"
    try:
        with connect(way, origin=f"http://{host}", open_timeout=PATIENCE) as line:
            while json.loads(line.recv(PATIENCE)).get("looking") != "better":
                pass  # until the search beside the table has been started
            end = time.monotonic() + PATIENCE
            while not (below := children(server.pid)) and time.monotonic() < end:
                time.sleep(0.05)
            assert below
            yield server, below, tmp_path
    finally:
        server.stdout.close()
        server.kill()
        server.wait()


@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGINT, signal.SIGKILL])
def test_no_process_is_left(served, how):
    server, below, folder = served
    server.send_signal(how)
    code = server.wait(PATIENCE)
    assert gone(below)
    assert server.stdout.read() == ""  # the address stands alone on the first line
    if how != signal.SIGKILL:
        assert code == 0
        assert json.loads((folder / "sea_star.table.json").read_text())["draft"]["parts"]


def test_it_ends_a_while_after_the_last_page_was_closed(tmp_path):
    with table(SAMPLES / "sea_star.toml", tmp_path) as (server, _):
        server.alone_until = Deadline.after(0.0)
        assert server.ending.wait(PATIENCE)
