"""Work in place of seconds: what a search has done, counted and weighed alike on any machine.

CPU seconds of one search differ by a third and more from run to run where other programs share the
caches. Here the three things that take a search's time are counted instead: steps of the
interior-point method with their slacks and factorisations, steps of the penalty relaxation, and
points that are proposed. ``python -m tests.benchmarks.work`` fits their weights to the CPU time of
single calls on figures of 22 to 61 flaps, so that one unit is about one second of the processor on
which they were fitted; a deadline of so many units ends a search at the same step on every machine.
"""

from __future__ import annotations

from contextlib import contextmanager
from time import process_time
from unittest.mock import patch

import numpy as np
from scipy.optimize import nnls

from packer import deadline
from packer.local_solver.newton_steps import NewtonSteps
from packer.local_solver.solver import LocalSolver
from packer.search.memetic.penalty_relaxation import PenaltyRelaxation
from packer.search.memetic.run import SearchGoal, begin, stepped
from packer.search.parallel.threads import one_thread
from tests.benchmarks.figures import samples, star, unsymmetric

WEIGHTS = {
    "solve": 3.5e-4, "step": 2.7e-4, "slack": 1.9e-7, "cube": 8.5e-11,
    "relaxation": 3.9e-4, "path": 5.0e-9,
    "start point": 6.0e-5,
}  # fmt: skip
"""Seconds for a batch of solves, a step of it, each of its slacks, each cube of a matrix's size; for a
relaxation and each of its paths in each step; and for a point proposed, with all that is not counted."""


class Work:
    """What has been counted so far, and the calls it was counted in."""

    def __init__(self):
        self.counts = dict.fromkeys(WEIGHTS, 0.0)
        self.calls = []

    @property
    def units(self):
        """The weighed sum."""
        return sum(WEIGHTS[key] * count for key, count in self.counts.items())

    def add(self, seconds, counts):
        """Count one call that took so many CPU seconds."""
        for key, count in counts.items():
            self.counts[key] += count
        self.calls.append((seconds, counts))


@contextmanager
def counted():
    """Count the work of searches in this process; yields the `Work`."""
    work, tally = Work(), np.zeros(3)
    run, step, relax = NewtonSteps.run, NewtonSteps.step, PenaltyRelaxation._relax
    start_point = LocalSolver.start_point

    def counted_step(self, state):
        size = float(self.normal.size)
        tally[:] += 1.0, len(state[0].slack), len(state[0].row) * size**3
        return step(self, state)

    def counted_run(self, *args):
        tally[:] = 0.0
        began = process_time()
        ends = run(self, *args)
        counts = dict(zip(("step", "slack", "cube"), tally.tolist(), strict=True))
        work.add(process_time() - began, {"solve": 1.0} | counts)
        return ends

    def counted_relax(self, z, change, scale, steps, *args):
        began = process_time()
        ends = relax(self, z, change, scale, steps, *args)
        paths = (steps + 1.0) * len(z) * len(self.distance)
        work.add(process_time() - began, {"relaxation": 1.0, "path": paths})
        return ends

    def counted_start(self, points, rng):
        began = process_time()
        end = start_point(self, points, rng)
        work.add(process_time() - began, {"start point": 1.0})
        return end

    with (
        patch.object(NewtonSteps, "run", counted_run),
        patch.object(NewtonSteps, "step", counted_step),
        patch.object(PenaltyRelaxation, "_relax", counted_relax),
        patch.object(LocalSolver, "start_point", counted_start),
    ):
        yield work


@contextmanager
def clock_of_work():
    """Let deadlines in this process count units of work in place of seconds."""
    with counted() as work, patch.object(deadline, "monotonic", lambda: work.units):
        yield


@contextmanager
def clock_of_cpu():
    """Let deadlines in this process count its CPU seconds, which stand still while others run."""
    with patch.object(deadline, "monotonic", process_time):
        yield


CLOCKS = {"cpu": clock_of_cpu, "work": clock_of_work}
"""What ``--clock`` of the benchmarks means."""


def fitted(calls):
    """Weights by non-negative least squares on relative errors, the median call weighed right."""
    weights = {}
    for keys in (("solve", "step", "slack", "cube"), ("relaxation", "path")):
        rows = [
            (s, [counts[k] for k in keys]) for s, counts in calls if keys[0] in counts and s > 0
        ]
        seconds = np.array([s for s, _ in rows])
        counts = np.array([c for _, c in rows])
        solution, _ = nnls(counts / seconds[:, None], np.ones(len(rows)))
        solution /= np.median(counts @ solution / seconds)
        weights |= dict(zip(keys, solution.tolist(), strict=True))
    return weights


def main(seconds=4.0):
    """Fit the weights and print them; what is not counted goes to the points proposed."""
    figures = unsymmetric() | {name: samples()[name] for name in ("brittle_star", "prawn")}
    figures["star 61"] = star(61)
    calls, points, rest = [], 0.0, 0.0
    with one_thread():
        for problem in figures.values():
            with counted() as work:
                run, began = begin(0, 0), process_time()
                while process_time() - began < seconds and not run.done:
                    run = stepped(SearchGoal(problem), run)
                spent = process_time() - began
            calls += work.calls
            rest += spent - sum(s for s, counts in work.calls if "start point" not in counts)
            points += work.counts["start point"]
    weights = fitted(calls) | {"start point": rest / points}
    print({key: float(f"{weight:.2g}") for key, weight in weights.items()})


if __name__ == "__main__":
    main()
