"""A drawing on matplotlib axes, and as PNG."""

from __future__ import annotations

import io
import warnings
from itertools import groupby, pairwise
from typing import TYPE_CHECKING, Any, Final, Literal

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.collections import PathCollection
from matplotlib.colors import to_rgba
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch
from matplotlib.path import Path as Outline
from matplotlib.text import Text

from packer.drawing.marks.dashes import dashes
from packer.drawing.marks.strokes import Area, Disc, Drawing, Label, Path, arc_of, plain
from packer.drawing.marks.styles import GREY, HALO, HALO_OPACITY, PART, STYLES, WHITE
from packer.drawing.writers.settings import own_settings

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from matplotlib.artist import Artist
    from matplotlib.axes import Axes

    from packer.drawing.marks.strokes import Anchor, Mark, Point

MM_PER_INCH = 25.4
POINTS_PER_MM = 72 / 25.4
ALIGNMENT: Final[dict[Anchor, Literal["left", "center", "right"]]] = {
    "start": "left",
    "middle": "center",
    "end": "right",
}
FONTS = ("DejaVu Sans",)
"""Comes with matplotlib, so that the same input gives the same bytes everywhere."""

ALONG: Final = 1e-6
"""Of a line along a side of a picture the ends differ by less than this across it, in mm."""


def draw(drawing: Drawing, axes: Axes, x: float = 0.0, y: float = 0.0) -> None:
    """Draw onto axes whose data unit is one millimetre, the lower left corner at (x, y).

    Line widths and text are in true mm only where the axes' unit is a printed millimetre, as
    on the axes of `page`.
    """
    for order, artist in enumerate(_artists(drawing, x, y)):
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


def _artists(drawing: Drawing, x: float, y: float) -> Iterator[Artist]:
    """Yield what is drawn, bottom first; lines of one look that follow each other are one artist, and so are areas.

    An artist takes as long as a hundred points of a line, and a large figure has thousands of lines and areas.
    """
    colours = drawing.colours
    for _, run in groupby(drawing.marks, lambda mark: (type(mark), _look(mark, colours))):
        marks = list(run)
        if areas := [mark for mark in marks if isinstance(mark, Area | Disc)]:
            yield _areas(areas, colours, x, y)
        elif lines := [mark for mark in marks if isinstance(mark, Path)]:
            yield _lines(lines, colours, x, y)
        else:
            yield from (_text(mark, colours, x, y) for mark in marks if isinstance(mark, Label))


def _look(mark: Mark, colours: Mapping[str, str]) -> tuple[str, str, bool] | None:
    """Return what lines must share to be one artist; None for what is no line.

    Whether a line goes along the sides of the picture is part of it: those alone are moved onto whole
    dots of a PNG.
    """
    if not isinstance(mark, Path):
        return None
    return mark.kind, colours.get(mark.part, GREY), _along(mark)


def _along(mark: Path) -> bool:
    """Whether a line goes along the sides of the picture."""
    return not any(mark.bulges) and all(
        min(abs(x1 - x0), abs(y1 - y0)) < ALONG for (x0, y0), (x1, y1) in pairwise(mark.points)
    )


def _lines(marks: Sequence[Path], colours: Mapping[str, str], x: float, y: float) -> Artist:
    """Return lines of one look, their dashes cut.

    Left to matplotlib the dashes of a line that runs off a page would begin where it comes in,
    and not fit those on the page beside it.
    """
    outlines = [_line(mark) for mark in marks]
    vertices = np.concatenate([np.asarray(one.vertices, dtype=float) for one in outlines])
    outline = Outline(
        vertices + np.array([x, y]), np.concatenate([one.codes for one in outlines])
    )
    outline.should_simplify = False  # true to size wherever it is printed
    # said, since left to itself matplotlib moves none that have above 1024 points
    snap = True if _along(marks[0]) else None
    return PathPatch(outline, snap=snap, **_options(marks[0], colours))


def _line(mark: Path) -> Outline:
    dash = STYLES[mark.kind].dash
    strokes = dashes(mark, dash) if dash else []
    if not strokes:  # a whole line, or one of no length
        return outline_of(mark.points, mark.bulges, mark.closed)
    codes = [
        code
        for stroke in strokes
        for code in (Outline.MOVETO, *[Outline.LINETO] * (len(stroke) - 1))
    ]
    return Outline([point for stroke in strokes for point in stroke], codes)


def _areas(
    marks: Sequence[Area | Disc], colours: Mapping[str, str], x: float, y: float
) -> Artist:
    """Return areas and discs, each over those before it."""
    options = [_options(mark, colours) for mark in marks]
    return PathCollection(
        [_outline(mark, x, y) for mark in marks],
        # twice: one path of one colour would be drawn as a marker, which is moved onto whole dots
        facecolors=2 * [to_rgba(each["facecolor"]) for each in options],
        edgecolors=[to_rgba(each["edgecolor"]) for each in options],
        linewidths=[each["linewidth"] for each in options],
        linestyles=[each.get("linestyle", "solid") for each in options],
        capstyle="butt",
        joinstyle="round",
    )


def _outline(mark: Area | Disc, x: float, y: float) -> Outline:
    if isinstance(mark, Disc):
        return Outline.circle((mark.centre[0] + x, mark.centre[1] + y), mark.radius)
    bulges = mark.bulges or ((),) * len(mark.rings)
    outline = Outline.make_compound_path(
        *(outline_of(r, b, True) for r, b in zip(mark.rings, bulges, strict=True))
    )
    return Outline(np.asarray(outline.vertices, dtype=float) + np.array([x, y]), outline.codes)


def _text(mark: Label, colours: Mapping[str, str], x: float, y: float) -> Text:
    style = STYLES[mark.kind]
    # a box and no outline of the letters, which would make them shapes in a PDF
    edge = {"facecolor": (WHITE, HALO_OPACITY), "linewidth": 0.0, "pad": HALO * mark.size}
    return Text(
        mark.at[0] + x,
        mark.at[1] + y,
        plain(mark.text),
        color=colours.get(mark.part, GREY) if style.fill == PART else style.fill,
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


def _options(mark: Path | Disc | Area, colours: Mapping[str, str]) -> dict[str, Any]:
    """Return colours, width and dash of a mark, as matplotlib's patches take them."""
    style = STYLES[mark.kind]
    part = colours.get(mark.part, GREY)
    fill = part if style.fill == PART else style.fill
    line = part if style.line == PART else style.line
    options: dict[str, Any] = {
        "facecolor": (fill, style.opacity) if fill and not isinstance(mark, Path) else "none",
        "edgecolor": line or "none",
        "linewidth": style.width * POINTS_PER_MM if line else 0.0,
        "capstyle": "butt" if style.dash else "round",
        "joinstyle": "round",
    }
    if style.dash and not isinstance(mark, Path):
        # matplotlib counts dashes in line widths
        options["linestyle"] = (0, tuple(d / style.width for d in style.dash))
    return options


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
