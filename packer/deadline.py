"""One clock for all work: a deadline is made once, where the work begins, and handed down.

Whoever gets a deadline asks it whether it is over, or takes a part of it for a piece of the work.
Nobody keeps seconds of his own, and no deadline is ever changed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from time import monotonic
from typing import TYPE_CHECKING, Final, Self

if TYPE_CHECKING:
    from collections.abc import Iterator


class OutOfTime(Exception):  # noqa: N818 - it is no error
    """Raised by `Deadline.check`; whoever made the deadline returns the best until then."""


@dataclass(frozen=True)
class Deadline:
    """A span of time on this machine's monotonic clock.

    The clocks of two machines begin anywhere, so a deadline is sent to another process as the time
    that has passed and the time that is left.

    Attributes
    ----------
    start, end
        Readings of `time.monotonic`, in seconds; the end is infinite where nothing limits the work.
    """

    start: float
    end: float

    @classmethod
    def after(cls, seconds: float = math.inf) -> Self:
        """Return the deadline so many seconds from now; without a number it never comes."""
        now = monotonic()
        return cls(now, now + seconds)

    def __reduce__(self) -> tuple[object, tuple[float, float]]:
        return _resumed, (self.elapsed, self.end - monotonic())

    @property
    def elapsed(self) -> float:
        """Seconds since the start."""
        return monotonic() - self.start

    @property
    def left(self) -> float:
        """Seconds until the end, and zero after it."""
        return max(0.0, self.end - monotonic())

    @property
    def total(self) -> float:
        """Seconds from start to end."""
        return self.end - self.start

    @property
    def over(self) -> bool:
        """Whether the end has come."""
        return self.limited and monotonic() >= self.end

    @property
    def limited(self) -> bool:
        """Whether the end will ever come."""
        return self.end < math.inf

    def check(self) -> None:
        """Raise `OutOfTime` once the end has come."""
        if self.over:
            raise OutOfTime

    def counted(self, count: int) -> Iterator[int]:
        """Yield numbers from 0 up to a count, and fewer, but one, where the end comes before."""
        for number in range(count):
            if number and self.over:
                return
            yield number

    def within(self, seconds: float) -> Deadline:
        """Return the deadline of a piece of work: so many seconds from now, or this end if sooner."""
        now = monotonic()
        return Deadline(now, min(self.end, now + seconds))

    def share(self, fraction: float) -> Deadline:
        """Return the deadline of a piece of work that may take a fraction of the time left."""
        return self.within(fraction * self.left)

    def leaving(self, seconds: float) -> Deadline:
        """Return the deadline, of the same start, that leaves so many seconds for what follows."""
        return Deadline(self.start, self.end - seconds)


def _resumed(elapsed: float, left: float) -> Deadline:
    """Return a deadline that was sent here from another clock."""
    now = monotonic()
    return Deadline(now - elapsed, now + left)


NEVER: Final = Deadline.after()
"""The deadline of work that nothing limits."""
