"""A drawing on matplotlib axes, and as PNG."""

from __future__ import annotations

import io
import warnings
from typing import TYPE_CHECKING, Any, Final, Literal

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.patches import Circle, PathPatch
from matplotlib.path import Path as Outline
from matplotlib.text import Text

from packer.drawing.marks.strokes import Disc, Drawing, Label, Mark, Path, arc_of, plain
from packer.drawing.marks.styles import GREY, HALO, HALO_OPACITY, PART, STYLES, WHITE
from packer.drawing.writers.settings import own_settings

if TYPE_CHECKING:
    from collections.abc import Mapping

    from matplotlib.artist import Artist
    from matplotlib.axes import Axes

    from packer.drawing.marks.strokes import Anchor, Point

MM_PER_INCH = 25.4
POINTS_PER_MM = 72 / 25.4
ALIGNMENT: Final[dict[Anchor, Literal["left", "center", "right"]]] = {
    "start": "left",
    "middle": "center",
    "end": "right",
}
FONTS = ("DejaVu Sans",)
"""Comes with matplotlib, so that the same input gives the same bytes everywhere."""


def draw(drawing: Drawing, axes: Axes, x: float = 0.0, y: float = 0.0) -> None:
    """Draw onto axes whose data unit is one millimetre, the lower left corner at (x, y).

    Line widths and text are in true mm only where the axes' unit is a printed millimetre, as
    on the axes of `page`.
    """
    for order, mark in enumerate(drawing.marks):
        artist = _artist(mark, drawing.colours, x, y)
        artist.set_zorder(2 + order * 1e-6)
        axes.add_artist(artist)


def page(width: float, height: float) -> tuple[Figure, Axes]:
    """Return a matplotlib figure of a size in mm, and axes that cover it in millimetres."""
    figure = Figure(figsize=(width / MM_PER_INCH, height / MM_PER_INCH))
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_axis_off()
    axes.set_xlim(0, width)
    axes.set_ylim(0, height)
    return figure, axes


@own_settings()
def png_bytes(drawing: Drawing, dpi: float = 200.0) -> bytes:
    """Return a drawing with its margin as a PNG picture, the same bytes for the same drawing."""
    m = drawing.margin
    figure, axes = page(drawing.width + 2 * m, drawing.height + 2 * m)
    draw(drawing, axes, m, m)
    return figure_png(figure, dpi)


@own_settings()
def figure_png(figure: Figure, dpi: float) -> bytes:
    """Return a figure as a PNG picture, the same bytes for the same figure."""
    FigureCanvasAgg(figure)
    out = io.BytesIO()
    with warnings.catch_warnings():
        # A name may be in a script that the font lacks; it is then drawn as boxes.
        warnings.filterwarnings("ignore", message="Glyph .* missing from font")
        figure.savefig(out, format="png", dpi=dpi, metadata={"Software": None})
    return out.getvalue()


def _artist(mark: Mark, colours: Mapping[str, str], x: float, y: float) -> Artist:
    style = STYLES[mark.kind]
    part = colours.get(mark.part, GREY)
    fill = part if style.fill == PART else style.fill
    line = part if style.line == PART else style.line
    if isinstance(mark, Label):
        # a box and no outline of the letters, which would make them shapes in a PDF
        edge = {"facecolor": (WHITE, HALO_OPACITY), "linewidth": 0.0, "pad": HALO * mark.size}
        return Text(
            mark.at[0] + x,
            mark.at[1] + y,
            plain(mark.text),
            color=fill,
            fontsize=mark.size * POINTS_PER_MM,
            fontfamily=list(FONTS),
            fontweight="bold" if style.bold else "normal",
            horizontalalignment=ALIGNMENT[mark.anchor],
            verticalalignment="center_baseline",
            rotation=mark.angle,
            rotation_mode="anchor",
            parse_math=False,
            bbox=edge if style.halo else None,
            clip_on=True,
        )
    options: dict[str, Any] = {
        "facecolor": (fill, style.opacity) if fill and not isinstance(mark, Path) else "none",
        "edgecolor": line or "none",
        "linewidth": style.width * POINTS_PER_MM if line else 0.0,
        "capstyle": "butt" if style.dash else "round",
        "joinstyle": "round",
    }
    if style.dash:
        # matplotlib counts dashes in line widths
        options["linestyle"] = (0, tuple(d / style.width for d in style.dash))
    if isinstance(mark, Disc):
        return Circle((mark.centre[0] + x, mark.centre[1] + y), mark.radius, **options)
    if isinstance(mark, Path):
        outline = outline_of(mark.points, mark.bulges, mark.closed)
    else:
        bulges = mark.bulges or ((),) * len(mark.rings)
        outline = Outline.make_compound_path(
            *(outline_of(r, b, True) for r, b in zip(mark.rings, bulges, strict=True))
        )
    moved = np.asarray(outline.vertices, dtype=float) + np.array([x, y])
    return PathPatch(Outline(moved, outline.codes), **options)


def outline_of(points: tuple[Point, ...], bulges: tuple[float, ...], closed: bool) -> Outline:
    """Return a line as a matplotlib path; an arc becomes cubic curves of 1e-6 of its radius."""
    vertices: list[Point] = [points[0]]
    codes = [int(Outline.MOVETO)]
    for k in range(len(points) if closed else len(points) - 1):
        end = points[(k + 1) % len(points)]
        if not bulges or not bulges[k]:
            vertices.append(end)
            codes.append(int(Outline.LINETO))
            continue
        curve = _curves(points[k], end, bulges[k])
        vertices += curve
        codes += [int(Outline.CURVE4)] * len(curve)
    if closed:
        vertices.append(points[0])
        codes.append(int(Outline.CLOSEPOLY))
    return Outline(np.array(vertices), codes)


def _curves(start: Point, end: Point, bulge: float) -> list[Point]:
    """Return control points of cubic Bezier curves over an arc, at most 45 degrees each."""
    (cx, cy), radius, angle, turn = arc_of(start, end, bulge)
    pieces = max(1, int(np.ceil(abs(turn) / (np.pi / 4) - 1e-9)))
    step = turn / pieces
    reach = 4 / 3 * np.tan(step / 4)
    controls: list[Point] = []
    for k in range(pieces):
        a, b = angle + k * step, angle + (k + 1) * step
        controls += [
            (
                cx + radius * (np.cos(a) - reach * np.sin(a)),
                cy + radius * (np.sin(a) + reach * np.cos(a)),
            ),
            (
                cx + radius * (np.cos(b) + reach * np.sin(b)),
                cy + radius * (np.sin(b) - reach * np.cos(b)),
            ),
            (cx + radius * np.cos(b), cy + radius * np.sin(b)),
        ]
    controls[-1] = end
    return controls
