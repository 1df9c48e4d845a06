"""The sheet with the paper that shows on its base: its front, its back, and raw edges."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np
import shapely

from packer.creases.faces import edges_of_faces
from packer.drawing.crease_drawing import tip_names
from packer.drawing.marks.lines import OUTLINES
from packer.drawing.marks.strokes import Area, Drawing, Path, plain
from packer.drawing.packing_drawing import packing_drawing
from packer.drawing.straight_runs import line_of, straight_runs
from packer.folded.paper_sides import shown_paper

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from shapely.geometry.base import BaseGeometry

    from packer.creases.pattern import CreasePattern
    from packer.drawing.marks.strokes import Mark, Point
    from packer.folded.layers import FlatBase
    from packer.model.packing import Packing


PAPER_COLOURS: Final = ("#F6E3B4", "#5B87A6")
"""Tones of the paper's front and back where none are given.

The front is the side that carries the pattern; with ridges as valleys it comes to lie inside.
"""

SAME_TIP: Final = 1e-3
"""Distance of a tip of a packing from that of its creases, as a share of the diagonal, that is not seen."""


def sides_drawing(
    base: FlatBase,
    mm: float,
    paper_colours: tuple[str, str] = PAPER_COLOURS,
    numbers: Mapping[str, int] | None = None,
) -> Drawing:
    """Draw the sheet: paper that shows from either side in the tone of its side, the rest white.

    Parameters
    ----------
    base
        With a layer order.
    mm
        Millimetres for one unit of the sheet.
    paper_colours
        Of the paper's front, which carries the pattern, and of its back.
    numbers
        Of flaps of the figure: these stand in place of names.

    Returns
    -------
    Drawing
        Heavy lines along the border are raw edges that lie along flaps and rivers of the figure.
    """
    pattern = base.pattern
    width, height = pattern.sheet.width * mm, pattern.sheet.height * mm
    marks: list[Mark] = []
    for back in (False, True):
        regions = [paper.region for paper in shown_paper(base) if paper.back == back]
        shown = _joined(regions, 1e-9 * pattern.sheet.diagonal)
        for part in shapely.get_parts(shown):
            if not part.is_empty:
                rings = (part.exterior, *part.interiors)
                scaled = tuple(_points(ring.coords, mm) for ring in rings)
                side = "back" if back else "front"
                marks.append(Area(f"{side} shows", scaled, side))
    axial = [role if role == "axial" else None for role in pattern.roles]
    runs = straight_runs(pattern, axial).get("axial", ())
    marks += [Path("axial crease", line_of(pattern, run, mm)) for run in runs]
    marks.append(
        Path("border", ((0.0, 0.0), (width, 0.0), (width, height), (0.0, height)), closed=True)
    )
    groups = (
        ("shown paper", tuple(marks)),
        ("raw edges", tuple(_raw_edges(pattern, mm))),
        ("names", tuple(tip_names(pattern, mm, numbers or {}))),
    )
    return Drawing(
        width,
        height,
        groups,
        title=f"{plain(pattern.title)}: sides of the paper" if pattern.title else "sides",
        description=f"What shows on the flat base of a sheet of {pattern.sheet.describe()}, "
        "from above or from below, and raw edges along flaps and rivers",
        colours=dict(zip(("front", "back"), paper_colours, strict=True)),
    )


def same_tips(packing: Packing, pattern: CreasePattern) -> bool:
    """Whether all tips of a packing are tips of a crease pattern, to what is not seen."""
    at = [pattern.tips.get(name, -1) for name in packing.tree.flaps]
    if min(at) < 0:
        return False
    off = np.abs(pattern.points[at] - packing.points)
    return bool(off.max() <= SAME_TIP * packing.sheet.diagonal)


def packing_with_sides(packing: Packing, base: FlatBase, mm: float) -> Drawing:
    """Draw a packing over what shows of its sheet: outlines in place of coloured discs and rivers.

    Parameters
    ----------
    packing
        Of the same tips as the base.
    base, mm
        As for `sides_drawing`.
    """
    drawn, sides = packing_drawing(packing, mm), sides_drawing(base, mm)
    outlined = [
        (name, tuple(replace(mark, kind=OUTLINES.get(mark.kind, mark.kind)) for mark in marks))
        for name, marks in drawn.groups
    ]
    paper, *above = outlined
    shown, raw, _ = sides.groups
    return replace(
        drawn,
        groups=(paper, shown, *above, raw),
        description=f"{drawn.description} {sides.description}",
        colours=sides.colours,
    )


def _joined(regions: Sequence[BaseGeometry], seam: float) -> BaseGeometry:
    """Return the union of regions that meet along lines, seams of a given width closed.

    By offsets, since a union on a grid fails (GEOS, TopologyException) on slivers that the grid
    turns over.
    """
    wider = shapely.union_all(shapely.buffer(regions, seam, join_style="mitre"))
    return shapely.buffer(wider, -seam, join_style="mitre")


def _points(coordinates: Iterable[Sequence[float]], mm: float) -> tuple[Point, ...]:
    return tuple((float(x) * mm, float(y) * mm) for x, y in coordinates)


def _raw_edges(pattern: CreasePattern, mm: float) -> Iterator[Mark]:
    over = edges_of_faces(pattern)
    for role, ends, sides in zip(
        pattern.roles, pattern.edges.tolist(), pattern.edge_faces.tolist(), strict=True
    ):
        part = pattern.part_of.get(pattern.tree.names[over[max(sides)]])
        if role == "border" and part is not None:
            line = _points(pattern.points[ends].tolist(), mm)
            yield Path("raw edge", line, title=f"raw edge of {part}")
