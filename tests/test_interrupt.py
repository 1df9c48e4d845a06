"""Ctrl-C reaches a run that waits for a compiled solver."""

from __future__ import annotations

import _thread
import threading

import pytest

from packer import interrupt
from packer.interrupt import abandonable, interruptible
from tests.conftest import PATIENCE


@pytest.fixture
def ctrl_c(monkeypatch):
    """Press Ctrl-C in the moment in which the work is waited for."""
    wait = interrupt.wait

    def pressed(*words):
        _thread.interrupt_main()
        return wait(*words)

    return lambda: monkeypatch.setattr(interrupt, "wait", pressed)


def test_the_value_and_the_error_of_the_work_come_back():
    assert interruptible(lambda: 7, lambda: None) == 7
    with pytest.raises(ZeroDivisionError):
        interruptible(lambda: 1 // 0, lambda: None)


def test_ctrl_c_stops_the_work_and_is_raised_again(ctrl_c):
    stopped = threading.Event()
    ended = []

    def work():
        stopped.wait(PATIENCE)
        ended.append(stopped.is_set())

    ctrl_c()
    with pytest.raises(KeyboardInterrupt):
        interruptible(work, stopped.set)
    assert ended == [True]


def test_ctrl_c_leaves_alone_what_nothing_can_stop(ctrl_c):
    assert abandonable(lambda: 7) == 7
    with pytest.raises(ZeroDivisionError):
        abandonable(lambda: 1 // 0)
    release, ended = threading.Event(), threading.Event()

    def work():
        release.wait(PATIENCE)
        ended.set()

    ctrl_c()
    with pytest.raises(KeyboardInterrupt):
        abandonable(work)
    assert not ended.is_set()
    release.set()
    assert ended.wait(PATIENCE)
