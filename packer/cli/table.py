"""``packer table``: a page on which the figure is drawn by hand and seen packed at once."""

from __future__ import annotations

import contextlib
import signal
import tempfile
import webbrowser
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from packer.cli.options import HERE, OutOption
from packer.cli.output import check_free, note
from packer.errors import OptionError

if TYPE_CHECKING:
    from collections.abc import Iterator

SubjectArgument = Annotated[
    str | None,
    typer.Argument(
        metavar="[FIGURE]",
        help="A figure file, a drawing (SVG), a packing file or a tree in Newick notation; without "
        "it the table is empty, or as it was left.",
        show_default=False,
    ),
]
NoBrowserOption = Annotated[
    bool,
    typer.Option("--no-browser", help="Print the address of the page, and open no browser."),
]


def command(
    figure: SubjectArgument = None, out: OutOption = HERE, no_browser: NoBrowserOption = False
) -> None:
    """Draw a figure by hand in the browser, pull it, and see it packed at once.

    The page is served to this machine alone, and files are written into --out only.
    """
    try:
        from packer.table.server import Server
    except ImportError:
        raise OptionError(
            "websockets is missing; install the extra: pip install 'packer[table]'", "table"
        ) from None
    from packer.table.folder import Folder
    from packer.table.opening import opened
    from packer.table.project import Project, opened_record, reopened, table_file
    from packer.table.session import Session

    state, stem = opened(figure)
    record = opened_record(state)
    check_free([table_file(out, stem)], force=True)
    state, wall, written, results = reopened(out, stem, state, given=figure is not None)
    server = Server(Folder(out, written))
    project = Project(server.folder, stem, record, server.queue, server.tell)
    project.results = results
    session = Session(state, wall, project, server.queue, server.tell)
    for sign in (signal.SIGINT, signal.SIGTERM):
        signal.signal(sign, lambda *_: server.ending.set())
    with _shown(server.access.address, no_browser):
        server.run(session)


@contextlib.contextmanager
def _shown(address: str, only_printed: bool) -> Iterator[None]:
    """Show a page, by its address or in the browser, and tidy up afterwards.

    The browser is handed a file that only this user can read and that leads on to the page, since
    the command lines of programs can be read by all.
    """
    if only_printed:
        print(address, flush=True)
        yield
        return
    with tempfile.TemporaryDirectory(prefix="packer-table-") as private:
        door = Path(private) / "table.html"
        door.touch(mode=0o600)
        door.write_text(
            f'<!doctype html><meta charset="utf-8"><meta name="referrer" content="no-referrer">'
            f'<meta http-equiv="refresh" content="0; url={address}"><title>packer table</title>',
            encoding="utf-8",
        )
        if webbrowser.open(door.as_uri()):
            note(
                "the table is open in the browser; Ctrl-C ends it, and so does closing the page"
            )
        else:
            note("no browser was found; open this address in one:")
            print(address, flush=True)
        yield
