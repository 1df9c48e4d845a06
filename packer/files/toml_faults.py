"""What is wrong with a text that is not TOML, as a sentence with its line and the remedy."""

from __future__ import annotations

import re
from typing import Final

_AT: Final = re.compile(r"\(at (?:line (\d+), column (\d+)|end of document)\)")
_KEY: Final = re.compile(r"""\s*("(?:[^"\\]|\\.)*"|'[^']*'|[A-Za-z0-9_-]+)\s*=""")
_TABLE: Final = re.compile(r"\s*\[\s*([^\[\]]+?)\s*\]")
_WORD: Final = re.compile(r"""[A-Za-z_][^\s"',#\]}]*""")
_BARE_NAME: Final = re.compile(r"""\s*([^\s"'=\[\]{},#.]*[^\x00-\x7f][^\s"'=\[\]{},#.]*)\s*=""")
_DECIMAL_COMMA: Final = re.compile(r"=\s*(\d+),(\d+)\s*[,}\s]*$|=\s*(\d+),(\d+)\s*[,}]")
_CURLY: Final = re.compile("[\u2018\u2019\u201c\u201d\u201e\u00ab\u00bb]")

_REMEDIES: Final = (
    ("unclosed array", "a list is not closed; write ] at its end"),
    (
        "unclosed inline table",
        "the braces are not closed or a comma is missing; write commas between, } at the end",
    ),
    ("expected '=' after", 'an "=" is missing; write a name, "=" and its value'),
    ("illegal character '\\n'", "a text is not closed; write a quote at its end"),
    ("unterminated string", "a text is not closed; write a quote at its end"),
    ("expected newline", "more follows than one value; put each entry on a line of its own"),
    ("expected ']'", "the name of a table is not closed; write ] after it"),
    (
        "duplicate inline table key",
        "a name stands twice between the braces; remove one of them",
    ),
    (
        "invalid statement",
        'this is no entry; write a name, "=" and its value, or a table [name]',
    ),
    (
        "invalid initial character for a key",
        'a name is missing; write a name, "=" and its value, and no comma after the last entry',
    ),
    (
        "invalid value",
        "a value is missing or is no number, text, list or true or false; mend it",
    ),
)
"""What the reader of the standard library says, and what a designer can do about it."""


def toml_fault(text: str, error: Exception) -> str:
    """Return a sentence on what is wrong with a text, and how to mend it.

    Parameters
    ----------
    text
        What could not be read.
    error
        What the standard library's reader said of it: its words and the line.
    """
    lines = text.splitlines() or [""]
    told = str(error)
    at = _AT.search(told)
    number = int(at[1]) if at and at[1] else len(lines)
    number = min(max(number, 1), len(lines))
    line = lines[number - 1]
    said = told.lower()
    if "overwrite" in said or "twice" in said:
        return _twice(lines, number)
    if _CURLY.search(line):
        return f"line {number}: these are printer's quotes; write straight ones"
    if comma := _DECIMAL_COMMA.search(line):
        whole, part = (group for group in comma.groups() if group)
        return f"line {number}: {whole},{part} is no number; write {whole}.{part}"
    if bare := _BARE_NAME.match(line):
        return (
            f"line {number}: a name with letters beyond a to z stands in quotes; write "
            f'"{bare[1]}" in place of {bare[1]}'
        )
    if at and at[2] and "invalid value" in said:
        word = _WORD.match(line, int(at[2]) - 1)
        if word and word[0].lower() in {"true", "false"}:
            return f"line {number}: write {word[0].lower()} in place of {word[0]}"
        if word:
            return f'line {number}: the quotes are missing; write "{word[0]}" in place of {word[0]}'
    for words, remedy in _REMEDIES:
        if words in said:
            return f"line {number}: {remedy}"
    return f"line {number} is not TOML: {told[:1].lower()}{told[1:]}; mend it there"


def _twice(lines: list[str], number: int) -> str:
    """Return where the name or table that a line gives a second time stands before."""
    table = _TABLE.match(lines[number - 1])
    if table:
        name = table[1]
        first = next(
            (
                k
                for k, line in enumerate(lines, 1)
                if (m := _TABLE.match(line)) and m[1] == name
            ),
            number,
        )
        return (
            f"the table [{name}] stands twice, lines {first} and {number}; "
            "write its entries under one of them"
        )
    key = _KEY.match(lines[number - 1])
    if not key:
        return f"line {number}: a name is given a second time; remove one of the two"
    start = next((k for k in range(number - 1, 0, -1) if _TABLE.match(lines[k - 1])), 0)
    first = next(
        k
        for k in range(start + 1, number + 1)
        if (m := _KEY.match(lines[k - 1])) and m[1].strip("\"'") == key[1].strip("\"'")
    )
    name = key[1].strip("\"'")
    return f"{name} stands twice, lines {first} and {number}; give each part its own name"
