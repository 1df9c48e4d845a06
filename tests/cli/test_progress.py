"""How a long run tells that it goes on."""

from __future__ import annotations

import sys
import threading

import pytest

from packer.cli import output
from packer.cli.output import ProgressLine
from packer.cli.pack import moved_lines, progress_text
from packer.cli.tables import course_listener
from packer.model.figure import Figure, Flap
from packer.model.packing import Packing
from packer.model.problem import pose
from packer.model.sheet import Sheet
from packer.planning.timed_searches import StepProgress
from packer.search.pack import Progress
from tests.conftest import PATIENCE


@pytest.fixture(autouse=True)
def _clock(monkeypatch):
    """A clock that stands still."""
    monkeypatch.setattr("packer.deadline.monotonic", lambda: 7.0)


class Told:
    """A stream that is no terminal, and says when so many lines are written."""

    def __init__(self, lines):
        self.text, self.lines, self.enough = "", lines, threading.Event()

    def isatty(self):
        return False

    def flush(self):
        """Nothing is held back."""

    def write(self, text):
        self.text += text
        if self.text.count("\n") >= self.lines:
            self.enough.set()


def test_a_line_is_written_now_and_then_where_there_is_no_terminal(monkeypatch):
    told = Told(2)
    monkeypatch.setattr(sys, "stderr", told)
    monkeypatch.setattr(output, "EVERY_SECONDS", 0.01)
    with ProgressLine(about=40.0) as line:
        line.show("3 starts")
        assert told.enough.wait(PATIENCE)
    assert told.text.splitlines()[0] == "0 of about 40 s, 3 starts"


def test_time_is_told_before_anything_is_reached(monkeypatch):
    told = Told(2)
    monkeypatch.setattr(sys, "stderr", told)
    monkeypatch.setattr(output, "EVERY_SECONDS", 0.01)
    with ProgressLine(about=40.0):
        assert told.enough.wait(60)
    assert told.text.splitlines()[0] == "0 of about 40 s"


def test_what_moves_is_counted():
    assert progress_text(Progress(25.0, 0, 0.0, 0, tried=1)) == "1 packing tried"
    later = progress_text(Progress(26.0, 0, 0.25, 0, 0.5, 480))
    assert later == "480 packings tried, scale 0.25; no packing can be more than 1e+02 % larger"


def test_a_piece_of_work_says_before_it_begins_how_long_it_takes(capsys):
    line = ProgressLine()
    listen = course_listener(line, "on all sheets")
    listen(StepProgress(0, 5, "", 200.0))
    listen(StepProgress(0, 5, "searching", 200.0))
    told = "packing on all sheets, 5 steps, takes at most 200 s; --time sets it\n"
    assert capsys.readouterr().err == told
    assert line.line() == f"0 of about 200 s, [{'.' * 20}] 0 of 5, searching"


def test_quiet_runs_say_nothing(monkeypatch):
    told = Told(1)
    monkeypatch.setattr(sys, "stderr", told)
    with ProgressLine(quiet=True, about=40.0) as line:
        line.show("3 starts")
        assert line.line() == "0 of about 40 s, 3 starts"
    assert told.text == ""


def test_what_a_search_from_a_packing_moved_is_told():
    figure = Figure("star", (Flap("a", "j", 1.0), Flap("b", "j", 1.0), Flap("c", "j", 1.0)))
    problem = pose(figure, Sheet(100, 100, "mm"))
    near = Packing(problem, ((0, 0), (100, 0), (0, 100)))
    now = Packing(problem, ((0, 0), (100, 0), (3, 96)))
    told = moved_lines(near, now)
    assert told[1] == "moved: c 5.0 mm"
    assert told[0].startswith("scale 50 before, ")
    assert moved_lines(near, near)[1] == "no tip moved"
    unit = Packing(pose(figure), ((0, 0), (1, 0), (0, 1)))  # the same on a sheet without a size
    assert moved_lines(unit, near)[0] == "scale 50 before, 50 now (+0.0%)"
