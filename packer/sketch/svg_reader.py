"""Read a stick figure drawn in any vector editor: the strokes and captions of an SVG drawing.

Everything is brought into the pixels of the drawing's own view (y down), whatever groups,
transforms and view boxes it went through. What the strokes mean is told by `sketch_tree`.
"""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING, Final
from xml.etree import ElementTree as ET

import numpy as np

from packer.errors import ReadError
from packer.files.text import read_whole
from packer.sketch.budget import FARTHEST, LEAST_SIZE, check_budget
from packer.sketch.css import (
    INITIAL,
    Cascade,
    Look,
    has_stroke,
    is_hidden,
    length_px,
    local_name,
    look_of,
)
from packer.sketch.sketch_values import Caption, Sketch, Stroke, passed_over
from packer.sketch.svg_paths import measured, number_list, path_lines, transform_matrix
from packer.sketch.svg_view import compose, fit_view, root_view, view_box

if TYPE_CHECKING:
    from collections.abc import Iterator
    from xml.etree.ElementTree import Element

    from numpy.typing import NDArray

    Points = NDArray[np.float64]

MOST_BYTES: Final = 64 * 2**20
"""Largest drawing read, in bytes: a photograph traced over may be embedded in it."""

MOST_STROKES: Final = 3000
"""Strokes in one drawing; a stick figure of 1000 flaps needs fewer."""

_NOT_DRAWN: Final = {
    *("defs", "symbol", "clipPath", "mask", "marker", "pattern", "linearGradient"),
    *("radialGradient", "filter", "style", "script", "title", "desc", "metadata"),
    *("foreignObject", "image"),
}
_MADE_UP: Final = re.compile(
    r"#?(path|line|polyline|polygon|rect|g|group|layer|svg|use|shape|stroke|curve|spline|object|"
    r"vector|svgid|xmlid|tspan|text)?[-_ .]*\d*([-_. ]+\d+)*_?",
    re.IGNORECASE,
)
_HREFS: Final = ("href", "{http://www.w3.org/1999/xlink}href")
_LETTER: Final = 0.55
"""Mean width of a letter, as a share of the font size: enough to find a caption's middle."""


"""Names of things passed over that are told, of each kind."""


def read_sketch(path: Path | str) -> Sketch:
    """Read the strokes and captions of an SVG file.

    Raises
    ------
    ReadError
        Where the file cannot be read, is no SVG or has no visible stroke.
    """
    source = read_whole(Path(path), "a drawing such as crab.svg", MOST_BYTES)
    try:
        return parse_sketch(source)
    except ReadError as error:
        raise error.found_in(str(path)) from None


def parse_sketch(source: bytes) -> Sketch:
    """Read the strokes and captions of an SVG drawing given as bytes.

    Raises
    ------
    ReadError
        Where the bytes are no SVG or hold no visible stroke.
    """
    try:
        root = ET.fromstring(source)  # expat refuses entity bombs and fetches nothing
    except (ET.ParseError, ValueError, LookupError) as error:
        raise ReadError(f"this is no SVG drawing ({error}); export it as plain SVG") from None
    if local_name(root.tag) != "svg":
        raise ReadError(
            f"this is no SVG drawing but <{local_name(root.tag)}>; export it as plain SVG"
        )
    check_budget(sum(1 for _ in root.iter()), 0)
    reader = _Reader(root)
    reader.read()
    if not reader.lines:
        passed = passed_over(reader.passed, reader.names_passed)
        raise ReadError(
            f"there is no visible stroke{f' ({passed})' if passed else ''}; draw the "
            "figure with lines that have a stroke colour, not with filled shapes"
        )
    if max(float(np.ptp(points, axis=0).max()) for points, _, _ in reader.lines) < LEAST_SIZE:
        raise ReadError("it is too small to be seen; draw it larger")
    return Sketch(
        tuple(reader.strokes()),
        tuple(reader.captions),
        reader.frame,
        reader.mm,
        source,
        reader.passed,
        reader.names_passed,
    )


class _Reader:
    """Walks the elements of one drawing; keeps their lines."""

    def __init__(self, root: Element) -> None:
        self.root = root
        self.cascade = Cascade(root)
        self.by_id = {e.get("id", ""): e for e in root.iter() if e.get("id")}
        self.lines: list[tuple[Points, str, tuple[Element, ...]]] = []
        self.captions: list[Caption] = []
        self.passed: Counter[str] = Counter()
        self.names_passed: dict[str, list[str]] = {}
        for rule in self.cascade.passed:
            self._pass("style rules", rule)
        self.frame, self.mm, self.view = root_view(root)

    def _pass(self, what: str, name: str) -> None:
        """Count what is passed over, and note its name."""
        self.passed[what] += 1
        if name:
            self.names_passed.setdefault(what, []).append(name)

    def read(self) -> None:
        """Walk everything that is drawn, without recursion: groups may be nested deeply."""
        above: Look = look_of(self.root, INITIAL, self.cascade)
        todo: list[tuple[Element, Points, Look, tuple[Element, ...], int]] = [
            (e, self.frame, above, (), 0) for e in reversed(self.root)
        ]
        seen = 0
        while todo:
            element, matrix, above, groups, uses = todo.pop()
            seen += 1
            check_budget(seen, len(groups))
            word = local_name(element.tag)
            if word == "image":
                self._pass("pictures", _name_of(element))
            if not word or word in _NOT_DRAWN:
                continue
            try:
                matrix = compose(matrix, transform_matrix(element.get("transform", "")))
                look = look_of(element, above, self.cascade)
                if is_hidden(look) and look["display"] == "none":
                    self._pass("hidden", _name_of(element))
                    continue
                inside = self._inside(element, word, matrix, uses)
                if inside is None:
                    self._draw(element, word, matrix, look, groups)
                    continue
            except ReadError as error:
                raise ReadError(
                    error.message, f"<{word}> {_name_of(element)}".strip()
                ) from None
            children, matrix, uses = inside
            here = (*groups, element)
            todo += [(e, matrix, look, here, uses) for e in reversed(children)]

    def _inside(
        self, element: Element, word: str, matrix: Points, uses: int
    ) -> tuple[list[Element], Points, int] | None:
        """Return the children of a group-like element with their matrix; None for a shape."""
        if word in {"g", "a", "switch"}:
            return list(element), matrix, uses
        if word == "svg":
            return list(element), compose(matrix, self._nested(element)), uses
        if word != "use":
            return None
        target = next((element.get(h, "") for h in _HREFS if element.get(h)), "")
        used = self.by_id.get(target.removeprefix("#"))
        if used is None or not target.startswith("#"):
            return [], matrix, uses
        if uses >= 16:
            raise ReadError("copies of copies go too deep; turn them into plain strokes")
        x, y = (self._length(element, name) for name in ("x", "y"))
        matrix = compose(matrix, np.array([[1, 0, x], [0, 1, y]]))
        children = list(used) if local_name(used.tag) == "symbol" else [used]
        return children, matrix, uses + 1

    def _nested(self, element: Element) -> Points:
        x, y = (self._length(element, name) for name in ("x", "y"))
        w, h = (self._length(element, name, "100%") for name in ("width", "height"))
        box = view_box(element)
        inner = (
            np.eye(3)[:2]
            if box is None
            else fit_view(box, (w, h), element.get("preserveAspectRatio", ""))
        )
        return compose(np.array([[1, 0, x], [0, 1, y]], float), inner)

    def _length(self, element: Element, name: str, default: str = "0") -> float:
        text = element.get(name, default)
        if name == "r":
            whole = float(np.hypot(*self.view)) / np.sqrt(2)
        else:
            whole = self.view["y" in name or name == "height"]
        return measured(length_px(text, float(whole)))

    def _draw(
        self,
        element: Element,
        word: str,
        matrix: Points,
        look: Look,
        groups: tuple[Element, ...],
    ) -> None:
        if word == "text":
            if not is_hidden(look):
                self.captions += self._captions(element, matrix, look)
            return
        lines = self._lines(element, word)
        if not lines:
            return
        if is_hidden(look):
            self._pass("hidden", _name_of(element))
        elif not has_stroke(look):
            self._pass("fills", _name_of(element))
        else:
            name = _name_of(element) if len(lines) == 1 else ""
            for line in lines:
                with np.errstate(over="ignore", invalid="ignore"):
                    points = line @ matrix[:, :2].T + matrix[:, 2]
                if not (np.abs(points) <= FARTHEST).all():
                    raise ReadError("it lies beyond all measure; draw it in the view")
                if np.ptp(points, axis=0).any():  # a dot is no stroke
                    self.lines.append((points, name, groups))
            if len(self.lines) > MOST_STROKES:
                raise ReadError(f"there are more than {MOST_STROKES} strokes; simplify it")

    def _lines(self, element: Element, word: str) -> list[Points]:
        if word == "path":
            return path_lines(element.get("d", ""))
        if word == "line":
            x1, y1, x2, y2 = (self._length(element, name) for name in ("x1", "y1", "x2", "y2"))
            return [np.array([[x1, y1], [x2, y2]])]
        if word in {"polyline", "polygon"}:
            numbers = number_list(element.get("points", ""))
            points = np.array(numbers[: len(numbers) // 2 * 2]).reshape(-1, 2)
            if word == "polygon" and len(points):
                points = np.vstack((points, points[:1]))
            return [points] if len(points) > 1 else []
        if word == "rect":
            x, y, w, h = (self._length(element, n) for n in ("x", "y", "width", "height"))
            return path_lines(f"M{x} {y}h{w}v{h}h{-w}z") if w > 0 and h > 0 else []
        if word in {"circle", "ellipse"}:
            cx, cy = (self._length(element, n) for n in ("cx", "cy"))
            rx, ry = (
                self._length(element, n)
                for n in (("r", "r") if word == "circle" else ("rx", "ry"))
            )
            turn = f"M{cx - rx} {cy}a{rx} {ry} 0 1 1 {2 * rx} 0a{rx} {ry} 0 1 1 {-2 * rx} 0z"
            return path_lines(turn) if rx > 0 and ry > 0 else []
        return []

    def _captions(self, element: Element, matrix: Points, look: Look) -> Iterator[Caption]:
        """Yield the text, in as many pieces as it has starting points of its own."""
        pieces: list[tuple[float, float, list[str]]] = [
            (*self._start(element, (0.0, 0.0)), [element.text or ""])
        ]
        for span in element:
            if local_name(span.tag) == "tspan":
                if span.get("x") or span.get("y"):
                    pieces.append((*self._start(span, pieces[-1][:2]), []))
                pieces[-1][2].append("".join(span.itertext()))
            pieces[-1][2].append(span.tail or "")
        size = length_px(look["font-size"], 16.0) if look["font-size"][:1].isdigit() else 16.0
        zoom = float(np.sqrt(abs(np.linalg.det(matrix[:, :2]))))
        for x, y, texts in pieces:
            text = " ".join("".join(texts).split())
            if text:
                shift = {"middle": 0.0, "end": -0.5}.get(look["text-anchor"], 0.5)
                along = x + shift * _LETTER * size * len(text)
                at = matrix @ np.array([along, y - 0.3 * size, 1.0])
                yield Caption(text, (float(at[0]), float(at[1])), size * zoom)

    def _start(self, element: Element, default: tuple[float, float]) -> tuple[float, float]:
        """Return where a text begins; of a list of places, one a letter, the first."""
        x, y = default
        for name in ("x", "y"):
            words = element.get(name, "").replace(",", " ").split()
            if words:
                value = length_px(words[0], self.view[name == "y"])
                x, y = (value, y) if name == "x" else (x, value)
        return x, y

    def strokes(self) -> Iterator[Stroke]:
        """Yield the strokes; the only stroke of a named group takes the group's name."""
        held = Counter(id(group) for _, _, groups in self.lines for group in groups)
        for points, name, groups in self.lines:
            names = [_name_of(g) for g in reversed(groups) if held[id(g)] == 1]
            yield Stroke(points, name or next((n for n in names if n), ""))


def _name_of(element: Element) -> str:
    """Return a label, a title or an id that somebody chose; empty where there is none."""
    labels = [v for k, v in element.attrib.items() if local_name(k) in {"label", "aria-label"}]
    titles = ["".join(e.itertext()) for e in element if local_name(e.tag) == "title"]
    written = re.sub(
        r"_x([0-9A-Fa-f]{2,4})_", lambda m: chr(int(m[1], 16)), element.get("id", "")
    )
    for text in (*labels, *titles, written.replace("_", " ")):
        name = " ".join(text.split())
        if name and not _MADE_UP.fullmatch(name):
            return name
    return ""
