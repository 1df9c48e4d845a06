"""Reading a small text file whole, with a sentence for each way in which that can fail."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Final, TypeVar

from packer.errors import PackerError, ReadError

if TYPE_CHECKING:
    from collections.abc import Callable

Made = TypeVar("Made")

MOST_BYTES: Final = 16 * 2**20
"""Largest file read, in bytes; a packing of a thousand flaps stays well below."""


def read_as(
    path: Path | str, what: str, make: Callable[[str], Made], most: int = MOST_BYTES
) -> Made:
    """Return what is made of the text of a file; whatever is wrong names the file.

    Parameters
    ----------
    path, what, most
        As of `read_text`.
    make
        Makes it of the text.

    Raises
    ------
    PackerError
        Where `read_text` or `make` raises one.
    """
    path = Path(path)
    text = read_text(path, what, most)
    try:
        return make(text)
    except PackerError as error:
        raise error.found_in(str(path)) from None


def read_text(path: Path, what: str, most: int = MOST_BYTES) -> str:
    """Return the text of a file.

    Parameters
    ----------
    path
        The file.
    what
        What it should be, for the error: ``"a figure file"``.
    most
        Largest size accepted, in bytes.

    Raises
    ------
    ReadError
        Where it is missing, a directory, not readable, far too large or not UTF-8.
    """
    raw = read_whole(path, what, most)
    try:
        return raw.decode("utf-8-sig")  # some editors put a byte order mark first
    except UnicodeDecodeError as error:
        raise ReadError(
            f"byte {error.start} is not UTF-8; save it as UTF-8 text", source=str(path)
        ) from None


def read_whole(path: Path, what: str, most: int = MOST_BYTES) -> bytes:
    """Return the bytes of a file; parameters and errors as of `read_text`."""
    source = str(path)
    try:
        with path.open("rb") as file:
            raw = file.read(most + 1)
    except IsADirectoryError:
        raise ReadError(f"this is a directory; name {what} in it", source=source) from None
    except FileNotFoundError:
        near = _near(path)
        raise ReadError(f"no such file; name {what}{near}", source=source) from None
    except (OSError, ValueError) as error:  # ValueError: a NUL in the name
        reason = getattr(error, "strerror", None) or str(error)
        raise ReadError(
            f"it cannot be read ({reason}); name {what} that can", source=source
        ) from None
    if len(raw) > most:
        raise ReadError(
            f"more than {most // 2**20} MiB is far too large; name {what}", source=source
        )
    return raw


def _near(path: Path) -> str:
    import difflib  # noqa: PLC0415 - only a missing file needs it

    try:
        names = sorted(p.name for p in path.parent.iterdir() if p.suffix == path.suffix)
    except (OSError, ValueError):
        return ""
    near = difflib.get_close_matches(path.name, names, n=1, cutoff=0.75)
    return f', perhaps "{path.parent / near[0]}"' if near else ""
