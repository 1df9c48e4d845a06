"""The stages of a collapse as panels of a fold guide."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from packer.drawing.panel import Panel
from packer.drawing.stage_drawing import stage_drawing
from packer.drawing.state_drawing import state_drawing
from packer.numbers import counted

if TYPE_CHECKING:
    from collections.abc import Iterator

    from packer.drawing.marks.strokes import Drawing
    from packer.landmarks.fold_guide import FoldGuide


def stage_panels(guide: FoldGuide) -> Iterator[Panel]:
    """Yield a panel for every stage: the creases that move, and what lies there afterwards."""
    for number in range(len(guide.stages)):
        stage = guide.stages[number]
        lines = [_stage_words(guide, number)]
        if stage.still_open.any():
            lines.append("The white paper stays open and flat.")
        if (stage.moving & ~stage.form.folded).any():
            lines.append("The thin lines open again.")
        if stage.order is None:
            lines.append("No layer order was found in the time given: all layers are drawn.")
        lines += _meetings(guide, number)
        yield Panel(
            "half",
            f"Stage {number + 1} of {len(guide.stages)}",
            tuple(lines),
            (partial(_stage_picture, guide, number), partial(_state_picture, guide, number)),
        )


def _stage_words(guide: FoldGuide, number: int) -> str:
    """Return what comes together in a stage, as a few sentences."""
    stage = guide.stages[number]
    once = f"{counted(stage.together, 'crease')} at once"
    polygons = counted(len(stage.polygons), "polygon")
    if stage.halved:
        many = len(stage.halved) > 1
        words = f"{counted(len(stage.halved), 'polygon')}, white in the picture, "
        words += (
            "fold in half along the line from the inner tip straight to the sheet's edge, and "
            "wait so"
            if many
            else "folds in half along the line from its inner tip straight to the sheet's edge, "
            "and waits so"
        )
        new = stage.form.folded & stage.moving & (guide.halved.edge_of < 0)
        light = " Where no crease runs along it yet press one lightly." if new.any() else ""
        first = f"{polygons} fold flat. " if stage.polygons else ""
        return f"{first}{words}: {once}.{light}"
    if number and guide.stages[number - 1].halved_now & set(stage.polygons):
        it = "it" if len(stage.polygons) == 1 else "each"
        return f"{polygons} that waited folded in half: open {it} and fold it along its creases; {once}."
    if len(stage.polygons) > 1 and number + 1 == len(guide.stages):
        return f"{polygons}: {once}. No part of what is left folds flat before."
    return f"{polygons}: {once}."


def _meetings(guide: FoldGuide, number: int) -> list[str]:
    """Return a check after a stage: tips that come to lie on each other."""
    stage = guide.stages[number]
    pattern, form = stage.pattern, stage.form
    own = {v for e in stage.moving.nonzero()[0] for v in pattern.edges[e].tolist()}
    tips = [
        n for n in pattern.tree.flaps if pattern.tips[n] in own and n not in pattern.fillers
    ]
    room = 1e-6 * pattern.sheet.diagonal
    for k, a in enumerate(tips):
        for b in tips[:k]:
            gap = form.positions[pattern.tips[a]] - form.positions[pattern.tips[b]]
            if float((gap**2).sum()) < room**2:
                return [
                    f"The tips of {b} and {a} should meet; if not, look for a crease missed."
                ]
    return []


def _stage_picture(guide: FoldGuide, number: int, width: float, height: float) -> Drawing:
    sheet = guide.pattern.sheet
    return stage_drawing(guide, number, min(width / sheet.width, height / sheet.height))


def _state_picture(guide: FoldGuide, number: int, width: float, height: float) -> Drawing:
    stage = guide.stages[number]
    return state_drawing(stage.pattern, stage.form, stage.order, (width, height))
