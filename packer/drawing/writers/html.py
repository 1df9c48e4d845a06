"""Plain HTML: text that is always escaped, tables, bars, and one page that needs nothing else."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from importlib.resources import files
from typing import TYPE_CHECKING

from packer.drawing.marks.strokes import plain

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"
"""What the page may load: nothing but its own styles. Scripts never run in it."""


@dataclass(frozen=True)
class Table:
    """A table as text.

    Parameters
    ----------
    caption
        What it shows.
    heads, rows
        Cells as text.
    left
        Columns aligned at their left; all others at their right.
    parts
        For each row the flaps or rivers that it lights up in the drawings; none by default.
    bars
        For a column, by index, a share in [0, 1] for each row, drawn as a bar behind the text.
    """

    caption: str
    heads: Sequence[str]
    rows: Sequence[Sequence[str]]
    left: Sequence[int] = (0,)
    parts: Sequence[Sequence[str]] = ()
    bars: Mapping[int, Sequence[float]] | None = None


def text(words: str) -> str:
    """Return text that is safe in an element and in a quoted attribute."""
    return escape(plain(words), quote=True)


def name(words: str) -> str:
    """Return a name, kept apart from the direction of the text around it."""
    return f"<bdi>{text(words)}</bdi>"


def paragraphs(lines: Iterable[str], kind: str = "") -> str:
    """Return one paragraph a line."""
    start = f'<p class="{kind}">' if kind else "<p>"
    return "".join(f"{start}{text(line)}</p>\n" for line in lines)


def bullets(lines: Iterable[str]) -> str:
    """Return a list."""
    return f"<ul>\n{_items(lines)}</ul>\n"


def numbered(lines: Iterable[str]) -> str:
    """Return a list of steps, numbered from 1."""
    return f"<ol>\n{_items(lines)}</ol>\n"


def _items(lines: Iterable[str]) -> str:
    return "".join(f"<li>{text(line)}</li>\n" for line in lines)


def section(title: str, *content: str) -> str:
    """Return a section with a heading of its own."""
    anchor = title.lower().replace(" ", "-")
    return (
        f'<section aria-labelledby="{anchor}">\n<h2 id="{anchor}">{text(title)}</h2>\n'
        f"{''.join(content)}</section>\n"
    )


def details(summary: str, content: str) -> str:
    """Return content that is folded away on a screen."""
    return f"<details><summary>{text(summary)}</summary>\n{content}</details>\n"


def code(words: str) -> str:
    """Return lines to copy, each kept as it is."""
    lines = "\n".join(text(line) for line in words.splitlines())
    return f'<pre tabindex="0"><code>{lines}</code></pre>\n'


def picture(svg: str, caption: str) -> str:
    """Return an SVG drawing, as it is, with a caption."""
    return f"<figure>\n{svg}<figcaption>{text(caption)}</figcaption>\n</figure>\n"


def table(data: Table) -> str:
    """Return a table that scrolls sideways where the window is narrow."""
    heads = "".join(
        f'<th scope="col"{_side(data, k)}>{text(head)}</th>'
        for k, head in enumerate(data.heads)
    )
    lines = []
    for n, row in enumerate(data.rows):
        cells = [_cell(data, n, k, cell) for k, cell in enumerate(row)]
        lit = f' id="part-{n}" tabindex="0"' if data.parts else ""
        lines.append(f"<tr{lit}>{''.join(cells)}</tr>")
    body = "\n".join(lines)
    return (
        f'<div class="wide" tabindex="0" role="region" aria-label="{text(data.caption)}">\n'
        f"<table><caption>{text(data.caption)}</caption>\n<thead><tr>{heads}</tr></thead>\n"
        f"<tbody>\n{body}\n</tbody></table>\n</div>\n"
    )


def _cell(data: Table, n: int, k: int, words: str) -> str:
    if k == 0:
        return f'<th scope="row">{name(words)}</th>'
    share = data.bars[k][n] if data.bars and k in data.bars else None
    if share is None:
        return f"<td{_side(data, k)}>{text(words)}</td>"
    bar = f'<span class="bar" style="width:{100 * min(max(share, 0.0), 1.0):.1f}%"></span>'
    return f'<td class="barred">{bar}<span>{text(words)}</span></td>'


def _side(data: Table, k: int) -> str:
    barred = data.bars is not None and k in data.bars
    return "" if k in data.left or barred else ' class="number"'


def lighting(parts: Sequence[Sequence[str]]) -> str:
    """Return styles that light a part in all drawings where it, or its row, is pointed at.

    Parameters
    ----------
    parts
        For each row of the table of parts the names it stands for.
    """
    rules = []
    for n, names in enumerate(parts):
        marks = [f'[data-part="{_css(part)}"]' for part in names]
        row = f"#part-{n}"
        rules += [
            f"main:has(.pair svg {mark}:hover) .pair svg {mark}{{opacity:1}}" for mark in marks
        ]
        lit = ",".join(f"main:has(.pair svg {mark}:hover) {row}" for mark in marks)
        rules.append(f"{lit}{{background:var(--lit)}}")
        shown = ",".join(marks)
        rules += [
            f"main:has({row}:{state}) .pair svg :is({shown}){{opacity:1}}"
            for state in ("hover", "focus")
        ]
    return "\n".join(rules)


def _css(words: str) -> str:
    """Return text for a string in a style sheet: all but letters and digits are escaped."""
    return "".join(c if c.isascii() and c.isalnum() else f"\\{ord(c):x} " for c in plain(words))


def page(title: str, description: str, body: str, styles: str = "") -> str:
    """Return a whole page that loads nothing, runs nothing and prints on A4."""
    css = files("packer.drawing.writers").joinpath("report.css").read_text("utf-8")
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        '<meta name="color-scheme" content="light dark">\n'
        f'<meta name="description" content="{text(description)}">\n'
        f"<title>{text(title)}</title>\n<style>\n{css}{styles}\n</style>\n</head>\n"
        f"<body>\n{body}</body>\n</html>\n"
    )
