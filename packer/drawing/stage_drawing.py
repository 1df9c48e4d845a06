"""Pictures of the stages of a collapse on the open sheet: which creases move, what is done."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from packer.drawing.marks.strokes import Area, Disc, Drawing, Path
from packer.drawing.straight_runs import line_of, straight_runs

if TYPE_CHECKING:
    from collections.abc import Iterator

    from packer.creases.pattern import CreasePattern
    from packer.drawing.marks.strokes import Mark
    from packer.landmarks.fold_guide import FoldGuide

_KIND: Final = {"M": "new mountain", "V": "new valley"}


def stage_drawing(guide: FoldGuide, number: int, mm: float) -> Drawing:
    """Draw the sheet with the creases that move in a stage; what is folded by its end is grey."""
    stage = guide.stages[number]
    pattern = stage.pattern
    w, h = pattern.sheet.width * mm, pattern.sheet.height * mm
    outline = Path("border", ((0.0, 0.0), (w, 0.0), (w, h), (0.0, h)), closed=True)
    folds = _folds(guide, number)
    kinds = [
        folds.get(edge, "new crease") if moves else None
        for edge, moves in enumerate(stage.moving.tolist())
    ]
    moving = [
        Path(kind, line_of(pattern, run, mm))
        for kind, runs in straight_runs(pattern, kinds).items()
        for run in runs
    ]
    groups = (
        ("folded", tuple(_folded(guide, number, mm))),
        ("sheet", (outline,)),
        ("moving", tuple(moving)),
        ("tips", tuple(_tips(pattern, mm))),
    )
    words = f"{int(stage.moving.sum())} edges of the pattern move"
    return Drawing(w, h, groups, f"Stage {number + 1}", words, margin=3.0)


def _folds(guide: FoldGuide, number: int) -> dict[int, str]:
    """Return how each edge is folded at the end of a stage, by its layer order where there is one."""
    stage = guide.stages[number]
    order = stage.order
    kinds = {}
    if order is not None:
        for edge, left, right in order.layers.creases.tolist():
            up = (order.rank[right] > order.rank[left]) != bool(order.layers.flipped[left])
            kinds[edge] = _KIND["V" if up else "M"]
    for edge in np.flatnonzero(stage.moving & ~stage.form.folded).tolist():
        kinds[edge] = "old crease"  # folded back open
    return kinds


def _folded(guide: FoldGuide, number: int, mm: float) -> Iterator[Mark]:
    stage = guide.stages[number]
    for face in np.flatnonzero(~stage.waiting).tolist():
        points = stage.pattern.points[list(stage.pattern.faces[face])] * mm
        yield Area("moving paper", (tuple((float(x), float(y)) for x, y in points),))


def _tips(pattern: CreasePattern, mm: float) -> Iterator[Mark]:
    for name in pattern.tree.flaps:
        x, y = (pattern.points[pattern.tips[name]] * mm).tolist()
        yield Disc("filler tip" if name in pattern.fillers else "mark", (x, y), 0.8)
