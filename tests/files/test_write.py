"""Results are written whole or not at all, and never over an existing file unasked."""

from __future__ import annotations

import os
import stat

import pytest

from packer.errors import ReadError
from packer.files import write
from packer.files.write import check_free, write_files


def names(directory):
    return sorted(path.name for path in directory.iterdir())


def test_files_are_written_and_directories_made(tmp_path):
    out = tmp_path / "a" / "b"
    write_files({out / "x.txt": "ä\n", out / "y.bin": b"\x00"})
    assert (out / "x.txt").read_bytes() == "ä\n".encode()
    assert (out / "y.bin").read_bytes() == b"\x00"
    assert names(out) == ["x.txt", "y.bin"]


def test_nothing_is_written_where_one_file_exists(tmp_path):
    (tmp_path / "y.txt").write_text("mine")
    with pytest.raises(ReadError, match="exists already; write elsewhere with --out") as caught:
        write_files({tmp_path / "x.txt": "new", tmp_path / "y.txt": "new"})
    assert caught.value.source == str(tmp_path / "y.txt")
    assert names(tmp_path) == ["y.txt"]
    assert (tmp_path / "y.txt").read_text() == "mine"


def test_force_writes_over_files(tmp_path):
    (tmp_path / "y.txt").write_text("mine")
    write_files({tmp_path / "x.txt": "new", tmp_path / "y.txt": "new"}, force=True)
    assert [(tmp_path / n).read_text() for n in ("x.txt", "y.txt")] == ["new", "new"]


def test_even_force_spares_a_directory(tmp_path):
    (tmp_path / "x.txt").mkdir()
    with pytest.raises(ReadError, match="a directory has this name"):
        write_files({tmp_path / "x.txt": "new"}, force=True)


def test_a_file_in_the_place_of_a_directory_is_named(tmp_path):
    (tmp_path / "out").write_text("mine")
    with pytest.raises(ReadError, match="no directory") as caught:
        check_free([tmp_path / "out" / "deep" / "x.txt"])
    assert caught.value.source == str(tmp_path / "out")


def test_a_dangling_link_is_not_written_through(tmp_path):
    (tmp_path / "x.txt").symlink_to(tmp_path / "nowhere")
    with pytest.raises(ReadError, match="exists already"):
        write_files({tmp_path / "x.txt": "new"})


def test_a_file_that_appears_meanwhile_is_spared(tmp_path, monkeypatch):
    monkeypatch.setattr(write, "check_free", lambda *_: None)
    (tmp_path / "y.txt").write_text("mine")
    with pytest.raises(ReadError, match="appeared while this ran"):
        write_files({tmp_path / "x.txt": "new", tmp_path / "y.txt": "new"})
    assert names(tmp_path) == ["y.txt"]
    assert (tmp_path / "y.txt").read_text() == "mine"


def test_a_full_disk_leaves_nothing(tmp_path, monkeypatch):
    calls = []

    def full(number):
        calls.append(number)
        if len(calls) == 2:
            raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(ReadError, match="No space left on device"):
        write_files({tmp_path / "x.txt": "new", tmp_path / "y.txt": "new"})
    assert names(tmp_path) == []


def test_an_interrupt_while_writing_leaves_nothing(tmp_path, monkeypatch):
    def interrupt(number):
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "fsync", interrupt)
    with pytest.raises(KeyboardInterrupt):
        write_files({tmp_path / "x.txt": "new"})
    assert names(tmp_path) == []


def test_a_file_system_without_links_is_served(tmp_path, monkeypatch):
    def refuse(self, target):
        raise OSError(95, "Operation not supported")

    monkeypatch.setattr("pathlib.Path.hardlink_to", refuse)
    write_files({tmp_path / "x.txt": "new"})
    assert names(tmp_path) == ["x.txt"]


def test_files_have_the_rights_of_any_new_file(tmp_path):
    write_files({tmp_path / "x.txt": "new"})
    (tmp_path / "plain.txt").write_text("")
    ours, plain = (stat.S_IMODE((tmp_path / n).stat().st_mode) for n in ("x.txt", "plain.txt"))
    assert ours == plain
