"""Writing results: all files whole or none at all, and never over an existing one unasked."""

from __future__ import annotations

import contextlib
import os
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from packer.errors import ReadError

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping


def check_free(paths: Iterable[Path], force: bool = False) -> None:
    """Refuse, before any work is done, what `write_files` would refuse after it.

    Parameters
    ----------
    paths
        The files that will be written.
    force
        Whether existing files may be replaced.

    Raises
    ------
    ReadError
        Where a file exists, or something stands where a file or a directory should.
    """
    for path in paths:
        source = str(path)
        if path.is_dir():
            raise ReadError(
                "a directory has this name; remove it or write elsewhere", source=source
            )
        if not force and os.path.lexists(path):
            raise ReadError(
                "it exists already; write elsewhere with --out or over it with --force",
                source=source,
            )
        for above in path.parents:
            if above.exists():
                if not above.is_dir():
                    raise ReadError("it is no directory; write elsewhere", source=str(above))
                if not os.access(above, os.W_OK):
                    raise ReadError(
                        "it may not be written to; write elsewhere", source=str(above)
                    )
                break


def write_files(files: Mapping[Path, str | bytes], force: bool = False) -> None:
    """Write all files or none.

    Each is first written whole under a hidden name beside its place and synced to the disk;
    only when all are there do they get their names, each in one step. Text is UTF-8.

    Parameters
    ----------
    files
        What to write, by path; missing directories are made.
    force
        Whether existing files may be replaced.

    Raises
    ------
    ReadError
        Where a file exists or cannot be written; nothing has then been written.
    """
    check_free(files, force)
    staged: dict[Path, Path] = {}
    placed: list[Path] = []
    try:
        for path, content in files.items():
            staged[path] = _stage(path, content)
        for path, hidden in staged.items():
            _place(hidden, path, force)
            placed.append(path)
    except OSError as error:
        if not force:
            for path in placed:
                path.unlink(missing_ok=True)
        if isinstance(error, ReadError):
            raise
        raise ReadError(
            f"it cannot be written ({error.strerror or error}); write elsewhere with --out",
            source=str(path),
        ) from None
    finally:
        for hidden in staged.values():
            hidden.unlink(missing_ok=True)


def _stage(path: Path, content: str | bytes) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    number, name = tempfile.mkstemp(
        prefix=f".{path.name[:40]}.", suffix=".part", dir=path.parent
    )
    hidden = Path(name)
    try:
        with os.fdopen(number, "wb") as file:
            file.write(content.encode("utf-8") if isinstance(content, str) else content)
            file.flush()
            os.fsync(file.fileno())
        hidden.chmod(0o666 & ~_umask())  # mkstemp lets only its owner read
    except BaseException:
        with contextlib.suppress(OSError):
            hidden.unlink(missing_ok=True)
        raise
    return hidden


def _place(hidden: Path, path: Path, force: bool) -> None:
    """Give a file its name in one step; a link, unlike a rename, never replaces another."""
    if force:
        hidden.replace(path)
        return
    try:
        path.hardlink_to(hidden)
    except FileExistsError:
        raise ReadError(
            "it appeared while this ran; write elsewhere with --out or over it with --force",
            source=str(path),
        ) from None
    except OSError:  # a file system without links
        hidden.rename(path)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
