"""A running search: walks handed to workers leg by leg, counted in their order, and judged."""

from __future__ import annotations

import math
import time
from concurrent.futures import FIRST_COMPLETED, Future, wait
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

from packer.errors import SearchError
from packer.local_solver.flexible_lengths import flexible
from packer.local_solver.nonlinear_program import compile_program
from packer.local_solver.solver import better
from packer.model.packing import Packing
from packer.search.memetic.run import Run, SearchGoal, advance, begin
from packer.search.parallel.background_bound import counted_work
from packer.search.parallel.stopping import StoppingRule, first_reason, hits_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from packer.local_solver.solver import LocalOptimum
    from packer.model.problem import Problem
    from packer.search.parallel.background_bound import BackgroundBound
    from packer.search.parallel.executors import WorkerPool

MOMENT: Final = 0.2
"""Seconds for which a proof that should be done by now is still waited for."""
LEG_SECONDS: Final = 0.5
"""Between two reports of one start."""


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
    """

    seconds: float
    starts: int
    scale: float
    hits: int
    bound: float | None = None

    @property
    def headroom(self) -> float | None:
        """How much larger, as a fraction, the best packing could at most be; None if unknown."""
        if self.bound is None or not self.scale > 0:
            return None
        return max(0.0, self.bound / self.scale - 1)


@dataclass
class Hunt:
    """Which walks are under way, which are done, and why the search stopped."""

    quest: SearchGoal
    proof: BackgroundBound
    seed: int
    seconds: float
    rules: tuple[StoppingRule, ...]
    progress: Callable[[Progress], None] | None = None
    first: LocalOptimum | None = None
    walks: dict[int, Run] = field(default_factory=dict)
    running: dict[Future[Run], int] = field(default_factory=dict)
    began: float = field(default_factory=time.monotonic)
    stopped: str = ""
    counted: int = 0

    def run(self, crew: WorkerPool) -> None:
        """Keep every worker busy until a rule, the time or the keyboard says stop."""
        following = 0
        if crew.alone:  # the proof comes after the search then, and needs its time
            self.seconds -= self.proof.budget
        try:
            while not self.stopped:
                while len(self.running) < crew.count:
                    self.send(crew, self.start(following), following)
                    following += 1
                wait(self.running, timeout=1.0, return_when=FIRST_COMPLETED)
                self.collect(crew)
                self.prove(crew)
                self.report()
            self.ask(crew, late=self.stopped == "time")
            self.proof.finish(crew, max(MOMENT, self.seconds - self.elapsed))
        except KeyboardInterrupt:
            self.stopped = self.stopped or "interrupted"
        except SearchError:
            if self.best() is None:
                raise
            self.stopped = "workers lost"
        self.proof.leave()
        for future in self.running:
            future.cancel()

    def start(self, index: int) -> Run:
        """Return a walk before its first leg; the first one begins near a given packing."""
        return begin(self.seed, index, None if index else self.first)

    def send(self, crew: WorkerPool, walk: Run, index: int) -> None:
        """Send one leg of a walk."""
        left = max(0.0, self.seconds - self.elapsed)
        leg = crew.submit(advance, self.quest, walk, min(left, LEG_SECONDS))
        self.running[leg] = index

    def collect(self, crew: WorkerPool) -> None:
        """Take in the legs that are done, and send the walks on; a lost leg is walked again."""
        done = [future for future in self.running if future.done()]
        for future in sorted(done, key=self.running.__getitem__):
            index = self.running.pop(future)
            found: Run | None = crew.result(future)
            walk = found or self.walks.get(index) or self.start(index)
            self.walks[index] = walk
            self.judge()
            if not walk.done and not self.stopped:
                self.send(crew, walk, index)
        if not self.stopped and self.elapsed > self.seconds:
            self.stopped = "time"

    def prove(self, crew: WorkerPool) -> None:
        """Have the bound proven by another worker, and stop where it meets the best.

        When a proof comes depends on the clock, so it ends only a search that the clock limits:
        one that ends by its starts gives the same packing on any machine.
        """
        best = self.best()
        if best is None or self.stopped:
            return
        if crew.elsewhere:
            self.ask(crew, late=self.elapsed > self.seconds - self.proof.budget)
            self.proof.hear(crew)
        late = self.proof.bound.scale < self.quest.enough
        if late and not self.rules and best.splits == 0 and self.proof.closed_by(best.scale):
            self.stopped = "proven"

    def ask(self, crew: WorkerPool, *, late: bool) -> None:
        """Have the bound proven, once, guided by a packing that is known by now.

        Where starts end the search that is the best of the first start, and the work is counted,
        so that the bound repeats; where the clock does, or is about to, it is the best so far.
        """
        problem, first = self.quest.problem, self.walks.get(0)
        left = self.proof.seconds - self.elapsed
        if late or not self.rules:
            guide, boxes, seconds = self.best(), math.inf, min(self.proof.budget, left)
        elif first is not None and first.done:
            boxes = self.proof.share * counted_work(problem.tree.n_tips, first.solves)
            guide, seconds = first.best, left
        else:
            return
        if guide is not None:
            self.proof.ask(crew, plain_packing(problem, guide), boxes, seconds)

    @property
    def elapsed(self) -> float:
        """Seconds since the search began."""
        return time.monotonic() - self.began

    def judge(self) -> None:
        """Count the starts completed in their order, and ask the rules after each."""
        while not self.stopped:
            walk = self.walks.get(self.counted)
            if walk is None or not walk.done:
                break
            self.counted += 1
            if walk.best and self.quest.meets(walk.best):
                self.stopped = "proven"
            else:
                self.stopped = first_reason(self.rules, self.scales(self.counted))

    def scales(self, count: int) -> list[float]:
        """Return the scales of the first so many starts."""
        return [walk.best.scale for k in range(count) if (walk := self.walks[k]).best]

    def best(self) -> LocalOptimum | None:
        """Return the best spot of the walks that count."""
        best: LocalOptimum | None = None
        for walk in self.fair():
            if walk.best is not None and (best is None or better(walk.best, best)):
                best = walk.best
        return best

    def fair(self) -> list[Run]:
        """Return the walks that count: where a rule ended the search, those of counted starts."""
        ended = {"", "time", "interrupted", "workers lost"}
        fair = self.counted > 0 and self.stopped not in ended
        return [walk for k, walk in sorted(self.walks.items()) if not fair or k < self.counted]

    def report(self) -> None:
        """Tell the listener, if any."""
        if self.progress is None:
            return
        best = self.best()
        scale = best.scale if best else 0.0
        hits = hits_of(self.scales(self.counted))
        self.progress(Progress(self.elapsed, self.counted, scale, hits, self.proof.bound.scale))


def plain_packing(problem: Problem, spot: LocalOptimum) -> Packing:
    """Return the packing of a spot, with nothing but its tips and lengths."""
    points = compile_program(problem, spot.choice).tips(spot.z)
    lengths = flexible(problem.tree).lengths(problem.tree.lengths, spot.change)
    return Packing(problem, tuple((x, y) for x, y in points.tolist()), tuple(lengths.tolist()))
