"""Pictures of the pleats made after a flat base: on the open sheet, and across the base as it lies."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

from packer.drawing.crease_drawing import crease_drawing, with_pleats
from packer.drawing.state_drawing import state_drawing

if TYPE_CHECKING:
    from collections.abc import Sequence

    from packer.drawing.marks.strokes import Drawing
    from packer.landmarks.fold_guide import FoldGuide
    from packer.landmarks.pleating import PartPleats

OVER: Final = 0.06
"""How far a line across the base runs on beyond its layers, as a share of the base's height."""


def pleats_on_sheet(guide: FoldGuide, parts: Sequence[PartPleats], mm: float) -> Drawing:
    """Draw the open sheet from its front: the creases of the base thin, the pleats of some parts."""
    pattern = guide.pattern
    drawing = crease_drawing(pattern, mm, "fold")
    kept = {"border", "tips"}
    groups = tuple(
        (name, marks if name in kept else tuple(replace(m, kind="old crease") for m in marks))
        for name, marks in drawing.groups
        if name not in {"names", "fillers"}
    )
    lines = [line for part in parts for fold in part.folds for line in fold.lines]
    return replace(
        with_pleats(replace(drawing, groups=groups), lines, mm),
        title="Pleats on the open sheet",
        description=f"{len(lines)} lines, one for each layer and fold",
        margin=3.0,
    )


def pleats_on_base(
    guide: FoldGuide, parts: Sequence[PartPleats], most: tuple[float, float]
) -> Drawing:
    """Draw the base from its front with a line across all layers for each fold of the pleats."""
    form = guide.stages[-1].form
    heights = form.positions[:, 1]
    over = OVER * float(heights.max() - heights.min())
    lines = [
        (fold.fold, (x, low - over), (x, high + over))
        for part in parts
        for fold in part.folds
        for x, low, high in [fold.place]
    ]
    return state_drawing(guide.pattern, form, guide.base.order, most, pleats=lines)
