"""The upper bound beside the search: quick rules at once, the long proof by another worker."""

from __future__ import annotations

import math
from concurrent.futures import wait
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

from packer.bounds.upper_bound import quick_bound, upper_bound
from packer.bounds.work_budget import BOXES_PER_SECOND

if TYPE_CHECKING:
    from concurrent.futures import Future

    from packer.model.packing import Bound, Packing
    from packer.model.problem import Problem
    from packer.search.parallel.executors import WorkerPool

PROOF_SECONDS: Final = 5.0
"""Seconds for a proof at most."""
CLOSED: Final = 1e-6
"""Relative gap at which a search has nothing left to find that a designer could see."""
SHARE: Final = 0.25
"""Share of a given time that goes into the proof."""
SHARE_OF_START: Final = 1.0
"""Work of the proof against that of the first start, where starts end the search.

Headroom of two figures of 8 flaps at 0, 0.5, 1 and 2: 0.18, 0.11, 0.026, 0.017 and 0.30, 0.018,
0.003, 0.001.
"""
ASCENT_BOXES: Final = 25
"""What an ascent counts as, for each tip: 0.84 to 1.5 ms were measured on 8 to 15 tips."""


@dataclass
class BackgroundBound:
    """What is proven so far about the largest scale, and the work on it.

    A search that starts end repeats, and so must its proof: it is then guided by the best of the
    first start, and its work is counted in boxes, by the work of that start. A search that the
    clock ends has its proof guided by the first packing found and ended by the clock too.

    Parameters
    ----------
    problem
        What is packed.
    seconds
        Time of the whole search; infinite where nobody said.
    share
        Work against what is usual; 0 leaves the quick rules alone.
    """

    problem: Problem
    seconds: float
    share: float = 1.0
    bound: Bound = field(init=False)
    work: Future[Bound] | None = None
    asked: bool = False

    def __post_init__(self) -> None:
        self.bound = quick_bound(self.problem)

    @property
    def budget(self) -> float:
        """Seconds for the long proof in a search that the clock ends."""
        return self.share * min(PROOF_SECONDS, SHARE * self.seconds)

    def ask(self, crew: WorkerPool, guide: Packing, boxes: float, seconds: float) -> None:
        """Give the long proof to another worker, once; alone, do it here.

        Parameters
        ----------
        crew
            Who works.
        guide
            A good packing.
        boxes
            Work at most.
        seconds
            Elapsed time at most.
        """
        if self.asked or not self.share > 0 or self.closed_by(guide.scale):
            return
        self.asked = True
        self.work = crew.submit(further_bound, self.problem, self.bound, seconds, boxes, guide)

    def hear(self, crew: WorkerPool) -> None:
        """Take over what the other worker has proven, if it is done; ask again if it was lost."""
        if self.work is not None and self.work.done():
            found: Bound | None = crew.result(self.work)
            self.work = None
            if found is None:
                self.asked = False
            elif found.scale < self.bound.scale:
                self.bound = found

    def finish(self, crew: WorkerPool, seconds: float) -> None:
        """Wait for the other worker, at most so many seconds."""
        if self.work is not None:
            wait([self.work], timeout=None if seconds == math.inf else seconds)
            self.hear(crew)

    def closed_by(self, scale: float) -> bool:
        """Whether a scale is as good as the bound."""
        return self.bound.scale <= scale * (1 + CLOSED)

    def leave(self) -> None:
        """Stop waiting."""
        if self.work is not None:
            self.work.cancel()


def counted_work(tips: int, solves: int) -> float:
    """Return the boxes of a proof beside a search whose first start made so many ascents."""
    share = SHARE_OF_START * ASCENT_BOXES * tips * solves
    return min(PROOF_SECONDS * BOXES_PER_SECOND, share)


def further_bound(
    problem: Problem, known: Bound, seconds: float, boxes: float, guide: Packing
) -> Bound:
    """Return the bound proven with so much work: what another worker is asked for."""
    return upper_bound(problem, seconds, guide, known=known, boxes=boxes)
