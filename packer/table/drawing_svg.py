"""The drawing as SVG that ``packer sketch`` and any vector editor read back."""

from __future__ import annotations

import base64
from typing import TYPE_CHECKING, Final
from xml.sax.saxutils import escape, quoteattr

if TYPE_CHECKING:
    from collections.abc import Iterable

    from packer.model.sheet import Point
    from packer.table.draft import Draft, DraftPart

MARGIN: Final = 40.0
"""Pixels left free about the drawing."""
INK: Final = "#222222"


def drawing_svg(draft: Draft, picture: tuple[str, bytes] | None = None) -> str:
    """Return the strokes of a draft, twins written out, each under its name.

    Parameters
    ----------
    draft
        With one part at least.
    picture
        The kind, "png" or "jpg", and the bytes of the picture under it.
    """
    lines = [line for part in draft.parts for _, line in strokes(draft, part)]
    points = [point for line in lines for point in line]
    left, top = (min(p[k] for p in points) - MARGIN for k in (0, 1))
    width = max(p[0] for p in points) + MARGIN - left
    height = max(p[1] for p in points) + MARGIN - top
    box = f"{left:.6g} {top:.6g} {width:.6g} {height:.6g}"
    out = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.6g}" '
            f'height="{height:.6g}" viewBox="{box}">'
        ),
        f"  <title>{escape(draft.name)}</title>",
    ]
    if draft.picture is not None and picture is not None:
        out.append(_image(draft, *picture))
    out.append(
        f'  <g fill="none" stroke="{INK}" stroke-width="2.5" stroke-linecap="round" '
        'stroke-linejoin="round">'
    )
    out += [
        f"    <path aria-label={quoteattr(title)} d={quoteattr(_path(line))}/>"
        for part in draft.parts
        for title, line in strokes(draft, part)
    ]
    return "\n".join([*out, "  </g>", "</svg>", ""])


def strokes(draft: Draft, part: DraftPart) -> list[tuple[str, tuple[Point, ...]]]:
    """Return the stroke of a part, or of both twins, with their names."""
    line = draft.line(part)
    if not part.pair and draft.twinned.isdisjoint({part.near, part.far}):
        return [(part.name, line)]
    # a joint off the mirror line without a twin is where both begin
    ends = (part.near in draft.twinned, part.far in draft.twinned)
    turns = (ends[0], *(True for _ in part.bends), ends[1])
    mirrored = tuple((-x if turn else x, y) for (x, y), turn in zip(line, turns, strict=True))
    sides = [line, mirrored] if sum(x for x, _ in line) <= 0 else [mirrored, line]
    return [(f"{part.name} left", sides[0]), (f"{part.name} right", sides[1])]


def _path(line: Iterable[Point]) -> str:
    return "M" + " L".join(f"{x:.6f} {y:.6f}" for x, y in line)


def _image(draft: Draft, kind: str, content: bytes) -> str:
    from packer.table.pictures import size_of  # noqa: PLC0415 - beside its only use

    width, height = size_of(content)
    seen = draft.picture
    assert seen is not None
    media = {"png": "image/png", "jpg": "image/jpeg"}[kind]
    data = base64.b64encode(content).decode("ascii")
    (x, y), s = seen.at, seen.scale
    return (
        f'  <image opacity="{seen.strength:.3g}" width="{width}" height="{height}" '
        f'transform="translate({x:.6g} {y:.6g}) rotate({seen.turn:.6g}) scale({s:.6g}) '
        f'translate({-width / 2:g} {-height / 2:g})" href="data:{media};base64,{data}"/>'
    )
