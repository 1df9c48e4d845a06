"""A table served in this process for a test, and plain HTTP to knock at it with."""

from __future__ import annotations

import socket
import threading
from contextlib import contextmanager

from packer.model.packing import Packing
from packer.table.folder import Folder
from packer.table.message_queue import MessageQueue
from packer.table.opening import opened
from packer.table.project import Project, opened_record, reopened
from packer.table.server import Server
from packer.table.session import Session
from tests.conftest import PATIENCE


def session_for(subject, folder, made=None):
    """A session as the command makes it; what it tells goes to a list without a server."""
    state, stem = opened(None if subject is None else str(subject))
    record = opened_record(state)
    state, wall, written, results = reopened(folder, stem, state, given=subject is not None)
    told = []
    place = made.folder if made else Folder(folder)
    place.written.update(written)
    queue, tell = (made.queue, made.tell) if made else (MessageQueue(), told.append)
    project = Project(place, stem, record, queue, tell)
    project.results = results
    session = Session(state, wall, project, queue, tell)
    session.search.look = lambda packing, several=False: None  # no process beside a test
    return session, told


@contextmanager
def table(subject, folder, *, search=False):
    """Serve a table, with or without a search beside it; yields its server and session."""
    server = Server(Folder(folder))
    session, _ = session_for(subject, folder, server)
    if search:
        del session.search.look
    working = threading.Thread(target=server.run, args=(session,))
    working.start()
    try:
        yield server, session
    finally:
        server.ending.set()
        working.join()


def ask(port, request):
    """Send the bytes of a request; return the status line, headers and body of the answer."""
    with socket.create_connection(("127.0.0.1", port), timeout=PATIENCE) as line:
        line.sendall(request)
        answer = b""
        while part := line.recv(65536):
            answer += part
    head, _, body = answer.partition(b"\r\n\r\n")
    first, *rest = head.decode("latin-1").split("\r\n")
    headers = dict(row.split(": ", 1) for row in rest)
    return first, headers, body


def request(path, host, *more, method="GET"):
    """The bytes of a request."""
    lines = [f"{method} {path} HTTP/1.1", *([f"Host: {host}"] if host else []), *more]
    return ("\r\n".join(lines) + "\r\n\r\n").encode()


def packing_of(session):
    """The packing at rest on a table."""
    packing = session.state.packing
    assert isinstance(packing, Packing)
    return packing
