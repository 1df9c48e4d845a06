"""Wrong files for every command that reads one: a sentence, exit 2, nothing written."""

from __future__ import annotations

import json

import pytest

from packer.files.packing_json import packing_text
from tests.drawing.desk import preliminary

GOOD = packing_text(preliminary(100.0))
NAN = json.loads(GOOD)
NAN["tips"]["a"][0] = float("nan")

FILES = {
    "empty": b"",
    "a picture": b"\x89PNG\r\n\x1a\n\x00\x00",
    "cut off": GOOD[: len(GOOD) // 2].encode(),
    "another format": b'{"format": "packer.grid", "version": 1}',
    "no format": b'{"a": 1}',
    "a list": b"[]",
    "nested too deep": b"[" * 100_000,
    "not a number": json.dumps(NAN).encode(),
}
READERS = {
    "plan": "four.packing.json",
    "print": "four.packing.json",
    "report": "four.packing.json",
    "crease": "four.packing.json",
    "sketch": "four.svg",
    "compare": "four.toml",
    "grid": "four.toml",
}


def refused(packer_cli, tmp_path, *words):
    ran = packer_cli(*words)
    assert (ran.code, ran.out) == (2, "")
    assert len(ran.err.splitlines()) == 1
    assert "Traceback" not in ran.err
    assert not (tmp_path / "out").exists()
    return ran.err


@pytest.mark.parametrize("command", READERS)
@pytest.mark.parametrize("kind", FILES)
def test_a_wrong_file_is_named(packer_cli, tmp_path, command, kind):
    path = tmp_path / READERS[command]
    path.write_bytes(FILES[kind])
    told = refused(packer_cli, tmp_path, command, path, "--out", tmp_path / "out")
    assert told.startswith(str(path))


@pytest.mark.parametrize("name", ["four.creases.fold", "four.grid.json"])
@pytest.mark.parametrize("kind", FILES)
def test_print_names_any_wrong_file(packer_cli, tmp_path, name, kind):
    path = tmp_path / name
    wrong = b'{"format": "packer.packing", "version": 1}'
    path.write_bytes(wrong if kind == "another format" else FILES[kind])
    told = refused(packer_cli, tmp_path, "print", path, "--out", tmp_path / "out")
    assert told.startswith(str(path))


@pytest.mark.parametrize("command", READERS)
def test_missing_files_and_directories_are_named(packer_cli, tmp_path, command):
    path = tmp_path / READERS[command]
    told = refused(packer_cli, tmp_path, command, path, "--out", tmp_path / "out")
    assert told.startswith(f"{path}: no such file; name a ")
    path.mkdir()
    told = refused(packer_cli, tmp_path, command, path, "--out", tmp_path / "out")
    assert told.startswith(f"{path}: this is a directory; name a ")


@pytest.mark.parametrize("command", ["plan", "print", "report"])
def test_a_place_that_cannot_be_written_to_is_named(packer_cli, tmp_path, command):
    path = tmp_path / "four.packing.json"
    path.write_text(GOOD)
    for out in (path, path / "below"):
        told = refused(packer_cli, tmp_path, command, path, "--out", out)
        assert told.startswith(f"{path}: it is no directory; ")
    assert path.read_text() == GOOD
