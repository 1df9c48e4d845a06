"""The upper bound beside the search: quick rules at once, the long proof by another worker."""

from __future__ import annotations

from concurrent.futures import wait
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from packer.bounds.bound_params import BOXES_PER_SECOND
from packer.bounds.upper_bound import quick_bound, upper_bound

if TYPE_CHECKING:
    from concurrent.futures import Future

    from packer.deadline import Deadline
    from packer.model.packing import Bound, Packing
    from packer.model.problem import Problem
    from packer.search.parallel.executors import WorkerPool


@dataclass(frozen=True)
class ProofParams:
    """Parameters of the proof beside a search; none of them was varied.

    Attributes
    ----------
    seconds
        Seconds for a proof at most.
    share
        Share of a given time that goes into the proof.
    share_of_start
        Work of the proof against that of the first start, where starts end the search.
    solve_boxes
        Boxes that a local solve counts as, for each tip: about as long.
    moment
        Seconds for which a proof that should be done by now is still waited for.
    closed
        Relative gap at which a search has nothing left to find that a designer could see.
    """

    seconds: float = 5.0
    share: float = 0.25
    share_of_start: float = 1.0
    solve_boxes: int = 25
    moment: float = 0.2
    closed: float = 1e-6

    def boxes_for(self, tips: int, solves: int) -> float:
        """Return the boxes of a proof beside a search whose first start made so many solves."""
        boxes = self.share_of_start * self.solve_boxes * tips * solves
        return min(self.seconds * BOXES_PER_SECOND, boxes)


@dataclass
class BackgroundBound:
    """What is proven so far about the largest scale, and the work on it.

    A search that ends after a number of starts repeats exactly, and so must its proof: it is
    guided by the best of the first start, and its work is counted in boxes, in proportion to the
    work of that start. Where the clock ends the search, the proof is guided by the first packing
    known and ended by the clock too.

    Parameters
    ----------
    problem
        What is packed.
    deadline
        Of the whole search.
    share
        Work as a multiple of the usual; 0 leaves the quick rules alone.
    params
        How much work is usual.
    known
        A bound proven already; that of the quick rules by default.
    """

    problem: Problem
    deadline: Deadline
    share: float = 1.0
    params: ProofParams = field(default_factory=ProofParams)
    known: Bound | None = None
    bound: Bound = field(init=False)
    work: Future[Bound] | None = None
    asked: bool = False

    def __post_init__(self) -> None:
        self.bound = self.known or quick_bound(self.problem)

    @property
    def seconds(self) -> float:
        """Seconds for the long proof in a search that the clock ends."""
        return self.share * min(self.params.seconds, self.params.share * self.deadline.total)

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
            left = max(self.params.moment, self.deadline.left)
            wait([self.work], timeout=left if self.deadline.limited else None)
            self.hear(workers)

    def closed_by(self, scale: float) -> bool:
        """Whether a scale is as good as the bound."""
        return self.bound.scale <= scale * (1 + self.params.closed)

    def leave(self) -> None:
        """Stop waiting."""
        if self.work is not None:
            self.work.cancel()


def further_bound(
    problem: Problem, known: Bound, deadline: Deadline, boxes: float, guide: Packing
) -> Bound:
    """Return the bound proven with so much work: what another worker is asked for."""
    return upper_bound(problem, deadline, guide, known=known, boxes=boxes)
