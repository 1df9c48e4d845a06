"""``packer pack --cluster``: a local cluster of two workers, one that dies, Ctrl-C, no cluster."""

from __future__ import annotations

import json
import logging
import os
import signal
import subprocess
import sys

import pytest

from packer.cli.cluster import unforeseen
from packer.model.problem import pose
from packer.search.options import SearchOptions
from packer.search.pack import pack
from packer.search.stopping import MaxStarts
from tests.cli.test_ending import STAR, Terminal, start
from tests.conftest import PATIENCE, SAMPLES
from tests.strategies import random_figure

distributed = pytest.importorskip("distributed")

pytestmark = pytest.mark.filterwarnings("ignore")  # dask's own, on sockets it closes late


@pytest.fixture(scope="module")
def cluster():
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, dashboard_address=None, host="127.0.0.1"
    ) as made:
        yield made


@pytest.mark.slow
def test_a_cluster_of_two_gives_the_packing_of_two_processes(cluster, packer_cli, tmp_path):
    words = ("--starts", "2", "--json", "--quiet")
    goby = SAMPLES / "goby.toml"
    found = []
    for more in (("--cluster", cluster.scheduler_address), ("--workers", "2")):
        ran = packer_cli("pack", goby, "--out", tmp_path / more[0], *words, *more)
        assert ran.code == 0, ran.err
        found.append(json.loads(ran.out))
        found[-1]["search"]["seconds"] = 0
    assert found[0] == found[1]


@pytest.mark.slow
def test_workers_that_start_are_told_and_take_no_searched_time(cluster, packer_cli, tmp_path):
    """With a time far below the start of a worker there is a packing all the same."""
    words = ("--time", "3", "--cluster", cluster.scheduler_address, "--out", tmp_path)
    ran = packer_cli("pack", SAMPLES / "goby.toml", *words)
    assert ran.code == 0, ran.err
    assert "waiting for 2 workers" in ran.err
    loaded = "packer.search.memetic.run"
    with distributed.Client(cluster) as client:
        assert all(client.run(_is_loaded, loaded).values())


def _is_loaded(module):
    return module in sys.modules


@pytest.mark.slow
def test_a_worker_that_dies_costs_only_its_legs(cluster):
    problem = pose(random_figure(21, 5, joints=2))
    with distributed.Client(cluster) as client:
        victims = list(client.run(os.getpid).values())

        def kill_one(_):
            if len(victims) == 2:
                os.kill(victims.pop(), signal.SIGKILL)

        far = pack(
            problem,
            options=SearchOptions(
                seed=5, stop=MaxStarts(3), executor=client.get_executor(), progress=kill_one
            ),
        )
    assert len(victims) == 1
    near = pack(problem, options=SearchOptions(seed=5, stop=MaxStarts(3), workers=2))
    assert far.tips == near.tips
    assert far.bound == near.bound


@pytest.mark.slow
def test_ctrl_c_keeps_the_best_of_a_cluster(cluster, tmp_path):
    terminal = Terminal()
    words = ("pack", STAR, "--time", 300, "--cluster", cluster.scheduler_address)
    run = start(*words, "--out", tmp_path, stderr=terminal.theirs)
    terminal.wait_for("scale 0.")
    run.send_signal(signal.SIGINT)
    run.communicate(timeout=PATIENCE)
    assert run.returncode == 0
    terminal.wait_for("interrupted: this is the best packing found until then")
    assert "Traceback" not in terminal.seen
    terminal.close()
    assert (tmp_path / "brittle_star.packing.json").exists()


@pytest.mark.parametrize("address", ["nonsense", "127.0.0.1:1"])
def test_no_cluster_is_said_in_a_sentence(address, tmp_path):
    out = tmp_path / "out"
    words = ("pack", "(a:1,b:1);", "--cluster", address, "--out", out)
    ran = subprocess.run(
        [sys.executable, "-m", "packer", *map(str, words)],
        capture_output=True, text=True, cwd=SAMPLES.parent, check=False,
    )  # fmt: skip
    assert (ran.returncode, ran.stdout) == (2, "")
    assert ran.stderr == (
        f'--cluster: no scheduler answers at "{address}"; start one or write an address such as '
        "tcp://host:8786\n"
    )
    assert not out.exists()


def test_a_leg_that_was_cancelled_is_no_error_to_tell():
    """With the exception that dask raises for one (`distributed.client`)."""
    client = pytest.importorskip("distributed.client")
    cancelled = client.FutureCancelledError("leg", "interrupted")
    for error, told in ((cancelled, False), (ValueError("wrong"), True)):
        about = (type(error), error, None)
        record = logging.LogRecord("tornado.application", 40, "loop", 1, "failed", (), about)
        assert unforeseen(record) == told
