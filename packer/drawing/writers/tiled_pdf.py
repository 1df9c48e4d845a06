"""Fold sheets: a drawing printed at true size, tiled over ordinary pages or on one large one."""

from __future__ import annotations

import io
import warnings
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import shapely
from matplotlib.backends.backend_pdf import PdfPages

from packer.drawing.marks.key import key_marks
from packer.drawing.marks.labels import label_box
from packer.drawing.marks.lines import line_drawing, strokes_of, waypoints
from packer.drawing.marks.strokes import Disc, Drawing, Label, Mark, Path, facing, plain
from packer.drawing.writers.page_marks import fitted, foot_marks, join_marks, map_marks
from packer.drawing.writers.png import draw, page
from packer.drawing.writers.settings import own_settings
from packer.drawing.writers.tiling import MARGIN_MM, OVERLAP_MM, Tiling, tile

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from shapely.geometry.base import BaseGeometry

    from packer.drawing.writers.tiling import Box

HEAD_MM: Final = 16.0
"""Room for the title of a drawing on one page and which side of it faces the reader."""

FOOT_MM: Final = 24.0
"""Height of the strip below each window that holds the page's name, the bar and the square."""


@dataclass(frozen=True, eq=False)
class PagePlan:
    """How a drawing is laid over pages.

    Attributes
    ----------
    tiling
        The pages.
    blank
        Names of those left out, as nothing is to be seen there.
    lines, shapes
        The drawing as lines, each once, and about what each of its marks covers.
    """

    tiling: Tiling
    blank: frozenset[str]
    lines: Drawing
    shapes: _Shapes


def plan_pages(
    drawing: Drawing,
    paper: tuple[float, float],
    *,
    margin: float = MARGIN_MM,
    overlap: float = OVERLAP_MM,
) -> PagePlan:
    """Return how a drawing is laid over pages.

    Raises
    ------
    OptionError
        Where the page has no room.
    """
    tiling = tile(
        drawing.width, drawing.height, paper, margin=margin, overlap=overlap, foot=FOOT_MM
    )
    lines = line_drawing(drawing)
    shapes = _Shapes.of(lines)
    return PagePlan(tiling, _blank(tiling, shapes), lines, shapes)


def tiled_pdf(
    drawing: Drawing,
    paper: tuple[float, float],
    name: str,
    *,
    margin: float = MARGIN_MM,
    overlap: float = OVERLAP_MM,
) -> bytes:
    """Return a drawing as a PDF of pages at true size, the assembly map first.

    Parameters
    ----------
    drawing
        What to print; only its lines are drawn, each once.
    paper
        Width and height of a page in mm.
    name
        The file's name, to stand on every page.
    margin, overlap
        White edge of a page and what neighbours have in common, in mm.

    Raises
    ------
    OptionError
        Where the page has no room.
    """
    return planned_pdf(plan_pages(drawing, paper, margin=margin, overlap=overlap), name)


@own_settings()
def planned_pdf(plan: PagePlan, name: str) -> bytes:
    """Return a drawing that is laid over pages as a PDF; see `tiled_pdf`."""
    tiling, blank, lines, shapes = plan.tiling, plan.blank, plan.lines, plan.shapes
    sheets = [place for place in tiling.pages if tiling.name(*place) not in blank]
    figures = [_map_page(lines, tiling, blank, name)]
    for number, (row, column) in enumerate(sheets, 2):
        count = f"page {number} of {len(sheets) + 1}"
        figures.append(_tile_page(lines, shapes, tiling, (row, column), (name, count)))
    return pdf_of(figures, name)


@own_settings()
def whole_pdf(drawing: Drawing, name: str, margin: float = 10.0) -> bytes:
    """Return a drawing at true size as a PDF of one page, for a wide printer.

    Above it stand its title, which side of the sheet faces the reader, and a key.
    """
    lines = line_drawing(drawing)
    width = max(drawing.width, 150.0) + 2 * margin
    top = margin + FOOT_MM + drawing.height
    key, tall = key_marks(lines, (margin, top + 6), width - 2 * margin)
    height = top + 6 + tall + HEAD_MM + margin
    figure, axes = page(width, height)
    draw(lines, axes, margin, margin + FOOT_MM)
    box = (margin, margin, width - margin, margin + FOOT_MM)
    words = [
        fitted("heading", (margin, height - margin - 4), plain(drawing.title or name, 60), 6.0,
               width - 2 * margin),
        fitted("heading", (margin, height - margin - 10), facing(drawing), 3.2,
               width - 2 * margin),
    ]  # fmt: skip
    groups = (
        ("foot", tuple(foot_marks(box, "", name, "one page", drawing))),
        ("head", tuple(words)),
        ("key", tuple(key)),
    )
    draw(Drawing(width, height, groups), axes)
    return pdf_of([figure], name)


def paged_pdf(pages: list[Drawing], name: str) -> bytes:
    """Return drawings, each a whole page, as a PDF."""
    figures = []
    for drawing in pages:
        figure, axes = page(drawing.width, drawing.height)
        draw(drawing, axes)
        figures.append(figure)
    return pdf_of(figures, name)


def _blank(tiling: Tiling, shapes: _Shapes) -> frozenset[str]:
    """Return the names of the pages on which nothing is to be seen."""
    return frozenset(
        tiling.name(*place)
        for place in tiling.pages
        if not shapes.within(tiling.window(*place))
    )


def _tile_page(
    lines: Drawing,
    shapes: _Shapes,
    tiling: Tiling,
    place: tuple[int, int],
    words: tuple[str, str],
) -> Figure:
    row, column = place
    figure, axes = page(tiling.page_width, tiling.page_height)
    left, bottom, right, top = tiling.window(row, column)
    corner = tiling.margin, tiling.margin + tiling.foot
    window = figure.add_axes(
        (
            corner[0] / tiling.page_width,
            corner[1] / tiling.page_height,
            tiling.window_width / tiling.page_width,
            tiling.window_height / tiling.page_height,
        )
    )
    window.set_axis_off()
    window.set_xlim(left, right)
    window.set_ylim(bottom, top)
    shown = shapes.within((left, bottom, right, top))
    names = [mark for mark in shown if isinstance(mark, Label)]
    joins = join_marks(tiling, row, column, names)
    draw(
        Drawing(lines.width, lines.height, (("lines", tuple(shown)), ("joins", tuple(joins)))),
        window,
    )
    box = (corner[0], tiling.margin, tiling.page_width - tiling.margin, corner[1])
    foot = foot_marks(box, tiling.name(row, column), *words, lines)
    draw(Drawing(tiling.page_width, tiling.page_height, (("foot", tuple(foot)),)), axes)
    return figure


def _map_page(lines: Drawing, tiling: Tiling, blank: frozenset[str], name: str) -> Figure:
    figure, axes = page(tiling.page_width, tiling.page_height)
    marks = map_marks(lines, tiling, blank, name)
    draw(Drawing(tiling.page_width, tiling.page_height, (("map", tuple(marks)),)), axes)
    return figure


@dataclass(frozen=True, eq=False)
class _Shapes:
    """The marks of a drawing, and about what each covers."""

    marks: list[Mark]
    tree: shapely.STRtree

    @classmethod
    def of(cls, drawing: Drawing) -> _Shapes:
        """Return those of a drawing."""
        marks = list(drawing.marks)
        return cls(marks, shapely.STRtree([_shape(mark) for mark in marks]))

    def within(self, box: Box) -> list[Mark]:
        """Return the marks of which something is to be seen in a window, in their order."""
        seen = self.tree.query(shapely.box(*box), predicate="intersects")
        return [self.marks[k] for k in sorted(seen.tolist())]


def _shape(mark: Mark) -> BaseGeometry:
    """Return about what a mark covers; an area counts with its outline alone."""
    if isinstance(mark, Label):
        return shapely.Polygon(label_box(mark))
    if isinstance(mark, Disc):
        return shapely.Point(mark.centre).buffer(mark.radius)
    if isinstance(mark, Path) and not any(mark.bulges):
        return shapely.LineString((*mark.points, mark.points[0 if mark.closed else -1]))
    if isinstance(mark, Path):
        strokes = strokes_of(mark.points, mark.bulges, mark.closed)
        return shapely.MultiLineString([waypoints(stroke) for stroke in strokes])
    return shapely.MultiLineString([(*ring, ring[0]) for ring in mark.rings])


def pdf_of(figures: list[Figure], title: str) -> bytes:
    """Return matplotlib figures as the pages of a PDF, the same bytes for the same figures."""
    out = io.BytesIO()
    # Without dates the same input gives the same bytes.
    facts = {"Title": title, "Creator": "packer", "CreationDate": None, "ModDate": None}
    with warnings.catch_warnings(), PdfPages(out, metadata=facts) as pdf:
        warnings.filterwarnings("ignore", message="Glyph .* missing from font")
        for figure in figures:
            pdf.savefig(figure)
    return out.getvalue()
