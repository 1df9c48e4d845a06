"""The upper bound beside the search: quick rules at once, the long proof by another worker."""

from __future__ import annotations

from concurrent.futures import wait
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

from packer.bounds.bound_params import BOXES_PER_SECOND
from packer.bounds.upper_bound import quick_bound, upper_bound

if TYPE_CHECKING:
    from concurrent.futures import Future

    from packer.deadline import Deadline
    from packer.model.packing import Bound, Packing
    from packer.model.problem import Problem
    from packer.search.parallel.executors import WorkerPool

PROOF_SECONDS: Final = 5.0
"""Seconds for a proof at most."""
MOMENT: Final = 0.2
"""Seconds for which a proof that should be done by now is still waited for."""
CLOSED: Final = 1e-6
"""Relative gap at which a search has nothing left to find that a designer could see."""
SHARE: Final = 0.25
"""Share of a given time that goes into the proof."""
SHARE_OF_START: Final = 1.0
"""Work of the proof against that of the first start, where starts end the search."""
SOLVE_BOXES: Final = 25
"""Boxes that a local solve counts as, for each tip: about as long."""


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
    deadline
        Of the whole search.
    share
        Work against what is usual; 0 leaves the quick rules alone.
    """

    problem: Problem
    deadline: Deadline
    share: float = 1.0
    bound: Bound = field(init=False)
    work: Future[Bound] | None = None
    asked: bool = False

    def __post_init__(self) -> None:
        self.bound = quick_bound(self.problem)

    @property
    def seconds(self) -> float:
        """Seconds for the long proof in a search that the clock ends."""
        return self.share * min(PROOF_SECONDS, SHARE * self.deadline.total)

    def ask(
        self, workers: WorkerPool, guide: Packing, boxes: float, deadline: Deadline
    ) -> None:
        """Give the long proof to another worker, once; alone, do it here.

        Parameters
        ----------
        workers
            Who works.
        guide
            A good packing.
        boxes
            Work at most.
        deadline
            Until when.
        """
        if self.asked or not self.share > 0 or self.closed_by(guide.scale):
            return
        self.asked = True
        self.work = workers.submit(
            further_bound, self.problem, self.bound, deadline, boxes, guide
        )

    def hear(self, workers: WorkerPool) -> None:
        """Take over what the other worker has proven, if it is done; ask again if it was lost."""
        if self.work is not None and self.work.done():
            proven: Bound | None = workers.result(self.work)
            self.work = None
            if proven is None:
                self.asked = False
            elif proven.scale < self.bound.scale:
                self.bound = proven

    def finish(self, workers: WorkerPool) -> None:
        """Wait for the other worker until the deadline, and a moment at least."""
        if self.work is not None:
            left = max(MOMENT, self.deadline.left)
            wait([self.work], timeout=left if self.deadline.limited else None)
            self.hear(workers)

    def closed_by(self, scale: float) -> bool:
        """Whether a scale is as good as the bound."""
        return self.bound.scale <= scale * (1 + CLOSED)

    def leave(self) -> None:
        """Stop waiting."""
        if self.work is not None:
            self.work.cancel()


def counted_work(tips: int, solves: int) -> float:
    """Return the boxes of a proof beside a search whose first start made so many local solves."""
    share = SHARE_OF_START * SOLVE_BOXES * tips * solves
    return min(PROOF_SECONDS * BOXES_PER_SECOND, share)


def further_bound(
    problem: Problem, known: Bound, deadline: Deadline, boxes: float, guide: Packing
) -> Bound:
    """Return the bound proven with so much work: what another worker is asked for."""
    return upper_bound(problem, deadline, guide, known=known, boxes=boxes)
