"""The line of a shell that a run was started by, kept with what it makes."""

from __future__ import annotations

import json
import shlex
from contextvars import ContextVar
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from collections.abc import Iterator

TYPED: Final[ContextVar[tuple[str, ...]]] = ContextVar("typed", default=())
"""The words after ``packer`` of the run."""

LEFT_OUT: Final = {
    "--out": 1,
    "--force": 0,
    "--quiet": 0,
    "--json": 0,
    "--cluster": 1,
    "--workers": 1,
}
"""Options that say where and how a result is told, with the number of their words."""


def command_line() -> str:
    """Return the line that makes a result again, beside its input; empty where none is known."""
    words = list(_telling(TYPED.get()))
    return shlex.join(["packer", *words]) if words else ""


def _telling(typed: tuple[str, ...]) -> Iterator[str]:
    """Yield the words that shape the result, files by their names alone."""
    words = iter(typed)
    for word in words:
        name = word.partition("=")[0]
        if name in LEFT_OUT:
            if "=" not in word:
                for _ in range(LEFT_OUT[name]):
                    next(words, None)
        elif "/" in word and Path(word).suffix and not word.startswith("("):
            yield Path(word).name
        else:
            yield word


def command_in(path: Path) -> str:
    """Return the line kept in a file of results; empty where it holds none."""
    record = _record(path)
    line = record.get("packer:command", record.get("command", ""))
    return line if isinstance(line, str) and "\n" not in line else ""


def advice_in(path: Path) -> list[str] | None:
    """Return the advice kept in a packing file; None where it holds none."""
    advice = _record(path).get("advice")
    if isinstance(advice, list) and all(isinstance(line, str) for line in advice):
        return advice
    return None


def _record(path: Path) -> dict[str, Any]:
    try:
        record = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return record if isinstance(record, dict) else {}
