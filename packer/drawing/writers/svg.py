"""A drawing as SVG: true millimetres, one named group a layer, the same bytes every time."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING
from xml.sax.saxutils import escape, quoteattr

from packer.drawing.marks.dashes import fitted, length_of
from packer.drawing.marks.strokes import Area, Disc, Drawing, Label, Mark, Path, plain
from packer.drawing.marks.styles import GREY, HALO, HALO_OPACITY, PART, STYLES, WHITE

if TYPE_CHECKING:
    from collections.abc import Mapping

    from packer.drawing.marks.strokes import Point
    from packer.drawing.marks.styles import Style

Attributes = dict[str, str]

DIGITS = 4
"""Decimals of a millimetre written: a tenth of a micrometre, finer than any printer."""


def svg_text(drawing: Drawing, prefix: str = "", styles: Mapping[str, Style] = STYLES) -> str:
    """Return a drawing as an SVG document.

    One user unit is one millimetre, and (0, 0) is the upper left corner of the drawing's
    rectangle, whose margin lies outside it.

    Parameters
    ----------
    drawing
        What to draw.
    prefix
        Put before every id, for several drawings in one page.
    styles
        How each kind of mark looks.
    """
    m = drawing.margin
    width, height = drawing.width + 2 * m, drawing.height + 2 * m
    size = {"width": f"{_number(width)}mm", "height": f"{_number(height)}mm"}
    box = " ".join(map(_number, (-m, -m, width, height)))
    root = {
        "xmlns": "http://www.w3.org/2000/svg",
        "role": "img",
        "aria-labelledby": f"{prefix}title {prefix}description",
        **size,
        "viewBox": box,
    }
    lines = [
        f"{_element('svg', root)}>",
        f'<title id="{prefix}title">{_text(drawing.title)}</title>',
        f'<desc id="{prefix}description">{_text(drawing.description)}</desc>',
    ]
    for name, marks in drawing.groups:
        lines += _group(drawing, prefix, name, marks, styles)
    return "\n".join([*lines, "</svg>"]) + "\n"


def _group(
    drawing: Drawing,
    prefix: str,
    name: str,
    marks: tuple[Mark, ...],
    styles: Mapping[str, Style],
) -> list[str]:
    rows = [(_style(mark, styles[mark.kind], drawing.colours), mark) for mark in marks]
    shared = dict(rows[0][0]) if rows else {}
    for style, _ in rows:
        shared = {key: value for key, value in shared.items() if style.get(key) == value}
    start = _element("g", {"id": prefix + re.sub(r"[^A-Za-z0-9_-]+", "-", name), **shared})
    lines = [f"{start}>"]
    for style, mark in rows:
        own = {key: value for key, value in style.items() if key not in shared}
        lines.append(_mark(drawing, mark, own))
    return [*lines, "</g>"]


def _style(mark: Mark, style: Style, colours: Mapping[str, str]) -> Attributes:
    part = colours.get(mark.part, GREY)
    fill = part if style.fill == PART else style.fill
    line = part if style.line == PART else style.line
    if isinstance(mark, Label):
        properties = {
            "fill": fill,
            "font-family": "sans-serif",
            "font-size": _number(mark.size),
            "text-anchor": mark.anchor,
        }
        if style.halo:
            properties |= {
                "stroke": WHITE,
                "stroke-opacity": _number(HALO_OPACITY),
                "stroke-width": _number(HALO * mark.size),
                "stroke-linejoin": "round",
                "paint-order": "stroke",
            }
        return {**properties, "font-weight": "bold"} if style.bold else properties
    properties = {"fill": "none" if isinstance(mark, Path) or not fill else fill}
    if properties["fill"] != "none" and style.opacity < 1:
        properties["fill-opacity"] = _number(style.opacity)
    if isinstance(mark, Area) and len(mark.rings) > 1:
        properties["fill-rule"] = "evenodd"
    if not line:
        return properties
    properties |= {"stroke": line, "stroke-width": _number(style.width)}
    properties |= {
        "stroke-linecap": "butt" if style.dash else "round",
        "stroke-linejoin": "round",
    }
    if style.dash:
        dash = style.dash
        if isinstance(mark, Path):
            dash = fitted(dash, length_of(mark))
            properties["stroke-dashoffset"] = _number(dash[0] / 2)
        properties["stroke-dasharray"] = " ".join(map(_number, dash))
    return properties


def _mark(drawing: Drawing, mark: Mark, own: Attributes) -> str:
    if mark.part:
        own = {"data-part": mark.part, **own}
    if isinstance(mark, Label):
        return _label(drawing, mark, own)
    if isinstance(mark, Disc):
        x, y = mark.centre
        place = {"cx": x, "cy": drawing.height - y, "r": mark.radius}
        start = _element("circle", {key: _number(v) for key, v in place.items()} | own)
    elif isinstance(mark, Path):
        start = _element(
            "path", {"d": _way(drawing, mark.points, mark.bulges, mark.closed)} | own
        )
    else:
        bulges = mark.bulges or ((),) * len(mark.rings)
        ways = (
            _way(drawing, ring, bulge, True)
            for ring, bulge in zip(mark.rings, bulges, strict=True)
        )
        start = _element("path", {"d": "".join(ways)} | own)
    if not mark.title:
        return f"{start}/>"
    name = "circle" if isinstance(mark, Disc) else "path"
    return f"{start}><title>{_text(mark.title)}</title></{name}>"


def _label(drawing: Drawing, label: Label, own: Attributes) -> str:
    # Not every program knows dominant-baseline: the base line is set by hand, a third of the
    # size below the middle of the letters.
    x, y = label.at[0], drawing.height - label.at[1]
    if label.angle:
        own["transform"] = f"rotate({_number(-label.angle)} {_number(x)} {_number(y)})"
    place = {"x": _number(x), "y": _number(y + 0.35 * label.size)}
    return f"{_element('text', place | own)}>{_text(label.text)}</text>"


def _way(
    drawing: Drawing, points: tuple[Point, ...], bulges: tuple[float, ...], closed: bool
) -> str:
    """Return the path data of a line; a bulge becomes an arc."""
    positions = [f"{_number(x)} {_number(drawing.height - y)}" for x, y in points]
    words = [f"M{positions[0]}"]
    sides = len(points) if closed else len(points) - 1
    for k in range(sides):
        bulge = bulges[k] if bulges else 0.0
        end = (k + 1) % len(points)
        if not bulge:
            if end or not closed:
                words.append(f"L{positions[end]}")
            continue
        (x0, y0), (x1, y1) = points[k], points[end]
        chord = ((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5
        radius = _number(chord * (1 + bulge * bulge) / (4 * abs(bulge)))
        # y points down in SVG, so that a left turn becomes its sweep of 0
        words.append(
            f"A{radius} {radius} 0 {int(abs(bulge) > 1)} {int(bulge < 0)} {positions[end]}"
        )
    return "".join(words) + ("Z" if closed else "")


def _element(name: str, attributes: Attributes) -> str:
    """Return an opening tag without its closing bracket."""
    return f"<{name}" + "".join(
        f" {key}={quoteattr(plain(value))}" for key, value in attributes.items()
    )


def _text(text: str) -> str:
    return escape(plain(text))


def _number(value: float) -> str:
    """Return a number in few characters; never "-0" or an exponent."""
    text = f"{value:.{DIGITS}f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
