"""A marked-up copy of a drawing: what was read in it, or what keeps it from being a tree.

The drawing's own bytes stay as they are; the marks are one more group at their end.
"""

from __future__ import annotations

import re
from collections import Counter
from typing import TYPE_CHECKING, Final
from xml.etree import ElementTree as ET
from xml.sax.saxutils import escape

import numpy as np
import shapely

from packer.sketch.stick_tree import fault_sentence

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from packer.sketch.joints import Net
    from packer.sketch.sketch_values import Sketch

    Points = NDArray[np.float64]

FAULT: Final = "#D55E00"
READ: Final = "#0072B2"
"""Vermillion and blue of the palette of Okabe and Ito (2008)."""

_END: Final = re.compile(rb"</(?:[\w.-]+:)?svg\s*>(?:\s|<!--.*?-->)*\Z", re.DOTALL)


def marked_copy(sketch: Sketch, net: Net, names: Sequence[str] = ()) -> bytes:
    """Return the drawing with marks on top of it.

    Parameters
    ----------
    sketch
        The drawing.
    net
        Its joined strokes. Faults are ringed, numbered and told; without any, joints are dotted
        and parts carry their names.
    names
        A name for each part of the net, where it became a figure.
    """
    inverse = np.linalg.inv(sketch.frame[:, :2])
    corner = sketch.frame[:, 2]

    def own(points: Points) -> Points:
        """Return pixels in the drawing's own units."""
        back: Points = (np.asarray(points, float) - corner) @ inverse.T
        return back

    places = own(np.vstack([stroke.points for stroke in sketch.strokes]))
    size = float(np.hypot(*np.ptp(places, axis=0))) / 100
    pen = _Pen(size)
    if net.faults:
        for number, fault in enumerate(net.faults, 1):
            for line in fault.lines:
                pen.line(own(line))
            said = f"{number}: {fault_sentence(sketch, net, fault)}"
            pen.ring(own(np.array([fault.at]))[0], str(number), said)
    else:
        ends = Counter(end for part in net.parts for end in part.ends)
        tips = {end for end, parts in ends.items() if parts == 1}
        for node in sorted(ends):
            pen.dot(own(net.places)[node])
        for part, name in zip(net.parts, names, strict=False):
            pen.name(own(part.line), [end in tips for end in part.ends], name)
    marks = (
        '<g xmlns="http://www.w3.org/2000/svg" id="packer-marks" fill="none" '
        f'font-family="sans-serif" font-size="{2.4 * size:.4g}" stroke-linecap="round">'
        f"{''.join(pen.marks)}</g>"
    ).encode("ascii", "xmlcharrefreplace")
    end = _END.search(sketch.source)
    if end is None:  # another encoding, or something unusual after the end
        root = ET.fromstring(sketch.source)
        root.append(ET.fromstring(marks))
        whole: bytes = ET.tostring(root, encoding="utf-8", xml_declaration=True)
        return whole
    return sketch.source[: end.start()] + marks + b"\n" + sketch.source[end.start() :]


class _Pen:
    """Writes marks; `size` is a hundredth of the drawing's diagonal, in its own units."""

    def __init__(self, size: float) -> None:
        self.size = size
        self.marks: list[str] = []

    def line(self, points: Points) -> None:
        plain = shapely.simplify(shapely.LineString(points), self.size / 20)
        at = " ".join(f"{x:.6g},{y:.6g}" for x, y in shapely.get_coordinates(plain))
        self.marks.append(
            f'<polyline points="{at}" stroke="{FAULT}" stroke-opacity="0.45" '
            f'stroke-width="{1.2 * self.size:.4g}" stroke-linejoin="round"/>'
        )

    def ring(self, at: Points, label: str, title: str) -> None:
        self.marks.append(
            f'<g><title>{escape(title)}</title><circle cx="{at[0]:.6g}" cy="{at[1]:.6g}" '
            f'r="{2.5 * self.size:.4g}" stroke="{FAULT}" stroke-width="{0.5 * self.size:.4g}"/>'
            f"{self._text(at + 2.4 * self.size, label, FAULT, 'start')}</g>"
        )

    def dot(self, at: Points) -> None:
        self.marks.append(
            f'<circle cx="{at[0]:.6g}" cy="{at[1]:.6g}" r="{0.9 * self.size:.4g}" '
            f'fill="{READ}" stroke="#FFFFFF" stroke-width="{0.3 * self.size:.4g}"/>'
        )

    def name(self, line: Points, free: list[bool], text: str) -> None:
        """Write a flap's name beyond its tip and a river's on its middle."""
        if not any(free):
            middle = shapely.line_interpolate_point(
                shapely.LineString(line), 0.5, normalized=True
            )
            self.marks.append(self._text(np.array([middle.x, middle.y]), text, READ, "middle"))
            return
        tip, foot = (line[0], line[-1]) if free[0] else (line[-1], line[0])
        way = (tip - foot) / max(float(np.hypot(*(tip - foot))), 1e-300)
        anchor = "start" if way[0] > 0.5 else "end" if way[0] < -0.5 else "middle"
        self.marks.append(self._text(tip + 2.4 * self.size * way, text, READ, anchor))

    def _text(self, at: Points, text: str, colour: str, anchor: str) -> str:
        return (
            f'<text x="{at[0]:.6g}" y="{at[1]:.6g}" text-anchor="{anchor}" '
            f'dominant-baseline="middle" fill="{colour}" stroke="#FFFFFF" paint-order="stroke" '
            f'stroke-width="{0.6 * self.size:.4g}">{escape(text)}</text>'
        )
