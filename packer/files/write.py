"""Writing results: all files whole or none at all, and never over an existing one unasked.

While a run writes into a folder it holds a lock on it, so that the files of two runs are never
mixed; what lies there unfinished is then of a run that was killed, and is cleared.
"""

from __future__ import annotations

import contextlib
import os
import stat
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Final

from packer.errors import ReadError

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

UNFINISHED: Final = (".packer-", ".part")
"""How the name of a file begins and ends that is still being written."""


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
        Where a file exists, its name is too long, or something stands where a file or a directory
        should.
    """
    for path in paths:
        try:
            _check_one(path, force)
        except ReadError:
            raise
        except (OSError, ValueError) as error:  # ValueError: a NUL in the name
            reason = getattr(error, "strerror", None) or str(error)
            raise ReadError(
                f"it cannot be written ({reason}); write elsewhere with --out", source=str(path)
            ) from None


def _check_one(path: Path, force: bool) -> None:
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
                raise ReadError("it may not be written to; write elsewhere", source=str(above))
            break


def write_files(files: Mapping[Path, str | bytes], force: bool = False) -> None:
    """Write all files or none.

    Each is first written whole under a hidden name in its folder and synced to the disk; only
    when all are there do they get their names, each in one step. Text is UTF-8. Another run that
    writes into one of the folders is waited for.

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
    with contextlib.ExitStack() as locks:
        try:
            for folder in sorted({path.parent for path in files}):
                path = folder
                folder.mkdir(parents=True, exist_ok=True)
                locks.enter_context(_locked(folder))
            check_free(files, force)  # another run may just have written them
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


def rewrite(path: Path, before: str, after: str) -> bool:
    """Replace a text that this run wrote by another; leave it where another run has replaced it.

    Returns
    -------
    bool
        Whether it was replaced.

    Raises
    ------
    ReadError
        Where it cannot be written.
    """
    try:
        with _locked(path.parent):
            if path.read_text(encoding="utf-8") != before:
                return False
            _place(_stage(path, after), path, force=True)
    except OSError as error:
        raise ReadError(
            f"it cannot be written ({error.strerror or error}); write elsewhere with --out",
            source=str(path),
        ) from None
    return True


def stands_at(path: Path) -> str:
    """Return what a file would replace where that is no plain file: "a link to b.svg"; else ""."""
    try:
        mode = path.lstat().st_mode
    except OSError:
        return ""
    if stat.S_ISLNK(mode):
        return f"a link to {path.readlink()}"
    kinds = {stat.S_IFIFO: "a pipe", stat.S_IFSOCK: "a socket"}
    kinds |= {stat.S_IFCHR: "a device", stat.S_IFBLK: "a device"}
    return kinds.get(stat.S_IFMT(mode), "")


@contextlib.contextmanager
def _locked(folder: Path) -> Iterator[None]:
    """Hold the lock of a folder, and clear what runs left in it that were killed as they wrote.

    The system lets go of the lock of a run that is killed. Where there are no locks (Windows, some
    network drives) nothing is cleared.
    """
    try:
        import fcntl  # noqa: PLC0415 - POSIX alone has it

        handle = os.open(folder, os.O_RDONLY)
    except (ImportError, OSError):
        yield
        return
    try:
        with contextlib.suppress(OSError):
            fcntl.flock(handle, fcntl.LOCK_EX)
            begin, end = UNFINISHED
            for left in folder.glob(f"{begin}*{end}"):
                left.unlink(missing_ok=True)
        yield
    finally:
        os.close(handle)


def _stage(path: Path, content: str | bytes) -> Path:
    begin, end = UNFINISHED
    number, name = tempfile.mkstemp(prefix=begin, suffix=end, dir=path.parent)
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
