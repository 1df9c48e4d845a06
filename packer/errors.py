"""Everything that packer refuses, said in one sentence.

Each error is also a child of the builtin that fits, so that a program that knows nothing of
packer can still catch it.
"""

from __future__ import annotations

import difflib
from typing import TYPE_CHECKING, Self

from packer.limits import LONGEST_ENTRY, LONGEST_MESSAGE, LONGEST_PATH, cut_short

if TYPE_CHECKING:
    from collections.abc import Iterable


class PackerError(Exception):
    """A wrong input or a failed run, with the place where it is wrong.

    Parameters
    ----------
    message
        What was found, what was wanted and the remedy.
    entry
        The entry at fault, as the designer wrote it: ``"flaps.claw"``.
    source
        The file it stands in; filled in by whoever reads the file.
    """

    def __init__(self, message: str, entry: str = "", source: str = "") -> None:
        super().__init__(message, entry, source)
        self.message = message
        self.entry = entry
        self.source = source

    def __str__(self) -> str:
        source = cut_short(self.source, LONGEST_PATH)
        entry = cut_short(self.entry, LONGEST_ENTRY)
        message = cut_short(self.message, LONGEST_MESSAGE)
        where = ", ".join(part for part in (source, entry) if part)
        return f"{where}: {message}" if where else message

    def found_in(self, source: str) -> Self:
        """Return the same error, saying which file it stands in."""
        return type(self)(self.message, self.entry, source)


class FigureError(PackerError, ValueError):
    """A figure that is no tree of lengths, or whose wishes contradict each other."""


class SheetError(PackerError, ValueError):
    """A sheet that is no rectangle of paper."""


class PackingError(PackerError, ValueError):
    """Tips, lengths or records that are no packing of their figure."""


class OptionError(PackerError, ValueError):
    """An option, a number or a choice that a command cannot take."""


class ReadError(PackerError, OSError):
    """A file that cannot be read or written, or is not in the format it should be."""


class SearchError(PackerError, RuntimeError):
    """A search that ended without any result."""


class PatternError(PackerError, ValueError):
    """A crease pattern that could not be completed, or is none."""


SHOWN = 16
"""Most words that an error lists."""


def did_you_mean(word: str, choices: Iterable[str]) -> str:
    """Return ``'; did you mean "length"?'`` for a near miss, else what may be written."""
    known = list(choices)
    near = difflib.get_close_matches(word, known, n=1, cutoff=0.5)
    if near:
        return f'; did you mean "{near[0]}"?'
    if not known:
        return ""
    more = " and others" if len(known) > SHOWN else ""
    return f"; known are {', '.join(known[:SHOWN])}{more}"
