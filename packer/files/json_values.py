"""JSON objects with a format and a version, written by the line and read with every value checked.

The checks raise `PackingError` with the entry at fault; whoever reads the file adds its name.
"""

from __future__ import annotations

import json
import math
from typing import TYPE_CHECKING, Any, Final

from packer.errors import PackingError, ReadError, did_you_mean
from packer.numbers import as_number

if TYPE_CHECKING:
    from collections.abc import Iterable

    from packer.model.sheet import Point

REPACK: Final = "; pack the figure again"
"""The remedy for a value that no packer has written."""

GREATEST: Final = 1e30
"""Largest size of a number in a file: far beyond any sheet, and its square is still finite."""

REWRITE: Final = "; write the file again with packer crease"
"""That for a value in a FOLD file."""


def json_object(text: str, form: str, version: int) -> dict[str, Any]:
    """Return the object in a JSON text whose "format" and "version" are those expected.

    Raises
    ------
    ReadError
        Where the text is not JSON, no object, or of another format or version.
    """
    try:
        record = json.loads(text)
    except RecursionError:
        raise ReadError("brackets are nested far too deep; name another file") from None
    except ValueError as error:
        raise ReadError(f"not JSON: {error}; name a file written by packer") from None
    if not isinstance(record, dict):
        raise ReadError(f'not a "{form}" file; name a file written by packer')
    if record.get("format") != form:
        given = "no format is given" if "format" not in record else shown(record["format"])
        raise ReadError(
            f'{given}, and "{form}" is wanted; name a file of that format', "format"
        )
    if record.get("version") != version or isinstance(record["version"], bool):
        raise ReadError(
            f"version {shown(record.get('version'))} is not {version}; write it again with this "
            "packer",
            "version",
        )
    return record


def json_lines(record: dict[str, Any]) -> str:
    """Return a record as JSON with one line a key, and one a part where a value is an object."""
    lines = []
    for key, value in record.items():
        if isinstance(value, dict) and any(isinstance(v, dict | list) for v in value.values()):
            inner = ",\n".join(f"    {_json(k)}: {_json(v)}" for k, v in value.items())
            lines.append(f"  {_json(key)}: {{\n{inner}\n  }}")
        else:
            lines.append(f"  {_json(key)}: {_json(value)}")
    return "{\n" + ",\n".join(lines) + "\n}\n"


def _json(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False)


def check_keys(
    record: dict[str, Any], keys: Iterable[str], entry: str = "", remedy: str = REPACK
) -> None:
    """Refuse a record that lacks a key."""
    for key in keys:
        if key not in record:
            raise PackingError(f'"{key}" is missing{remedy}', entry)


def by_name(value: object, names: tuple[str, ...], entry: str) -> dict[str, Any]:
    """Return the entries of an object in the order of the names, which must be its keys."""
    table = as_object(value, entry)
    for name in names:
        if name not in table:
            raise PackingError(f'"{name}" is missing{REPACK}', entry)
    for name in table:
        if name not in names:
            raise PackingError(
                f'"{name}" is no part of the figure{did_you_mean(name, names)}', entry
            )
    return {name: table[name] for name in names}


def as_object(value: object, entry: str) -> dict[str, Any]:
    """Return a value that is an object."""
    if not isinstance(value, dict):
        raise PackingError(f"{shown(value)} is no object{REPACK}", entry)
    return value


def as_list(value: object, entry: str) -> list[Any]:
    """Return a value that is a list."""
    if not isinstance(value, list):
        raise PackingError(f"{shown(value)} is no list{REPACK}", entry)
    return value


def as_rivers(value: object, rivers: tuple[str, ...]) -> tuple[str, ...]:
    """Return the value of "split_rivers", which are rivers of the figure."""
    names = as_list(value, "split_rivers")
    for name in names:
        if name not in rivers:
            raise PackingError(f"{shown(name)} is no river of the figure", "split_rivers")
    return tuple(names)


def rule_of(record: dict[str, Any]) -> str:
    """Return the name of the rule that gave a record's bound."""
    rule = record.get("bound_rule")
    if not isinstance(rule, str):
        raise PackingError(f'"bound_rule" does not name the rule of the bound{REPACK}')
    return rule


def as_point(value: object, entry: str, remedy: str = REPACK) -> Point:
    """Return a value that is two finite numbers."""
    if not isinstance(value, list) or len(value) != 2:
        raise PackingError(f"{shown(value)} is no point [x, y]{remedy}", entry)
    return as_finite(value[0], entry, remedy), as_finite(value[1], entry, remedy)


def as_finite(value: object, entry: str, remedy: str = REPACK) -> float:
    """Return a value that is a finite number, of a size that can be reckoned with."""
    number = as_number(value)
    if number is None or not math.isfinite(number):
        raise PackingError(f"{shown(value)} is no finite number{remedy}", entry)
    if abs(number) > GREATEST:
        raise PackingError(f"{number:g} is beyond measure{remedy}", entry)
    return number


def as_between(value: object, entry: str, least: float, most: float) -> float:
    """Return a value that is a number within bounds."""
    number = as_finite(value, entry, REWRITE)
    if not least <= number <= most:
        raise PackingError(f"{number:g} is not between {least:g} and {most:g}{REWRITE}", entry)
    return number


def as_whole(value: object, entry: str, least: int, most: int) -> int:
    """Return a value that is a whole number within bounds, such as an index."""
    if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= most:
        raise PackingError(
            f"{shown(value)} is no whole number from {least} to {most}{REWRITE}", entry
        )
    return value


def as_text(value: object, entry: str) -> str:
    """Return a value that is a text which a file can hold."""
    if not isinstance(value, str):
        raise PackingError(f"{shown(value)} is no text{REWRITE}", entry)
    if any("\ud800" <= character <= "\udfff" for character in value):
        raise PackingError(f"a text holds half a character{REWRITE}", entry)
    return value


def as_positive(value: object, entry: str) -> float:
    """Return a value that is a finite number above zero."""
    number = as_finite(value, entry)
    if not number > 0:
        raise PackingError(f"{number:g} is not above zero{REPACK}", entry)
    return number


def shown(value: object) -> str:
    """Return a value as JSON, cut short, to be quoted in an error."""
    text = "nothing" if value is None else json.dumps(value, ensure_ascii=False)
    return text if len(text) <= 40 else text[:37] + "..."
