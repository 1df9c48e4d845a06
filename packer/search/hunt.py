"""A running search: walks handed to workers leg by leg, counted in their order, and judged."""

from __future__ import annotations

import time
from concurrent.futures import FIRST_COMPLETED, Future, wait
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

from packer.search.climbing import better
from packer.search.hopping import Quest, Walk, advance, begin
from packer.search.stopping import Rule, first_reason, hits_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from packer.packing import Bound
    from packer.search.climbing import Spot
    from packer.search.workers import Workers

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

    quest: Quest
    seed: int
    seconds: float
    rules: tuple[Rule, ...]
    progress: Callable[[Progress], None] | None = None
    first: Spot | None = None
    walks: dict[int, Walk] = field(default_factory=dict)
    bound: Bound | None = None
    began: float = field(default_factory=time.monotonic)
    stopped: str = ""
    counted: int = 0

    def run(self, crew: Workers) -> None:
        """Keep every worker busy until a rule, the time or the keyboard says stop."""
        running: dict[Future[Walk], int] = {}
        following = 0
        try:
            while not self.stopped:
                while len(running) < crew.count:
                    walk = begin(self.seed, following, None if following else self.first)
                    running[self.submit(crew, walk)] = following
                    following += 1
                done, _ = wait(running, timeout=1.0, return_when=FIRST_COMPLETED)
                for future in sorted(done, key=running.__getitem__):
                    index = running.pop(future)
                    walk = (
                        crew.result(future) or self.walks.get(index) or begin(self.seed, index)
                    )
                    self.walks[index] = walk
                    self.judge()
                    if not walk.done and not self.stopped:
                        running[self.submit(crew, walk)] = index
                self.report()
        except KeyboardInterrupt:
            self.stopped = "interrupted"
        for future in running:
            future.cancel()

    def submit(self, crew: Workers, walk: Walk) -> Future[Walk]:
        """Send one leg of a walk."""
        left = max(0.0, self.seconds - self.elapsed)
        return crew.submit(advance, self.quest, walk, min(left, LEG_SECONDS))

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
            self.stopped = first_reason(self.rules, self.scales(self.counted))
        if not self.stopped and self.elapsed > self.seconds:
            self.stopped = "time"

    def scales(self, count: int) -> list[float]:
        """Return the scales of the first so many starts."""
        return [walk.best.scale for k in range(count) if (walk := self.walks[k]).best]

    def best(self) -> Spot | None:
        """Return the best spot: of the counted starts where a rule ended the search."""
        fair = self.stopped in {"starts", "no improvement"}
        best: Spot | None = None
        for index in sorted(self.walks):
            spot = self.walks[index].best
            if spot is None or (fair and index >= self.counted):
                continue
            if best is None or better(spot, best):
                best = spot
        return best

    def report(self) -> None:
        """Tell the listener, if any."""
        if self.progress is None:
            return
        best = self.best()
        scale = best.scale if best else 0.0
        bound = self.bound.scale if self.bound else None
        hits = hits_of(self.scales(self.counted))
        self.progress(Progress(self.elapsed, self.counted, scale, hits, bound))
