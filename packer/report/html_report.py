"""The report: one page with the stick figure, the packing and all that is known about it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from packer.drawing.base_drawing import base_drawing
from packer.drawing.crease_drawing import crease_drawing
from packer.drawing.figure_drawing import figure_drawing
from packer.drawing.folded_drawing import folded_drawing
from packer.drawing.grid_drawing import crease_role_drawing, grid_drawing
from packer.drawing.marks.key import kinds_of, meaning
from packer.drawing.marks.styles import part_colours
from packer.drawing.packing_drawing import packing_drawing
from packer.drawing.plates.compare_plate import compare_plate
from packer.drawing.plates.levels_plate import levels_plate
from packer.drawing.writers.html import (
    Table,
    bullets,
    code,
    details,
    lighting,
    numbered,
    page,
    paragraphs,
    picture,
    section,
    table,
    text,
)
from packer.drawing.writers.svg import svg_text
from packer.numbers import counted

if TYPE_CHECKING:
    from collections.abc import Sequence

    from packer.creases.pattern import CreasePattern
    from packer.drawing.marks.strokes import Drawing
    from packer.folded.layers import FlatBase
    from packer.grid.grid_packing import GridPacking
    from packer.model.packing import Packing
    from packer.planning.comparison import Comparison
    from packer.planning.level_results import Levels

PICTURE_MM = 170.0
"""Longer side of the sheet as drawn, in mm: what fits on A4."""


@dataclass(frozen=True)
class PaperPlan:
    """The paper plan as text: sentences, sizes, warnings and the models behind them."""

    lines: Sequence[str]
    sizes: Table
    warnings: Sequence[str]
    models: Sequence[str]


@dataclass(frozen=True)
class Guide:
    """A fold guide in short: its numbers, and its landmark creases in order, each told in words."""

    numbers: Table
    landmarks: Sequence[str]


@dataclass(frozen=True)
class Creases:
    """A crease pattern with its folded form: sentences, and what it asks of its folder."""

    base: FlatBase
    lines: Sequence[str]
    numbers: Table
    layers: Table
    order: Table
    sides: Table | None = None
    guide: Guide | None = None


@dataclass(frozen=True)
class Grid:
    """The figure on whole cells: sentences, and asked against rounded lengths."""

    packing: GridPacking
    lines: Sequence[str]
    lengths: Table
    creases: CreasePattern | None = None
    layers: Table | None = None
    guide: Guide | None = None


@dataclass(frozen=True)
class Report:
    """What a report says; the drawings it makes itself.

    Parameters
    ----------
    packing
        The packing.
    summary
        Sentences for the head of the page.
    parts
        The table of flaps and rivers, with the parts that each row lights up.
    advice
        Sentences.
    search
        Sentences on how it was searched.
    commands
        Lines that reproduce it, for a shell.
    figure_file
        The figure as the text of a figure file.
    plan
        The paper plan, where the sheet has a true size.
    creases
        Its crease pattern, where there is one.
    grid
        The same figure on a grid, where there is one.
    comparison, sheets
        A comparison of sheets and its tables, where there is one.
    levels, level_tables
        Its levels of detail and their tables, where there are some.
    version
        Of packer.
    settling
        What settling changed, where the packing was settled.
    """

    packing: Packing
    summary: Sequence[str]
    parts: Table
    advice: Sequence[str]
    search: Sequence[str]
    commands: Sequence[str]
    figure_file: str
    plan: PaperPlan | None = None
    creases: Creases | None = None
    grid: Grid | None = None
    comparison: Comparison | None = None
    sheets: Sequence[Table] = ()
    levels: Levels | None = None
    level_tables: Sequence[Table] = ()
    version: str = ""
    settling: Table | None = None


def report_html(report: Report) -> str:
    """Return the report as one HTML page.

    It loads nothing and needs no scripts. Pointing at a part in a drawing, or at its row in the
    table (also by keyboard), lights it in all drawings.
    """
    packing = report.packing
    title = packing.figure.name
    head = f"<header>\n<h1>{text(title)}</h1>\n{paragraphs(report.summary, 'lead')}</header>\n"
    parts = [
        f'<div class="pair">\n{_stick_figure(packing)}{_packing(packing, report.settling is not None)}</div>\n',
        section("Parts", table(report.parts)),
        section(
            "Advice", bullets(report.advice or ["Nothing stands out: no part costs much."])
        ),
    ]
    if report.plan is not None:
        parts.append(_plan(report.plan))
    if report.creases is not None:
        parts.append(_creases(report.creases, packing, report.settling))
    if report.grid is not None:
        parts.append(_grid(report.grid))
    if report.comparison is not None:
        plate = compare_plate(report.comparison)
        parts.append(
            section(
                "Sheets compared",
                *map(table, report.sheets),
                picture(
                    svg_text(plate, "compare-"),
                    "Every sheet drawn at one scale; the table above holds the numbers.",
                ),
            )
        )
    if report.levels is not None:
        parts.append(
            section(
                "Levels of detail",
                *map(table, report.level_tables),
                picture(
                    svg_text(levels_plate(report.levels), "levels-"),
                    "Every level drawn at one scale, the coarsest first.",
                ),
            )
        )
    parts += [
        section("How it was searched", paragraphs(report.search)),
        section(
            "Make it again",
            code("\n".join(report.commands)),
            details("The figure file", code(report.figure_file)),
        ),
    ]
    body = f"{head}<main>\n{''.join(parts)}</main>\n<footer>Made with packer {text(report.version)}.</footer>\n"
    return page(
        f"{title}: report", " ".join(report.summary), body, lighting(report.parts.parts)
    )


def _stick_figure(packing: Packing) -> str:
    drawing = figure_drawing(packing.figure)
    return picture(
        svg_text(drawing, "figure-"),
        "The stick figure. Point at a part to see it in the packing.",
    )


def _packing(packing: Packing, settled: bool) -> str:
    sheet = packing.sheet
    drawing = packing_drawing(packing, PICTURE_MM / max(sheet.width, sheet.height))
    as_settled = " as settled" if settled else ""
    loose = "; a dashed disc with an open tip is loose" if packing.loose else ""
    return picture(
        svg_text(drawing, "packing-"),
        f"The packing{as_settled} on a sheet of {sheet.describe()}: discs are flaps, bands are rivers, black "
        f"lines are active paths{loose}.",
    )


def _creases(creases: Creases, packing: Packing, settling: Table | None) -> str:
    pattern = creases.base.pattern
    mm = PICTURE_MM / max(pattern.sheet.width, pattern.sheet.height)
    colours = part_colours(packing.tree)
    drawing = crease_drawing(pattern, mm, "role", colours)
    folds = "; dashes are valleys, dashes with dots mountains" if pattern.decided else ""
    # what was found of a layer order is said in the lines: the drawing knows only the file
    form = replace(
        folded_drawing(creases.base, mm, colours), description="The folded form as an x-ray"
    )
    hand = base_drawing(creases.base, columns=2)
    return section(
        "Creases",
        paragraphs(creases.lines),
        '<div class="pair wider-left">\n',
        picture(
            svg_text(drawing, "creases-"),
            f"The crease pattern: axial black, ridges green, gussets blue, hinges purple{folds}. "
            "Open circles are fillers.",
        ),
        picture(
            svg_text(form, "folded-"),
            "The folded form as an x-ray: more layers are darker. Each bar is the stretch of the "
            "axis that a flap or river takes.",
        ),
        "</div>\n",
        *([] if hand is None else [_base(hand)]),
        table(creases.numbers),
        table(creases.layers),
        *([] if creases.sides is None else [table(creases.sides)]),
        table(creases.order),
        *([] if creases.guide is None else [_guide(creases.guide)]),
        *([] if settling is None else [table(settling)]),
    )


def _base(drawing: Drawing) -> str:
    return picture(
        svg_text(drawing, "base-"),
        "The base in the hand: from above and turned over, fanned out at its joints, "
        "what of the sheet shows, and its layers beside each joint, lowest first. The paper's front "
        "is the side with the pattern.",
    )


def _grid(grid: Grid) -> str:
    sheet = grid.packing.sheet
    drawing = grid_drawing(grid.packing, PICTURE_MM / max(sheet.width, sheet.height))
    return section(
        "On a grid",
        paragraphs(grid.lines),
        '<div class="pair">\n',
        picture(
            svg_text(drawing, "grid-"),
            "The same figure on whole cells: squares are flaps, bands are rivers; every fourth "
            "line of the grid is heavier.",
        ),
        table(grid.lengths),
        "</div>\n",
        *_grid_creases(grid),
    )


def _grid_creases(grid: Grid) -> list[str]:
    if grid.creases is None:
        return []
    sheet = grid.packing.sheet
    mm = PICTURE_MM / max(sheet.width, sheet.height)
    drawing = crease_role_drawing(grid.creases, grid.packing, mm)
    kinds = [kind for kind in kinds_of(drawing) if kind not in {"border", "tip", "blunt tip"}]
    return [
        picture(
            svg_text(drawing, "grid-creases-"),
            f"Its creases: {', '.join(map(meaning, kinds))}.",
        ),
        *([] if grid.layers is None else [table(grid.layers)]),
        *([] if grid.guide is None else [_guide(grid.guide)]),
    ]


def _guide(guide: Guide) -> str:
    if not guide.landmarks:
        return table(guide.numbers)
    title = f"Landmarks: {counted(len(guide.landmarks), 'crease')} before any of the pattern"
    return table(guide.numbers) + details(title, numbered(guide.landmarks))


def _plan(plan: PaperPlan) -> str:
    return section(
        "Paper",
        paragraphs(plan.lines),
        paragraphs(plan.warnings, "warning"),
        table(plan.sizes),
        details("The models behind these numbers, and their limits", bullets(plan.models)),
    )
