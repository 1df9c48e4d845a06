"""What waits for the table: messages in their order, of a pull under way only the newest."""

from __future__ import annotations

import threading
from collections import deque
from dataclasses import dataclass
from typing import TYPE_CHECKING

from packer.deadline import Deadline
from packer.table.messages import Message

if TYPE_CHECKING:
    from collections.abc import Callable


@dataclass(frozen=True)
class QueuedItem:
    """Something to be done: a message of a page, or work of the table's own.

    Attributes
    ----------
    page
        Number of the page that sent it; 0 for the table itself.
    what
        The message, a picture's bytes, or a function to be called.
    """

    page: int
    what: Message | bytes | Callable[[], None]


class MessageQueue:
    """A queue between the threads of the pages and the one that works."""

    def __init__(self) -> None:
        self.posts: deque[QueuedItem] = deque()
        self.filled = threading.Condition()

    def put(self, post: QueuedItem) -> None:
        """Add a post; a pull under way takes the place of an older one that still waits."""
        with self.filled:
            if self.posts and _passes(self.posts[-1], post):
                self.posts.pop()
            self.posts.append(post)
            self.filled.notify()

    def take(self, seconds: float) -> QueuedItem | None:
        """Return the next post, or None where there is none for so long."""
        deadline = Deadline.after(seconds)
        with self.filled:
            while not self.posts:
                if deadline.over:
                    return None
                self.filled.wait(deadline.left)
            return self.posts.popleft()


def _passes(older: QueuedItem, newer: QueuedItem) -> bool:
    one, other = older.what, newer.what
    return (
        older.page == newer.page
        and isinstance(one, Message)
        and isinstance(other, Message)
        and one.kind == other.kind
        and one.is_passing
        and other.values.get("part") == one.values.get("part")
        and other.values.get("tip") == one.values.get("tip")
        and other.values.get("node") == one.values.get("node")
    )
