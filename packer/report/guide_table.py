"""A fold guide as rows: for the command that makes it, and for the report."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from packer.drawing.writers.html import Table
from packer.numbers import counted
from packer.report.html_report import Guide
from packer.units import HOLDS

if TYPE_CHECKING:
    from packer.creases.pattern import CreasePattern
    from packer.landmarks.guide_brief import GuideBrief

EXACT_MM: Final = 1e-6
"""Millimetres below which a mark lies on its tip, but for rounding."""


def guide_rows(brief: GuideBrief) -> list[tuple[str, str]]:
    """Return a guide in a few lines, as pairs of what and how much."""
    creases = counted(len(brief.creases), "crease")
    return [
        ("landmark steps", f"{brief.steps}, {creases} with mirror images"),
        (
            "marks off their tips",
            f"at most {brief.off:.2g} mm" if brief.off >= EXACT_MM else "exact",
        ),
        ("expected by hand", f"at most {brief.error:.2g} mm"),
        *([("tips to measure", ", ".join(brief.unmarked))] if brief.unmarked else []),
        (
            "pre-creasing",
            f"{counted(brief.precreased, 'crease')} in {counted(brief.levels, 'level')}",
        ),
        ("points to measure", f"{brief.measured}"),
        ("left to the collapse", counted(brief.collapse, "crease")),
        ("stages", f"{brief.stages}"),
        ("come together at once", f"{brief.together}, {brief.before} without stages"),
        *(
            (f"pleats of {name}", f"{count}, after the base")
            for name, count in brief.pleats.items()
        ),
    ]


def guide_section(brief: GuideBrief) -> Guide:
    """Return a guide in short for a report: its numbers and its landmark creases."""
    width, height = (side * brief.mm for side in brief.size)
    caption = f"The fold guide in short, for a sheet of {width:.4g} x {height:.4g} mm"
    return Guide(Table(caption, ("number", ""), guide_rows(brief), left=(0, 1)), brief.creases)


def is_of(brief: GuideBrief, pattern: CreasePattern) -> bool:
    """Return whether a guide was made from a crease pattern: all tips lie where it says."""
    sheet = pattern.sheet
    same = math.isclose(
        brief.size[0] / brief.size[1], sheet.width / sheet.height, rel_tol=HOLDS
    )
    if not same or brief.places.keys() != pattern.tips.keys():
        return False
    near = HOLDS * sheet.diagonal
    places = {name: pattern.points[vertex] for name, vertex in pattern.tips.items()}
    return all(math.dist(at, places[name]) <= near for name, at in brief.places.items())
