"""The table: what a frame costs, and how long a pull takes from the pointer to the picture.

Run ``python -m tests.benchmarks.table frames|pointer [--frames 60] [--only PART]``. `frames` measures
processor time of one frame after a length slid by 1 % and with a tip held, against a warm start in
the same run (`packer.search.carry.carried`: one climb, certificate, quick bound). `pointer` opens the
page in a real browser and pulls a tip, with no search beside it; load is that of the machine over the last minute.
"""

from __future__ import annotations

import argparse
import os
import tempfile
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

from packer import read_figure
from packer.model.problem import pose
from packer.search.carry import carried
from packer.search.frame import first_frame, next_frame
from packer.search.from_here import at_rest
from packer.search.parallel.threads import one_thread
from tests.table.chromium import Hand, chromium
from tests.table.serving import table

SAMPLES = Path(__file__).parents[2] / "samples"
FIGURES = ("sea_star", "shore_crab", "lizardfish", "brittle_star", "spiny_lobster")
"""Of 5, 15, 21, 36 and 80 flaps."""
MOST_SHARE = 0.15
"""Of a warm start, that a frame may take."""


def spread(values):
    return f"{1e3 * np.median(values):7.1f} {1e3 * np.percentile(values, 95):7.1f}"


def slid(problem, k):
    """The problem with one flap, another each time, 1 % longer or shorter in turn."""
    flaps = list(problem.figure.flaps)
    at = k // 2 % len(flaps)
    flaps[at] = replace(flaps[at], length=flaps[at].length * (1.01 if k % 2 == 0 else 1 / 1.01))
    return pose(replace(problem.figure, flaps=tuple(flaps)), problem.sheet, problem.symmetry)


def slides(frame, count):
    """Seconds of each frame while one length after the other slides."""
    seconds = []
    for k in range(count):
        problem = slid(frame.problem, k)
        began = time.process_time()
        frame = next_frame(problem, frame)
        seconds.append(time.process_time() - began)
    return seconds


def holds(frame, count):
    """Seconds of each frame while the first tip is led along a figure of eight."""
    seconds, problem, least, at = [], frame.problem, 0.7 * frame.scale, frame.points[0].copy()
    for k in range(count):
        turn = 2 * np.pi * k / count
        point = tuple(np.clip(at + 0.1 * np.array([np.sin(turn), np.sin(2 * turn)]), 0, 1))
        began = time.process_time()
        frame = next_frame(problem, frame, {0: point}, least=least)
        seconds.append(time.process_time() - began)
    return seconds


def warm_starts(packing, count):
    """Seconds of each warm start after the same changes of length."""
    seconds = []
    for k in range(count):
        problem = slid(packing.problem, k)
        began = time.process_time()
        carried(problem, packing)
        seconds.append(time.process_time() - began)
    return seconds


def frames(names, count):
    print("figure           flaps  slid: median p95   held: median p95   warm start   share")
    for name in names:
        frame = first_frame(pose(read_figure(SAMPLES / f"{name}.toml")))
        lengths, held = slides(frame, count), holds(frame, count)
        warm = warm_starts(at_rest(frame), max(4, count // 10))
        share = np.median(lengths + held) / np.median(warm)
        print(
            f"{name:16} {len(frame.points):5}  {spread(lengths)}    {spread(held)}    "
            f"{1e3 * np.median(warm):8.1f}    {share:.3f}{'' if share <= MOST_SHARE else ' TOO SLOW'}",
            flush=True,
        )


def pointer(names, count):
    print("figure           flaps  pointer to picture: median p95   load")
    with chromium() as browser, tempfile.TemporaryDirectory() as work:
        for name in names:
            with table(SAMPLES / f"{name}.toml", Path(work) / name) as (server, session):
                hand = Hand(browser, server.access.address)
                session.search.look(
                    None
                )  # the search beside the table would share the processor
                session.search.end()
                start = hand.middle("[data-tip] .spot")
                hand.page.mouse.move(*start)
                hand.page.mouse.down()
                for k in range(count):
                    turn = 2 * np.pi * k / count
                    hand.page.mouse.move(
                        start[0] + 60 * np.sin(turn), start[1] + 60 * (1 - np.cos(turn))
                    )
                    hand.page.wait_for_timeout(60)
                pulls = hand.page.evaluate(
                    "performance.getEntriesByName('pull').map(pull => pull.duration)"
                )
                hand.page.mouse.up()
                tips = len(session.state.frame.points)
                hand.page.close()
            print(
                f"{name:16} {tips:5}  {spread(np.array(pulls) / 1e3)} ms of {len(pulls)}   "
                f"{os.getloadavg()[0]:.1f}",
                flush=True,
            )


def main():
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("part", choices=("frames", "pointer"))
    options.add_argument("--frames", type=int, default=60, help="frames for each figure")
    options.add_argument("--only", default="", help="part of a figure's name")
    chosen = options.parse_args()
    names = [name for name in FIGURES if chosen.only in name]
    if chosen.part == "pointer":
        pointer(names, chosen.frames)
    else:
        with one_thread():
            frames(names, chosen.frames)


if __name__ == "__main__":
    main()
