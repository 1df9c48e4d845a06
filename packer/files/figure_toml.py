"""The figure file: TOML 1.0 with one line a flap and one line a river."""

from __future__ import annotations

import json
import re
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from packer.errors import FigureError, ReadError
from packer.files.figure_record import figure_of, record_of
from packer.files.text import read_as
from packer.files.toml_faults import toml_fault

if TYPE_CHECKING:
    from packer.model.figure import Figure

MOST_FIGURE_BYTES: Final = 2**20
"""Largest figure file read, in bytes: a thousand flaps need a tenth of it."""

_BARE_KEY: Final = re.compile(r"[A-Za-z0-9_-]+")


def read_figure(path: Path | str) -> Figure:
    """Read a figure file.

    Parameters
    ----------
    path
        A TOML file; the figure takes its stem for a name where it gives none.

    Raises
    ------
    ReadError
        Where the file cannot be read or is not TOML.
    FigureError, SheetError
        Where an entry is wrong; the message names file, entry and remedy.
    """
    stem = Path(path).stem
    return read_as(
        path, "a figure file", lambda text: parse_figure(text, stem), MOST_FIGURE_BYTES
    )


def parse_figure(text: str, name: str = "") -> Figure:
    """Make a figure of the text of a figure file.

    Parameters
    ----------
    text
        TOML.
    name
        The figure's name where the text gives none.

    Raises
    ------
    ReadError
        Where the text is not TOML.
    FigureError, SheetError
        Where an entry is wrong.
    """
    if text.lstrip().startswith("{"):
        raise ReadError("this is JSON, such as a packing; name the figure it was made from")
    try:
        record = tomllib.loads(text)
    except ValueError as error:
        raise ReadError(toml_fault(text, error)) from None
    except RecursionError:
        raise ReadError("not a figure: brackets nested far too deep; remove them") from None
    if not record:
        raise FigureError("the file is empty; write a table [flaps]")
    return figure_of(record, name)


def figure_text(figure: Figure) -> str:
    """Return a figure as the text of a figure file; reading it gives an equal figure."""
    record = record_of(figure)
    head = [f"{k} = {_value(v)}" for k, v in record.items() if not isinstance(v, dict)]
    lines = [*head]
    for name, table in record.items():
        if isinstance(table, dict):
            lines += ["", f"[{name}]", *(f"{_key(k)} = {_value(v)}" for k, v in table.items())]
    return "\n".join(lines) + "\n"


def _key(key: str) -> str:
    return key if _BARE_KEY.fullmatch(key) else _quoted(key)


def _quoted(text: str) -> str:
    # JSON's escapes are TOML's too; TOML alone refuses a bare DEL.
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007F")


def _value(value: Any) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{_key(k)} = {_value(v)}" for k, v in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(map(_value, value)) + "]"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return repr(value).removesuffix(".0")
    return _quoted(value)
