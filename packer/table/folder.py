"""The project folder: the only place the table writes to, and never over what is not its own."""

from __future__ import annotations

import hashlib
import re
import unicodedata
from pathlib import Path
from typing import TYPE_CHECKING, Final

from packer.errors import ReadError
from packer.files.write import write_files

if TYPE_CHECKING:
    from collections.abc import Mapping

MOST_NAME_LETTERS: Final = 60
"""Longest name of a file before its ending."""


def slug(name: str) -> str:
    """Return a name as that of a file: plain letters, digits, "-" and "_", at most `MOST_NAME_LETTERS`.

    >>> slug("Grey heron, 2nd try")
    'grey_heron_2nd_try'
    """
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode()
    words = re.sub(r"[^a-z0-9-]+", "_", plain.lower()).strip("_-")
    return words[:MOST_NAME_LETTERS].strip("_-") or "figure"


class Folder:
    """A directory, and which of its files the table has written itself.

    Parameters
    ----------
    path
        Where to write; made with the first file.
    written
        Digests of files that an earlier session wrote, by name.
    """

    def __init__(self, path: Path, written: Mapping[str, str] | None = None) -> None:
        self.path = Path(path).resolve()
        self.written = dict(written or {})

    def free_stem(self, stem: str, endings: list[str]) -> str:
        """Return the stem, or "stem-2" and so on, under which all files may be written.

        A file may be written that is not there, or that is as the table left it; a link is never
        followed.
        """
        number = 1
        while True:
            name = stem if number == 1 else f"{stem}-{number}"
            if all(self.is_ours(f"{name}.{ending}") for ending in endings):
                return name
            number += 1

    def is_ours(self, name: str) -> bool:
        """Return whether nothing is lost where this file is written."""
        path = self.path / name
        if path.is_symlink():
            return False
        if not path.exists():
            return True
        return path.is_file() and self.written.get(name) == _digest(path.read_bytes())

    def write(self, files: Mapping[str, str | bytes]) -> None:
        """Write files by their plain names, all or none.

        Raises
        ------
        ReadError
            Where one is not the table's own, or cannot be written.
        """
        for name in files:
            if not name or name != Path(name).name or name.startswith("."):
                raise ReadError("a file is written into the project folder only", source=name)
            if not self.is_ours(name):
                raise ReadError("it was not written by the table; move it away", source=name)
        write_files({self.path / name: content for name, content in files.items()}, force=True)
        for name, content in files.items():
            data = content.encode() if isinstance(content, str) else content
            self.written[name] = _digest(data)

    def read(self, name: str) -> bytes | None:
        """Return what a file holds that the table has written; None where there is none."""
        path = self.path / name
        if name not in self.written or path.is_symlink() or not path.is_file():
            return None
        return path.read_bytes()


def _digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()
