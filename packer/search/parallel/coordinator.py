"""A running search: starts handed to workers leg by leg, counted in their order, and judged.

Every start is a run of the memetic algorithm with a stream of random numbers of its own, so that it
goes the same way in whichever process it is advanced. Starts are numbered, and the stopping rules
see the completed ones in the order of their numbers: an idle worker may be some starts ahead, but
what it found does not count when a rule ends the search before them.
"""

from __future__ import annotations

import math
from concurrent.futures import FIRST_COMPLETED, Future, wait
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

from packer.deadline import Deadline
from packer.errors import SearchError
from packer.local_solver.flexible_lengths import flexible
from packer.local_solver.nonlinear_program import compile_program
from packer.local_solver.solver import better
from packer.model.packing import Packing
from packer.search.memetic.run import Run, SearchGoal, advance, begin
from packer.search.stopping import ProvenOptimal, SearchState, first_reason, hits_of

if TYPE_CHECKING:
    from packer.local_solver.solver import LocalOptimum
    from packer.model.problem import Problem
    from packer.search.options import SearchOptions
    from packer.search.parallel.background_bound import BackgroundBound
    from packer.search.parallel.executors import WorkerPool

LEG_SECONDS: Final = 0.5
"""Between two reports of one start."""

LONGEST_WAIT: Final = 1.0
"""Seconds between two looks at a search of which no leg comes back."""

SHORTEST_WAIT: Final = 0.05
"""Seconds for which legs are waited for when the time is all but over."""


@dataclass(frozen=True)
class Progress:
    """What a search has reached so far.

    Attributes
    ----------
    seconds
        Elapsed.
    starts
        Completed starts.
    scale
        The best so far; zero before the first.
    hits
        Completed starts that reached it.
    bound
        A proven upper bound on the scale, if one is known by now.
    tried
        Packings tried: local solves of all starts, also of those under way.
    """

    seconds: float
    starts: int
    scale: float
    hits: int
    bound: float | None = None
    tried: int = 0

    @property
    def headroom(self) -> float | None:
        """How much larger, as a fraction, the best packing could at most be; None if unknown."""
        if self.bound is None or not self.scale > 0:
            return None
        return max(0.0, self.bound / self.scale - 1)


@dataclass
class Coordinator:
    """Which starts are under way, which are done, and why the search stopped.

    Attributes
    ----------
    goal, options, deadline
        What is looked for, by which rules, and until when.
    proof
        The upper bound, proven beside the search.
    first
        A local optimum near which the first start begins, if one is given.
    runs
        The state of each start by its number.
    counted
        How many starts are completed without a gap in their numbers.
    stopped
        Why the search ended; empty while it goes on.
    """

    goal: SearchGoal
    options: SearchOptions
    deadline: Deadline
    proof: BackgroundBound
    first: LocalOptimum | None = None
    runs: dict[int, Run] = field(default_factory=dict)
    running: dict[Future[Run], int] = field(default_factory=dict)
    counted: int = 0
    stopped: str = ""

    def __post_init__(self) -> None:
        self.rules = self.options.rules
        if not self.options.repeats:  # the clock ends it, so a proof may as well
            self.rules += (ProvenOptimal(),)

    def run(self, workers: WorkerPool) -> None:
        """Keep every worker busy until a rule, the deadline or the keyboard says stop."""
        following = 0
        # Alone, the proof comes after the starts, and needs its time.
        starts_end = (
            self.deadline.leaving(self.proof.seconds) if workers.alone else self.deadline
        )
        try:
            while not self.stopped:
                while len(self.running) < workers.count:
                    self.send(workers, self.start(following), following, starts_end)
                    following += 1
                patience = min(LONGEST_WAIT, max(SHORTEST_WAIT, starts_end.left))
                wait(self.running, timeout=patience, return_when=FIRST_COMPLETED)
                self.collect(workers, starts_end)
                self.prove(workers)
                self.report()
            self.ask(workers, late=self.stopped == "time")
            self.proof.finish(workers)
            self.end_proven()
        except KeyboardInterrupt:
            self.stopped = self.stopped or "interrupted"
            self.begin_here(Deadline.after(0.0))
        except SearchError:
            if self.best() is None:
                raise
            self.stopped = "workers lost"
        self.proof.leave()
        for future in self.running:
            future.cancel()

    def start(self, index: int) -> Run:
        """Return a start before its first leg; the first one begins near a given packing."""
        return begin(self.options.seed, index, None if index else self.first)

    def send(self, workers: WorkerPool, run: Run, index: int, deadline: Deadline) -> None:
        """Send one leg of a start."""
        last = deadline if deadline.left > LEG_SECONDS else Deadline.after(LEG_SECONDS)
        leg = workers.submit(advance, self.goal, run, deadline.within(LEG_SECONDS), last)
        self.running[leg] = index

    def collect(self, workers: WorkerPool, deadline: Deadline) -> None:
        """Take in the legs that are done, and send their starts on; a lost leg is made again.

        Where the time is over before any leg came back, the first one is made here: there is always a
        packing, and the limit holds to within that leg.
        """
        done = [future for future in self.running if future.done()]
        for future in sorted(done, key=self.running.__getitem__):
            index = self.running.pop(future)
            advanced: Run | None = workers.result(future)
            run = advanced or self.runs.get(index) or self.start(index)
            self.runs[index] = run
            self.judge()
            if not run.done and not self.stopped and not deadline.over:
                self.send(workers, run, index, deadline)
        if not self.stopped and deadline.over:
            self.begin_here(deadline)  # workers that are busy elsewhere may not answer for long
            self.stopped = "time"

    def begin_here(self, deadline: Deadline) -> None:
        """Make the first leg in this process, where none came back: there is always a packing."""
        if not self.begun:
            first = self.runs.get(0) or self.start(0)
            self.runs[0] = advance(self.goal, first, deadline, Deadline.after(LEG_SECONDS))

    def prove(self, workers: WorkerPool) -> None:
        """Have the bound proven by another worker, and stop where it meets the best.

        When a proof comes depends on the clock. Where the clock ends the search it may as well be
        ended by a proof; one that repeats is ended by a proof of its first start (`end_proven`).
        """
        best = self.best()
        if best is None or self.stopped:
            return
        if workers.elsewhere or self.options.repeats:
            self.ask(workers, late=self.deadline.left < self.proof.seconds)
            self.proof.hear(workers)
        if self.options.repeats:
            self.end_proven()
            return
        late = self.proof.bound.scale < self.goal.enough
        if late and best.splits == 0 and self.proof.closed_by(best.scale):
            self.stopped = first_reason(self.rules, self.state(proven=True))

    def end_proven(self) -> None:
        """End a search that repeats where the proof meets its first start, which alone counts then.

        When the proof comes depends on the clock. The first start and the proof guided by it do
        not, and what other starts could find is larger by less than `CLOSED`.
        """
        first = self.runs.get(0)
        if not self.options.repeats or first is None or not first.done or first.best is None:
            return
        late = self.proof.bound.scale < self.goal.enough
        if late and first.best.splits == 0 and self.proof.closed_by(first.best.scale):
            self.stopped, self.counted = "proven", 1

    def ask(self, workers: WorkerPool, *, late: bool) -> None:
        """Have the bound proven, once, guided by a packing that is known by now.

        Where starts end the search that is the best of the first start, and the work is counted,
        so that the bound repeats; where the clock does, or is about to, it is the best so far.
        """
        problem, first = self.goal.problem, self.runs.get(0)
        if late or not self.options.repeats:
            guide, boxes = self.best(), math.inf
            deadline = self.deadline.within(self.proof.seconds)
        elif first is not None and first.done:
            boxes = self.proof.share * self.proof.params.boxes_for(
                problem.tree.n_tips, first.solves
            )
            guide, deadline = first.best, self.deadline
        else:
            return
        if guide is not None:
            self.proof.ask(workers, plain_packing(problem, guide), boxes, deadline)

    def judge(self) -> None:
        """Count the starts completed in their order, and ask the rules after each."""
        while not self.stopped:
            run = self.runs.get(self.counted)
            if run is None or not run.done:
                break
            self.counted += 1
            if run.best and self.goal.meets(run.best):
                self.stopped = "proven"
            else:
                self.stopped = first_reason(self.rules, self.state())

    def state(self, *, proven: bool = False) -> SearchState:
        """Return what the stopping rules may look at."""
        return SearchState(self.scales(self.counted), self.deadline.elapsed, proven=proven)

    def scales(self, count: int) -> list[float]:
        """Return the scales of the first so many starts."""
        return [run.best.scale for k in range(count) if (run := self.runs[k]).best]

    @property
    def begun(self) -> bool:
        """Whether there is a packing, or a leg that came back without one."""
        return self.best() is not None or any(run.solves for run in self.runs.values())

    def best(self) -> LocalOptimum | None:
        """Return the best local optimum of the starts that count."""
        best: LocalOptimum | None = None
        for run in self.counting_runs():
            if run.best is not None and (best is None or better(run.best, best)):
                best = run.best
        return best

    def counting_runs(self) -> list[Run]:
        """Return the starts that count: where a rule ended the search, the completed ones."""
        unforeseen = {"", "time", "interrupted", "workers lost"}
        ruled = self.counted > 0 and self.stopped not in unforeseen
        return [run for k, run in sorted(self.runs.items()) if not ruled or k < self.counted]

    def report(self) -> None:
        """Tell the listener, if any."""
        if self.options.progress is None:
            return
        best = self.best()
        scale = best.scale if best else 0.0
        hits = hits_of(self.scales(self.counted))
        bound = self.proof.bound.scale
        tried = sum(run.solves for run in self.runs.values())
        now = Progress(self.deadline.elapsed, self.counted, scale, hits, bound, tried)
        self.options.progress(now)


def plain_packing(problem: Problem, optimum: LocalOptimum) -> Packing:
    """Return the packing of a local optimum, with nothing but its tips and lengths."""
    points = compile_program(problem, optimum.choice).tips(optimum.z)
    lengths = flexible(problem.tree).lengths(problem.tree.lengths, optimum.change)
    return Packing(problem, tuple((x, y) for x, y in points.tolist()), tuple(lengths.tolist()))
