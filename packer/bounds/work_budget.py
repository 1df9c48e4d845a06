"""How much a proof may still cost: counted in boxes, so that it repeats, or by the clock."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from packer.deadline import NEVER, Deadline

if TYPE_CHECKING:
    from collections.abc import Callable


@dataclass
class WorkBudget:
    """What is left of the work granted to a proof.

    Parameters
    ----------
    boxes
        Boxes to narrow; other work counts as the boxes narrowed in its time. Work counted so is
        the same in every run, whatever else the machine does.
    deadline
        Until when; what is proven by then depends on the machine.
    stop
        Asked now and then; true ends the work.
    """

    boxes: float = math.inf
    deadline: Deadline = NEVER
    stop: Callable[[], bool] | None = None

    def spend(self, boxes: float) -> None:
        """Count some work."""
        self.boxes -= boxes

    @property
    def over(self) -> bool:
        """Whether nothing is left."""
        if self.boxes <= 0 or self.deadline.over:
            return True
        return self.stop is not None and self.stop()
