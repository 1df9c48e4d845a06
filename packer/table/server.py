"""The server: one page and its websocket from one port of this machine, for one browser.

Threads: one for each connection, which only reads and sends; one that works, the caller's; one that
listens. It ends when asked to, or a while after the last page has been closed.
"""

from __future__ import annotations

import contextlib
import json
import logging
import socket
import threading
from http import HTTPStatus
from importlib.resources import files
from typing import TYPE_CHECKING, Any, Final

from websockets.datastructures import Headers
from websockets.exceptions import ConnectionClosed
from websockets.http11 import Response
from websockets.sync.server import serve

from packer.deadline import Deadline
from packer.errors import ReadError
from packer.search.parallel.threads import one_thread
from packer.table.message_queue import MessageQueue, QueuedItem
from packer.table.messages import MOST_PICTURE_BYTES, Message, read_message
from packer.table.security import HEADERS, HOST, LINE, POLICY, REPORT_POLICY, Access

if TYPE_CHECKING:
    from websockets.http11 import Request
    from websockets.sync.server import ServerConnection

    from packer.table.folder import Folder
    from packer.table.session import Session

REST: Final = 0.15
"""Seconds without a message after which the hand rests."""
WAITS: Final = 60.0
"""Seconds after the last page has been closed until the server ends."""
BACKLOG: Final = 16

KINDS: Final = {
    "html": "text/html; charset=utf-8",
    "css": "text/css; charset=utf-8",
    "js": "text/javascript; charset=utf-8",
    "svg": "image/svg+xml",
    "png": "image/png",
    "jpg": "image/jpeg",
    "pdf": "application/pdf",
    "json": "application/json",
    "fold": "application/json",
}
"""Types of what is served, by the endings of names; whatever else the project holds is not."""

PAGE: Final = {
    file.name: file.read_bytes()
    for file in files("packer.table").joinpath("page").iterdir()
    if file.name.rpartition(".")[2] in {"html", "css", "js"}
}
"""The files of the page by name: a table, so that no path is ever looked up."""


class Server:
    """Pages that come and go, and the session that answers them.

    Parameters
    ----------
    folder
        Where results lie that the page may show.
    """

    def __init__(self, folder: Folder) -> None:
        self.folder = folder
        self.queue = MessageQueue()
        self.ending = threading.Event()
        self.lock = threading.Lock()
        self.pages: dict[int, ServerConnection] = {}
        self.last_page = 0
        self.writer = 0
        self.alone_until = Deadline.after(WAITS)
        listener = socket.create_server((HOST, 0), backlog=BACKLOG)
        self.access = Access(listener.getsockname()[1])
        silent = logging.getLogger("packer.table")
        silent.addHandler(logging.NullHandler())
        silent.propagate = False
        self.web = serve(
            self._page,
            sock=listener,
            process_request=self._request,
            server_header=None,
            compression=None,
            max_size=MOST_PICTURE_BYTES,
            logger=silent,
        )

    # --- what is answered by HTTP

    def _request(self, connection: ServerConnection, request: Request) -> Response | None:
        """Answer a request; None lets the websocket open."""
        headers = request.headers
        method = getattr(request, "method", "GET")  # older versions take GET only
        refusal = self.access.refusal(
            method, request.path, headers.get_all("Host"), headers.get_all("Origin")
        )
        if refusal is not None:
            return _response(refusal.status, f"{refusal.reason}\n".encode(), "text/plain")
        wanted = self.access.wanted(request.path)
        if wanted == LINE:
            return None
        name = wanted or "index.html"
        if name in PAGE:
            return _response(HTTPStatus.OK, PAGE[name], KINDS[name.rpartition(".")[2]])
        room, _, name = wanted.partition("/")
        kind = KINDS.get(name.rpartition(".")[2])
        content = self.folder.read(name) if room == "file" and kind else None
        if content is None or kind is None:
            return _response(HTTPStatus.NOT_FOUND, b"there is nothing here\n", "text/plain")
        policy = POLICY if kind.startswith("image/") and "svg" not in kind else REPORT_POLICY
        return _response(HTTPStatus.OK, content, kind, policy)

    # --- what is said on the line

    def _page(self, connection: ServerConnection) -> None:
        """Serve one page until it is closed; the newest one writes."""
        with self.lock:
            self.last_page += 1
            page = self.last_page
            self.pages[page] = connection
            self.writer = page
        self._tell_roles()
        self.queue.put(QueuedItem(page, Message("hello")))
        try:
            for text in connection:
                self._hear(page, connection, text)
        except ConnectionClosed:
            return
        finally:
            with self.lock:
                del self.pages[page]
                self.alone_until = Deadline.after(WAITS)
                if self.writer == page:
                    self.writer = max(self.pages, default=0)
            self._tell_roles()

    def _hear(self, page: int, connection: ServerConnection, text: str | bytes) -> None:
        if isinstance(text, str):
            try:
                message = read_message(text)
            except ReadError as error:
                _send(connection, {"kind": "sentence", "text": str(error)})
                return
            if message.kind == "claim":
                with self.lock:
                    self.writer = page
                self._tell_roles()
            self._deliver(page, connection, message)
        else:
            self._deliver(page, connection, text)

    def _deliver(self, page: int, connection: ServerConnection, what: Message | bytes) -> None:
        if page != self.writer:
            sentence = "another page is drawing; press Draw here to take over"
            _send(connection, {"kind": "sentence", "text": sentence})
            return
        self.queue.put(QueuedItem(page, what))

    def tell(self, reply: dict[str, Any]) -> None:
        """Tell something to every page."""
        with self.lock:
            connections = list(self.pages.values())
        for connection in connections:
            _send(connection, reply)

    def _tell_roles(self) -> None:
        with self.lock:
            pages = dict(self.pages)
            writer = self.writer
        for page, connection in pages.items():
            _send(connection, {"kind": "role", "draws": page == writer})

    # --- its life

    def run(self, session: Session) -> None:
        """Serve until asked to end, or until no page has been open for a while."""
        listening = threading.Thread(target=self.web.serve_forever, daemon=True)
        listening.start()
        try:
            with one_thread():
                while not self.ending.is_set():
                    self._work(session, self.queue.take(REST))
        finally:
            session.end()
            self.web.shutdown()

    def _work(self, session: Session, post: QueuedItem | None) -> None:
        """Do what one post asks for; without any, let the hand rest."""
        if post is None:
            session.rest()
            with self.lock:
                alone = not self.pages and self.alone_until.over
            if alone:
                self.ending.set()
        elif isinstance(post.what, bytes):
            session.picture(post.what)
        elif isinstance(post.what, Message):
            if post.what.kind == "hello":
                session.tell_all()
            else:
                session.receive(post.what)
        else:
            session.attempt(post.what)


def _send(connection: ServerConnection, reply: dict[str, Any]) -> None:
    """Send a reply; a page that has just been closed needs none."""
    with contextlib.suppress(ConnectionClosed, OSError):
        connection.send(json.dumps(reply, separators=(",", ":"), allow_nan=False))


def _response(status: HTTPStatus, content: bytes, kind: str, policy: str = POLICY) -> Response:
    """Return a response that no other page can use, and after which the connection ends."""
    headers = Headers(
        {
            "Content-Type": kind,
            "Content-Length": str(len(content)),
            "Connection": "close",
            "Content-Security-Policy": policy,
            **HEADERS,
        }
    )
    return Response(status.value, status.phrase, headers, content)
