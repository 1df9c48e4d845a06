"""Offers: better layouts that a search beside the table finds while the designer thinks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from packer.bounds.upper_bound import quick_bound
from packer.deadline import Deadline
from packer.search.from_here import better_packings
from packer.search.gallery import gallery
from packer.search.options import SearchOptions
from packer.search.stopping import TimeLimit
from packer.table.child_process import ChildProcess

if TYPE_CHECKING:
    from collections.abc import Callable
    from multiprocessing.connection import Connection

    from packer.model.packing import Bound, Packing

GALLERY: Final = 4
"""Packings asked of a gallery, the best included."""
GALLERY_SECONDS: Final = 12.0
"""Seconds given to a gallery."""
LONGEST: Final = 40.0
"""Seconds of search after the last change, as long as a command without a limit takes."""
SHOWN: Final = 4
"""Offers shown at once, the best ones."""


@dataclass(frozen=True)
class SearchRequest:
    """What the search beside the table is to work on.

    Attributes
    ----------
    number
        Its own; what is told of an older one is of no use any more.
    packing
        The one to beat; None to rest.
    several
        Whether really different packings are asked for in place of better ones.
    seconds
        Given to those that are really different.
    """

    number: int
    packing: Packing | None
    several: bool = False
    seconds: float = GALLERY_SECONDS


@dataclass(frozen=True)
class SearchReply:
    """What the search tells: a bound, a packing, or that nothing more will come.

    Attributes
    ----------
    number
        Of the wish it answers.
    bound, packing
        One of the two, or neither at the end.
    """

    number: int
    bound: Bound | None = None
    packing: Packing | None = None


class BackgroundSearch:
    """The search beside the table, in a process of its own that is started when it is needed.

    Parameters
    ----------
    hears
        Called, in a thread, with each `SearchReply` that answers the wish of the moment.
    """

    def __init__(self, hears: Callable[[SearchReply], None]) -> None:
        self.hears = hears
        self.number = 0
        self.gallery_seconds = GALLERY_SECONDS
        self.child: ChildProcess | None = None

    def look(self, packing: Packing | None, *, several: bool = False) -> None:
        """Work on a packing from now on; on nothing, where it is None."""
        self.number += 1
        if self.child is None or not self.child.process.is_alive():
            if packing is None:
                return
            self.child = ChildProcess(answer_requests, self._heard)
        self.child.send(SearchRequest(self.number, packing, several, self.gallery_seconds))

    def _heard(self, told: Any) -> None:
        if told is not None and told.number == self.number:
            self.hears(told)

    def end(self) -> None:
        """End the process."""
        if self.child is not None:
            self.child.end()
            self.child = None


def answer_requests(pipe: Connection) -> None:
    """Answer wishes until the pipe is closed; runs in the process beside the server."""
    wish: SearchRequest = pipe.recv()
    while True:
        while wish.packing is None or pipe.poll():
            wish = pipe.recv()
        _answer(pipe, wish, wish.packing)
        wish = pipe.recv()


def _answer(pipe: Connection, wish: SearchRequest, packing: Packing) -> None:
    """Tell a bound and then packings, until there is another wish."""
    if wish.several:
        options = SearchOptions(stop=TimeLimit(wish.seconds), workers=1)
        others = gallery(packing.problem, GALLERY, options=options, near=packing)
        for other in others:
            pipe.send(SearchReply(wish.number, packing=other))
        pipe.send(SearchReply(wish.number))
        return
    if packing.bound is None:
        pipe.send(SearchReply(wish.number, bound=quick_bound(packing.problem)))
    deadline = Deadline.after(LONGEST)
    for better in better_packings(packing):
        if better is not None:
            pipe.send(SearchReply(wish.number, packing=better))
        if pipe.poll() or deadline.over:
            break
    pipe.send(SearchReply(wish.number))
