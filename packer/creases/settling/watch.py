"""A watch that ends long work when its time is out."""

from __future__ import annotations

import time


class OutOfTime(Exception):  # noqa: N818 - it is no error
    """Raised where time is out; whoever set the watch returns the best until then."""


class Watch:
    """A watch set for some seconds, or for none."""

    def __init__(self, seconds: float | None) -> None:
        self.began = time.monotonic()
        self.end = None if seconds is None else self.began + seconds

    @property
    def seconds(self) -> float:
        """Elapsed."""
        return time.monotonic() - self.began

    def check(self) -> None:
        """Raise `OutOfTime` where time is out."""
        if self.end is not None and time.monotonic() >= self.end:
            raise OutOfTime
