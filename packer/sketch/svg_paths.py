"""Path data and transforms of SVG, read into polylines fine enough to be measured.

Grammar and arithmetic are those of the W3C recommendation *Scalable Vector Graphics 1.1*
(second edition, 2011): section 8.3 for path data, 7.6 for transforms, appendix F.6 for arcs.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.errors import ReadError
from packer.numbers import counted

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from numpy.typing import NDArray

    Points = NDArray[np.float64]

LARGEST: Final = 1e15
"""Largest number read; one smaller than its inverse is zero. So nothing that follows overflows."""

FLATNESS: Final = 2e-6
"""How far a chord may lie off its curve, as a share of the curve's own control polygon.

A curve's length then comes out less than 5 parts in a million too short: far below a pencil.
"""

ARC_STEP: Final = math.radians(0.5)
"""Turn of one chord of an arc: the length is then 3 parts in a million too short."""

_NUMBER: Final = r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?"
_COMMAND: Final = re.compile(r"([MmZzLlHhVvCcSsQqTtAa])([^MmZzLlHhVvCcSsQqTtAa]*)")
_ARC: Final = re.compile(
    rf"\s*,?\s*({_NUMBER})\s*,?\s*({_NUMBER})\s*,?\s*({_NUMBER})\s*,?\s*([01])\s*,?\s*([01])"
    rf"\s*,?\s*({_NUMBER})\s*,?\s*({_NUMBER})"
)
_ONE_NUMBER: Final = re.compile(rf"\s*,?\s*({_NUMBER})")
_TAKES: Final = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "A": 7, "Z": 0}
_TRANSFORM: Final = re.compile(
    r"\s*,?\s*(matrix|translate|scale|rotate|skewX|skewY)\s*\(([^)]*)\)"
)


def path_lines(data: str) -> list[Points]:
    """Read path data into one polyline for each of its strokes.

    Parameters
    ----------
    data
        The text of a path's ``d``: M L H V C S Q T A Z, in either case.

    Returns
    -------
    list
        (n, 2) arrays with n >= 2; a closed stroke ends where it began.

    Raises
    ------
    ReadError
        Where the text is no path data.
    """
    pen = _Pen()
    for command, numbers in _commands(data):
        _DRAW[command.upper()](pen, numbers, command.islower())
    pen.lift()
    return pen.lines


def number_list(text: str) -> list[float]:
    """Read numbers parted by blanks or commas.

    Raises
    ------
    ReadError
        Where anything else stands between them.
    """
    values, end = [], 0
    while match := _ONE_NUMBER.match(text, end):
        values.append(measured(float(match[1])))
        end = match.end()
    if text[end:].strip():
        raise ReadError(f'cannot read "{text[end:].strip()[:30]}"; a number was expected')
    return values


def measured(number: float) -> float:
    """Return a number of a drawing: a tiny one as zero.

    Raises
    ------
    ReadError
        Where it is beyond measure.
    """
    if not abs(number) <= LARGEST:
        raise ReadError(f"{number:g} is beyond all measure; draw it smaller")
    return number if abs(number) >= 1 / LARGEST else 0.0


def transform_matrix(text: str) -> Points:
    """Read a list of transforms into one (2, 3) matrix that maps (x, y, 1).

    Raises
    ------
    ReadError
        Where the text is no list of transforms.
    """
    whole, end = np.eye(3), 0
    while match := _TRANSFORM.match(text, end):
        whole = whole @ _one_transform(match[1], number_list(match[2]))
        end = match.end()
    if text[end:].strip(" \t\r\n,"):
        raise ReadError(f'cannot read the transform "{text[end:].strip()[:30]}"')
    return whole[:2]


def _one_transform(name: str, v: list[float]) -> Points:
    allowed = {
        "matrix": {6},
        "translate": {1, 2},
        "scale": {1, 2},
        "rotate": {1, 3},
        "skewX": {1},
        "skewY": {1},
    }
    if len(v) not in allowed[name]:
        raise ReadError(f'the transform "{name}" cannot take {counted(len(v), "number")}')
    a, b, c, d, e, f = 1.0, 0.0, 0.0, 1.0, 0.0, 0.0
    if name == "matrix":
        a, b, c, d, e, f = v
    elif name == "translate":
        e, f = v[0], v[1] if len(v) > 1 else 0.0
    elif name == "scale":
        a, d = v[0], v[-1]
    elif name == "skewX":
        c = math.tan(math.radians(v[0]))
    elif name == "skewY":
        b = math.tan(math.radians(v[0]))
    else:
        cos, sin = math.cos(math.radians(v[0])), math.sin(math.radians(v[0]))
        x, y = v[1:] or (0.0, 0.0)
        a, b, c, d = cos, sin, -sin, cos
        e, f = x - cos * x + sin * y, y - sin * x - cos * y
    return np.array([[a, c, e], [b, d, f], [0.0, 0.0, 1.0]])


@dataclass
class _Pen:
    """Where the pen stands while path data is read."""

    lines: list[Points] = field(default_factory=list)
    here: complex = 0j
    start: complex = 0j
    control: complex | None = None
    """The last control point, and of which curve it is: only S and T look back at it."""
    of: str = ""
    down: list[complex] = field(default_factory=list)

    def lift(self) -> None:
        if len(self.down) > 1:
            z = np.array(self.down)
            self.lines.append(np.column_stack((z.real, z.imag)))
        self.down = []

    def line(self, to: complex) -> None:
        self._put()
        self.down.append(to)
        self.here, self.control = to, None

    def curve(self, c1: complex, c2: complex, to: complex) -> None:
        self._put()
        self.down.extend(_cubic(self.here, c1, c2, to))
        self.here = to

    def _put(self) -> None:
        if not self.down:
            self.down = [self.here]


def _commands(data: str) -> Iterator[tuple[str, list[float]]]:
    """Yield each command with its numbers, repeated ones written out."""
    begun, end = False, 0
    for match in _COMMAND.finditer(data):
        if data[end : match.start()].strip(" \t\r\n,"):
            break
        command, numbers = match[1], _numbers(match[1], match[2])
        takes = _TAKES[command.upper()]
        if not begun and command not in "Mm":
            raise ReadError("path data begins with M")
        begun, end = True, match.end()
        if not takes:
            yield command, []
            continue
        if not numbers or len(numbers) % takes:
            raise ReadError(
                f'"{command}" in path data takes {counted(takes, "number")}, and has {len(numbers)}'
            )
        for k in range(0, len(numbers), takes):
            yield command, numbers[k : k + takes]
            command = {"M": "L", "m": "l"}.get(command, command)
    if data[end:].strip():
        raise ReadError(f'cannot read the path data at "{data[end:].strip()[:30]}"')


def _numbers(command: str, text: str) -> list[float]:
    if command not in "Aa":
        return number_list(text)
    values: list[float] = []
    end = 0
    while match := _ARC.match(text, end):
        values += [measured(float(number)) for number in match.groups()]
        end = match.end()
    if text[end:].strip():
        raise ReadError(f'cannot read the arc "{text[end:].strip()[:30]}" in path data')
    return values


def _move(pen: _Pen, v: list[float], relative: bool) -> None:
    pen.lift()
    pen.here = complex(*v) + (pen.here if relative else 0)
    pen.start, pen.control = pen.here, None


def _line(pen: _Pen, v: list[float], relative: bool) -> None:
    pen.line(complex(*v) + (pen.here if relative else 0))


def _level(pen: _Pen, v: list[float], relative: bool) -> None:
    pen.line(complex(v[0] + (pen.here.real if relative else 0), pen.here.imag))


def _upright(pen: _Pen, v: list[float], relative: bool) -> None:
    pen.line(complex(pen.here.real, v[0] + (pen.here.imag if relative else 0)))


def _close(pen: _Pen, v: list[float], relative: bool) -> None:
    if pen.down and pen.here != pen.start:
        pen.line(pen.start)
    pen.lift()
    pen.here, pen.control = pen.start, None


def _points(pen: _Pen, v: list[float], relative: bool) -> list[complex]:
    base = pen.here if relative else 0
    return [complex(x, y) + base for x, y in zip(v[::2], v[1::2], strict=True)]


def _reflected(pen: _Pen, of: str) -> complex:
    """Return the last control point mirrored in the pen, as S and T begin."""
    if pen.control is None or pen.of != of:
        return pen.here
    return 2 * pen.here - pen.control


def _cubic_to(pen: _Pen, v: list[float], relative: bool) -> None:
    c1, c2, to = _points(pen, v, relative)
    pen.curve(c1, c2, to)
    pen.control, pen.of = c2, "C"


def _smooth_cubic_to(pen: _Pen, v: list[float], relative: bool) -> None:
    c2, to = _points(pen, v, relative)
    pen.curve(_reflected(pen, "C"), c2, to)
    pen.control, pen.of = c2, "C"


def _quadratic_to(pen: _Pen, v: list[float], relative: bool) -> None:
    c, to = _points(pen, v, relative)
    _raise_quadratic(pen, c, to)


def _smooth_quadratic_to(pen: _Pen, v: list[float], relative: bool) -> None:
    (to,) = _points(pen, v, relative)
    _raise_quadratic(pen, _reflected(pen, "Q"), to)


def _raise_quadratic(pen: _Pen, c: complex, to: complex) -> None:
    """Draw a quadratic curve as the cubic that it also is."""
    pen.curve(pen.here + (c - pen.here) * 2 / 3, to + (c - to) * 2 / 3, to)
    pen.control, pen.of = c, "Q"


def _arc_to(pen: _Pen, v: list[float], relative: bool) -> None:
    to = complex(v[5], v[6]) + (pen.here if relative else 0)
    rx, ry = abs(v[0]), abs(v[1])
    if rx == 0 or ry == 0 or to == pen.here:
        pen.line(to)
        return
    turn = complex(math.cos(math.radians(v[2])), math.sin(math.radians(v[2])))
    half = (pen.here - to) / 2 / turn
    ux, uy = half.real / rx, half.imag / ry
    far = math.hypot(ux, uy)
    if far > 1:  # too small to reach: grown until it just does (F.6.6)
        rx, ry, ux, uy = rx * far, ry * far, ux / far, uy / far
    rest = math.sqrt(max(0.0, 1 / (ux * ux + uy * uy) - 1))
    side = -1.0 if v[3] == v[4] else 1.0
    cx, cy = side * rest * uy, -side * rest * ux  # centre on the unit circle (F.6.5)
    begin = math.atan2(uy - cy, ux - cx)
    sweep = (math.atan2(-uy - cy, -ux - cx) - begin) % math.tau
    if not v[4]:
        sweep -= math.tau
    steps = max(2, math.ceil(abs(sweep) / ARC_STEP))
    angles = begin + sweep * np.arange(1, steps) / steps
    middle = (pen.here + to) / 2 + complex(rx * cx, ry * cy) * turn
    points = middle + (rx * np.cos(angles) + 1j * ry * np.sin(angles)) * turn
    for point in [*points.tolist(), to]:
        pen.line(point)


_DRAW: Final[dict[str, Callable[[_Pen, list[float], bool], None]]] = {
    "M": _move,
    "L": _line,
    "H": _level,
    "V": _upright,
    "C": _cubic_to,
    "S": _smooth_cubic_to,
    "Q": _quadratic_to,
    "T": _smooth_quadratic_to,
    "A": _arc_to,
    "Z": _close,
}


def _cubic(p0: complex, p1: complex, p2: complex, p3: complex) -> list[complex]:
    """Return points along a cubic curve, without its first.

    With N chords a chord is at most 6/8 max |second difference| / N^2 off a cubic (the standard
    bound for piecewise linear interpolation, from the second derivative).
    """
    polygon = abs(p1 - p0) + abs(p2 - p1) + abs(p3 - p2)
    if polygon == 0:
        return [p3]
    bend = max(abs(p0 - 2 * p1 + p2), abs(p1 - 2 * p2 + p3))
    chords = max(1, math.ceil(math.sqrt(0.75 * bend / (FLATNESS * polygon))))
    t = np.arange(1, chords) / chords
    s = 1 - t
    inner = s**3 * p0 + 3 * s * s * t * p1 + 3 * s * t * t * p2 + t**3 * p3
    return [*inner.tolist(), p3]
