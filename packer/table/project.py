"""The project: the table's own file, what is saved for the commands, and tasks that lead on."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

from packer.errors import OptionError, PackerError, ReadError
from packer.files.figure_record import record_of
from packer.files.figure_toml import figure_text
from packer.files.json_values import as_object, json_lines, json_object
from packer.files.packing_json import packing_of, packing_record, packing_text
from packer.files.text import read_text
from packer.files.write import write_files
from packer.table.actions import ENDINGS, IN_TRUE_SIZE, Task, TaskResult, run_task
from packer.table.child_process import ChildProcess
from packer.table.draft import directions, figure_of_draft
from packer.table.draft_json import draft_of, draft_record
from packer.table.drawing_svg import drawing_svg
from packer.table.message_queue import QueuedItem
from packer.table.state import TableState, drafted, of_packing
from packer.table.wall import Wall, wall_of, wall_record

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from packer.model.packing import Packing
    from packer.table.draft import Draft
    from packer.table.folder import Folder
    from packer.table.message_queue import MessageQueue

FORMAT: Final = "packer.table"
VERSION: Final = 1
MOST_FILE_BYTES: Final = 64 * 2**20
"""Largest table file read: a wall of a thousand large packings."""
MOST_STOPS: Final = 3
"""Times that a task is asked to end a stage: none has more stages."""
SAVED: Final = ("toml", "svg", "packing.json")
"""Endings of what is saved for the commands."""


class Project:
    """Files and tasks of one table.

    Parameters
    ----------
    folder
        Where all is written.
    stem
        NAME of its files.
    opened
        The figure that was opened, as a record; None for an empty table.
    queue
        Where tasks put what they tell.
    tell
        Called with what all pages should know.
    """

    def __init__(
        self,
        folder: Folder,
        stem: str,
        opened: dict[str, Any] | None,
        queue: MessageQueue,
        tell: Callable[[dict[str, Any]], None],
    ) -> None:
        self.folder, self.stem, self.opened = folder, stem, opened
        self.queue, self.tell = queue, tell
        self.child: ChildProcess | None = None
        self.running: dict[str, Any] | None = None
        self.number = 0
        self.subject = ""
        self.results: list[dict[str, Any]] = []

    # --- the table's own file

    def keep(self, state: TableState, wall: Wall) -> None:
        """Write the table file: the page opens again as it was left."""
        if not state.draft.parts and not wall.cards:
            return
        record = {
            "format": FORMAT,
            "version": VERSION,
            "opened": self.opened,
            "draft": draft_record(state.draft),
            "packing": None if state.packing is None else packing_record(state.packing),
            "wall": wall_record(wall),
            "results": self.results,
            "written": self.folder.written,
        }
        write_files({table_file(self.folder.path, self.stem): json_lines(record)}, force=True)

    # --- what is saved for the commands

    def save(self, draft: Draft, packing: Packing) -> list[str]:
        """Write figure, drawing and packing; return the names of the files.

        Raises
        ------
        FigureError
            Where the drawing is no figure.
        ReadError
            Where something cannot be written.
        """
        figure = replace(figure_of_draft(draft), pose=directions(draft))
        packing = replace(packing, problem=replace(packing.problem, figure=figure))
        every = [*SAVED, *(ending for endings in ENDINGS.values() for ending in endings)]
        stem = self.folder.free_stem(self.stem, every)
        picture = None
        if draft.picture is not None:
            content = self.folder.read(draft.picture.name)
            kind = draft.picture.name.rpartition(".")[2]
            picture = None if content is None else (kind, content)
        contents = (figure_text(figure), drawing_svg(draft, picture), packing_text(packing))
        files = {f"{stem}.{end}": text for end, text in zip(SAVED, contents, strict=True)}
        self.folder.write(dict(files))
        return list(files)

    # --- tasks

    def start(self, what: str, draft: Draft, packing: Packing, sheet: str, paper: str) -> None:
        """Save, and begin a task.

        Raises
        ------
        ReadError
            Where another task is under way.
        OptionError
            Where it needs the true size of the sheet and that is not known.
        """
        if self.running is not None:
            raise ReadError("something else is being made; wait for it or stop it")
        if what in IN_TRUE_SIZE and not sheet.strip() and packing.sheet.mm_per_unit is None:
            raise OptionError(
                "the sheet has no unit yet; write its size, such as 350mm", "Sheet to fold from"
            )
        stem = self.save(draft, packing)[0].removesuffix(f".{SAVED[0]}")
        subject = (packing.figure, packing.sheet, packing.tips, packing.lengths)
        self.subject = _digest(repr(subject).encode())
        task = Task(
            what,
            str(self.folder.path),
            stem,
            sheet.strip(),
            paper.strip() or "A4",
            creased=self._is_creased(f"{stem}.creases.fold"),
        )
        self.running = {
            "what": what, "progress": "starting", "command": task.command, "stops": 0,
        }  # fmt: skip
        if self.child is not None:  # it has handed over what it made
            self.child.end()
        self.number += 1
        number = self.number
        self.child = ChildProcess(
            run_task,
            lambda told: self.queue.put(QueuedItem(0, lambda: self.heard(told, number))),
            (task,),
        )
        self.tell_tasks()

    def _is_creased(self, name: str) -> bool:
        """Return whether a file holds creases made of the packing that was saved last."""
        return self.folder.read(name) is not None and any(
            name in result["names"] and result.get("subject") == self.subject
            for result in self.results
        )

    def stop(self) -> None:
        """End the stage of the task that runs, keeping its best, as Ctrl-C does; later stages go on.

        What has not ended after `MOST_STOPS` is ended at once.
        """
        if self.child is None or self.running is None:
            return
        self.running["stops"] += 1
        self.running["progress"] = "stopping this stage; its best is kept"
        if self.running["stops"] > MOST_STOPS:
            self.child.end()
        else:
            self.child.interrupt()
        self.tell_tasks()

    def heard(self, told: object, number: int) -> None:
        """Take what a task tells: progress, its result, what is wrong, or its end."""
        if number != self.number:
            return
        if isinstance(told, str) and self.running is not None:
            self.running["progress"] = told
        elif isinstance(told, TaskResult):
            self.running = None
            self._take(told)
        elif isinstance(told, PackerError):
            self.running = None
            self.tell({"kind": "sentence", "text": str(told)})
        elif told is None:
            self._ended()
        self.tell_tasks()

    def _ended(self) -> None:
        """Put away a task that has ended; one that had nothing to hand over is told."""
        if self.running is not None:
            self.tell(
                {"kind": "sentence", "text": "it was stopped before it had made anything"}
            )
        if self.child is not None:
            self.child.end()
        self.child = self.running = None

    def _take(self, made: TaskResult) -> None:
        self.folder.write(dict(made.files))
        result = {
            "what": made.task.what,
            "names": list(made.files),
            "text": made.text,
            "command": made.task.command,
            "subject": self.subject,
            "stamp": _digest(b"".join(made.files.values())),
        }
        self.results = [r for r in self.results if r["what"] != made.task.what] + [result]

    def tell_tasks(self) -> None:
        """Tell what is under way and what has been made."""
        self.tell({"kind": "tasks", "running": self.running, "results": self.results})

    def end(self) -> None:
        """End the task under way."""
        if self.child is not None:
            self.child.end()


def _digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()[:12]


def table_file(folder: Path, stem: str) -> Path:
    """Return where the table keeps itself."""
    return folder / f"{stem}.table.json"


def reopened(
    folder: Path, stem: str, state: TableState, *, given: bool
) -> tuple[TableState, Wall, dict[str, str], list[dict[str, Any]]]:
    """Return what was left on a table: state, wall, digests of its files and results.

    Parameters
    ----------
    folder, stem
        Where the table file may lie.
    state
        What was opened.
    given
        Whether a figure was given; the table is then taken up only if that is the figure it was
        left with, and else only its wall.

    Raises
    ------
    PackerError
        Where the table file is not as the table writes it.
    """
    path = table_file(folder, stem)
    if path.is_symlink():
        raise ReadError("it is a link; move it away", source=str(path))
    if not path.exists():
        return state, Wall(), {}, []
    try:
        record = json_object(read_text(path, "a table file", MOST_FILE_BYTES), FORMAT, VERSION)
        wall = wall_of(record.get("wall"))
        written = {
            str(name): str(digest)
            for name, digest in as_object(record.get("written"), "written").items()
        }
        results = [r for r in record.get("results", []) if isinstance(r, dict)]
        if not given or record.get("opened") == opened_record(state):
            state = _left(record)
    except PackerError as error:
        raise error.found_in(str(path)) from None
    return state, wall, written, results


def _left(record: dict[str, Any]) -> TableState:
    draft = draft_of(record.get("draft"))
    if record.get("packing") is None:
        return drafted(TableState(), draft)
    left = of_packing(draft, packing_of(as_object(record["packing"], "packing")))
    return drafted(left, draft)


def opened_record(state: TableState) -> dict[str, Any] | None:
    """Return what was opened, to be known again: figure and tips; None for an empty table."""
    if state.sentence or not state.draft.parts:
        return None
    tips = None if state.packing is None else [list(tip) for tip in state.packing.tips]
    return {"figure": record_of(figure_of_draft(state.draft)), "tips": tips}
