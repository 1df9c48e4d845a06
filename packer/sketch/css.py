"""Whether a stroke of a drawing can be seen: the few style properties that decide it.

Presentation attributes, style sheets and ``style`` attributes win over each other in the order of
*Cascading Style Sheets*, level 2 (W3C recommendation, 2011), section 6.4. tinycss2 reads them and
cssselect2 matches their selectors, all of level 3 and most of level 4.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any, Final

import cssselect2
import tinycss2

from packer.errors import ReadError
from packer.units import MM_PER_UNIT

if TYPE_CHECKING:
    from collections.abc import Mapping
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

Declared = tuple[Look, Look]
"""What a rule sets, and what it sets as important."""


class Cascade:
    """The style sheets of a drawing, matched with its elements by cssselect2.

    Parameters
    ----------
    root
        The drawing.

    Attributes
    ----------
    passed
        Rules that were passed over, as they are written.
    """

    def __init__(self, root: Element) -> None:
        self.passed: list[str] = []
        self._matcher = cssselect2.Matcher()
        for element in root.iter():
            if local_name(element.tag) == "style":
                self._read(
                    tinycss2.parse_stylesheet(
                        element.text or "", skip_comments=True, skip_whitespace=True
                    )
                )
        wrapped = cssselect2.ElementWrapper.from_xml_root(root).iter_subtree()
        self._wrapped = {id(one.etree_element): one for one in wrapped}

    def _read(self, rules: list[Any]) -> None:
        for rule in rules:
            if rule.type != "qualified-rule":
                if rule.type == "at-rule":
                    self.passed.append(f"@{rule.at_keyword}")
                continue
            try:
                selectors = cssselect2.compile_selector_list(rule.prelude)
            except cssselect2.SelectorError:
                self.passed.append(tinycss2.serialize(rule.prelude).strip())
                continue
            declared = _declared(tinycss2.parse_blocks_contents(rule.content))
            for selector in selectors:
                if selector.pseudo_element is None:
                    self._matcher.add_selector(selector, declared)
                else:  # what stands before or after an element is no stroke
                    self.passed.append(tinycss2.serialize(rule.prelude).strip())

    def own(self, element: Element) -> Look:
        """Return what holds for an element itself: attributes, rules, its style, in that order."""
        look: Look = {k: v.strip() for k, v in element.attrib.items() if k in INITIAL}
        matched = self._matcher.match(self._wrapped[id(element)])
        declared = [rule for _, _, _, rule in matched]
        declared.append(_declared(tinycss2.parse_blocks_contents(element.get("style", ""))))
        for important in (0, 1):
            for rule in declared:
                look |= rule[important]
        return look


def _declared(declarations: list[Any]) -> Declared:
    """Return the properties that matter here of a list of declarations."""
    looks: Declared = ({}, {})
    for part in declarations:
        if part.type == "declaration" and part.lower_name in INITIAL:
            looks[part.important][part.lower_name] = tinycss2.serialize(part.value).strip()
    return looks


def look_of(element: Element, above: Mapping[str, str], cascade: Cascade) -> Look:
    """Return the style of an element inside a parent with the style `above`.

    Opacity is multiplied down the tree and a display of "none" is handed on, so that the
    result tells by itself whether the element is seen.
    """
    own = cascade.own(element)
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


def _share(text: str) -> float:
    try:
        return max(0.0, length_px(text, 1.0))
    except ReadError:
        return 1.0
