"""Whether a stroke of a drawing can be seen: the few style properties that decide it.

Presentation attributes, simple style sheets and ``style`` attributes win over each other in the
order of *Cascading Style Sheets*, level 2 (W3C recommendation, 2011), section 6.4.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Final

from packer.errors import ReadError
from packer.units import MM_PER_UNIT

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from xml.etree.ElementTree import Element

PX_PER_INCH: Final = 96.0
"""Pixels in an inch, fixed by *CSS Values and Units*, level 3."""

MM_PER_PX: Final = 25.4 / PX_PER_INCH

Look = dict[str, str]
"""Style properties by name, as they hold for one element."""

INITIAL: Final[Look] = {
    "stroke": "none",
    "stroke-width": "1",
    "stroke-opacity": "1",
    "opacity": "1",
    "visibility": "visible",
    "display": "inline",
    "font-size": "16",
    "text-anchor": "start",
}

_NOT_INHERITED: Final = ("opacity", "display")
_RULE: Final = re.compile(r"([^{}@]+)\{([^{}]*)\}")
_SELECTOR: Final = re.compile(r"(\*|[\w-]+)?(?:\.([\w-]+))?(?:#([\w-]+))?")
_LENGTH: Final = re.compile(r"\s*([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)\s*([a-z%]*)\s*")
_IN_PX: Final = {
    "": 1.0,
    "px": 1.0,
    "pc": PX_PER_INCH / 6,
    "em": 16.0,
    "ex": 8.0,
    "q": 0.25 / MM_PER_PX,
    **{unit: mm / MM_PER_PX for unit, mm in MM_PER_UNIT.items()},
}

Sheet = list[tuple[int, re.Match[str], Look]]
"""Rules of a style sheet: how specific, for what, and what they set; the strongest last."""


def style_sheet(texts: Iterator[str]) -> Sheet:
    """Read style sheets; selectors other than a word, a class and an id are passed over."""
    found: Sheet = []
    for text in texts:
        for names, body in _RULE.findall(re.sub(r"/\*.*?\*/", "", text, flags=re.DOTALL)):
            for name in names.split(","):
                match = _SELECTOR.fullmatch(name.strip())
                if match and name.strip():
                    weight = 100 * bool(match[3]) + 10 * bool(match[2]) + bool(match[1])
                    found.append((weight, match, _declarations(body)))
    return sorted(found, key=lambda rule: rule[0])


def look_of(element: Element, above: Mapping[str, str], sheet: Sheet) -> Look:
    """Return the style of an element inside a parent with the style `above`.

    Opacity is multiplied down the tree and a display of "none" is handed on, so that the
    result tells by itself whether the element is seen.
    """
    own: Look = {k: v.strip() for k, v in element.attrib.items() if k in INITIAL}
    word = local_name(element.tag)
    classes = element.get("class", "").split()
    for _, match, sets in sheet:
        if (
            match[1] in {None, "*", word}
            and (match[2] is None or match[2] in classes)
            and (match[3] is None or match[3] == element.get("id"))
        ):
            own |= sets
    own |= _declarations(element.get("style", ""))
    look = dict(above)
    look |= {k: v for k, v in own.items() if v != "inherit" and k not in _NOT_INHERITED}
    look["opacity"] = str(_share(above["opacity"]) * _share(own.get("opacity", "1")))
    if own.get("display") == "none":
        look["display"] = "none"
    return look


def is_hidden(look: Mapping[str, str]) -> bool:
    """Whether nothing with this style is seen, whatever it is."""
    return (
        look["display"] == "none"
        or look["visibility"] in {"hidden", "collapse"}
        or _share(look["opacity"]) == 0
    )


def has_stroke(look: Mapping[str, str]) -> bool:
    """Whether an outline in this style is drawn."""
    return (
        look["stroke"] not in {"none", "transparent", ""}
        and _share(look["stroke-opacity"]) > 0
        and length_px(look["stroke-width"], 1.0) > 0
    )


def length_px(text: str, whole: float) -> float:
    """Read a length such as ``12``, ``3mm`` or ``50%`` (of `whole`) in pixels.

    Raises
    ------
    ReadError
        Where the text is no length.
    """
    match = _LENGTH.fullmatch(text.lower())
    if match and match[2] == "%":
        return float(match[1]) / 100 * whole
    if not match or match[2] not in _IN_PX:
        raise ReadError(f'"{text}" is no length')
    return float(match[1]) * _IN_PX[match[2]]


def local_name(tag: object) -> str:
    """Return a tag or attribute name without its name space; empty for a comment."""
    return tag.rpartition("}")[2] if isinstance(tag, str) else ""


def _declarations(text: str) -> Look:
    found: Look = {}
    for part in text.split(";"):
        name, colon, value = part.partition(":")
        if colon and name.strip().lower() in INITIAL:
            found[name.strip().lower()] = value.replace("!important", "").strip()
    return found


def _share(text: str) -> float:
    try:
        return max(0.0, length_px(text, 1.0))
    except ReadError:
        return 1.0
