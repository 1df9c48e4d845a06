"""Levels of detail as one plate: every packing with its numbers, and the scale over the flaps."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from packer.drawing.marks.strokes import Disc, Drawing, Label, Path, moved, plain
from packer.drawing.marks.styles import part_colours
from packer.drawing.packing_drawing import packing_drawing
from packer.drawing.plates.compare_plate import GAP, HEAD, LINE, SIZE
from packer.drawing.plates.packing_plate import EDGE
from packer.model.figure import SYMMETRY_NAMES
from packer.numbers import counted
from packer.planning.level_results import level_row

if TYPE_CHECKING:
    from collections.abc import Sequence

    from packer.drawing.marks.strokes import Group, Mark
    from packer.planning.level_results import Level, Levels

SHEET_LENGTH: Final = 84.0
"""Longer side of a sheet as drawn, in mm: four levels make the longer side of A3."""
ACROSS: Final = 4
"""Pictures in one line."""
CURVE: Final = 52.0
"""Height of the curve, in mm."""


def levels_plate(levels: Levels) -> Drawing:
    """Draw the levels, coarsest first, each with its numbers below it, and the curve at the foot."""
    all_levels = levels.levels
    longest = max(max(one.packing.sheet.width, one.packing.sheet.height) for one in all_levels)
    drawings = [
        _unnamed(packing_drawing(one.packing, SHEET_LENGTH / longest)) for one in all_levels
    ]
    texts = [level_lines(levels, one) for one in all_levels]
    rows = [
        range(k, min(k + ACROSS, len(all_levels))) for k in range(0, len(all_levels), ACROSS)
    ]
    tall = [max(drawings[k].height for k in row) for row in rows]
    below = LINE * max(map(len, texts)) + 8
    width = 2 * EDGE + min(ACROSS, max(2, len(all_levels))) * (SHEET_LENGTH + GAP) - GAP
    height = HEAD + sum(tall) + below * len(rows) + CURVE + 22
    groups: list[Group] = [("head", tuple(_head(levels, height)))]
    top = height - HEAD
    for row, high in zip(rows, tall, strict=True):
        for n, k in enumerate(row):
            x = EDGE + n * (SHEET_LENGTH + GAP)
            groups += [
                (f"{k + 1} {name}", tuple(moved(mark, x, top - high) for mark in marks))
                for name, marks in drawings[k].groups
            ]
            groups.append((f"{k + 1} words", tuple(_words(texts[k], x, top - high - 6))))
        top -= high + below
    groups.append(("curve", tuple(_curve(levels, width))))
    return Drawing(
        width,
        height,
        tuple(groups),
        title=f"{plain(levels.name)}: {counted(len(all_levels), 'level')} of detail",
        description="; ".join(", ".join(text) for text in texts),
        colours=_colours(all_levels),
        margin=0.0,
    )


def _colours(levels: Sequence[Level]) -> dict[str, str]:
    """Give a part the colour it has at the finest level, and a joined one that of its last piece."""
    finest = levels[-1].packing.tree
    known = part_colours(finest)
    pieces = dict(zip(finest.written, map(known.__getitem__, finest.names), strict=True))
    return known | {
        name: pieces.get(written.split(" + ")[-1], "#767676")
        for level in levels
        for name, written in zip(
            level.packing.tree.names, level.packing.tree.written, strict=True
        )
        if name not in known
    }


def _unnamed(drawing: Drawing) -> Drawing:
    """Leave the names out: at this size they would hide the packing."""
    groups = tuple(group for group in drawing.groups if group[0] != "names")
    return Drawing(drawing.width, drawing.height, groups, colours=drawing.colours)


def _head(levels: Levels, height: float) -> list[Mark]:
    first = levels.levels[0].packing
    more = "" if levels.complete else "; ended early, some levels are missing"
    note = f"levels of detail, {SYMMETRY_NAMES[first.symmetry]}, seed {levels.seed}{more}"
    return [
        Label("heading", (EDGE, height - 12), plain(levels.name, 60), 7, "start"),
        Label("note", (EDGE, height - 19.5), note, 3.6, "start"),
    ]


def _words(lines: Sequence[str], x: float, y: float) -> list[Mark]:
    return [
        Label("heading" if n == 0 else "note", (x, y - LINE * n), line, SIZE, "start")
        for n, line in enumerate(lines)
    ]


def level_lines(levels: Levels, level: Level) -> list[str]:
    """Return what stands below a picture."""
    line = level_row(levels, level)
    unit = f" {level.packing.sheet.unit}" if level.packing.sheet.unit else ""
    lines = [
        f"detail {line['detail']}: {counted(line['flaps'], 'flap')}"
        + (f", {line['sheet']}" if len({one.shape for one in levels.levels}) > 1 else ""),
        f"scale {line['scale']:.4g}{unit}" + _lost(line["lost"], line["told_apart"]),
        f"figure {line['size']:.3g}{unit} long, about {line['layers']:.0f} layers",
        f"{line['corner']} corner, {line['edge']} edge, {counted(line['middle'], 'middle flap')}",
    ]
    if line["headroom"] is not None:
        lines.append(
            "proven the largest"
            if line["headroom"] < 1e-6
            else f"headroom at most {100 * line['headroom']:.2g} %"
        )
    if line["creases"] is not None:
        lines += [
            f"{line['creases']} creases, {line['together']} at once,",
            f"{line['layers_counted']} layers, finest {line['feature']:.3g}{unit}",
        ]
    if line["landmarks"] is not None:
        lines.append(f"{counted(line['landmarks'], 'landmark crease')} for all tips")
    if line["dearest"] is not None:
        lines.append(
            f"dearest: {plain(line['dearest'], 28)}, {100 * line['dearest_gain']:.1f} % without"
        )
    return lines


def _lost(lost: float | None, told_apart: bool | None) -> str:
    if lost is None:
        return ""
    if not told_apart:
        return ", no loss seen"
    return f", {100 * lost:.1f} % lost"


def _curve(levels: Levels, width: float) -> list[Mark]:
    """Draw scale over number of flaps: a line a sheet, and a bar up to each proven bound."""
    all_levels = levels.levels
    counts = [len(level.packing.tips) for level in all_levels]
    most = max(
        max(level.packing.scale, min(_bound(level), 1.5 * level.packing.scale))
        for level in all_levels
    )
    left, right, low, high = EDGE + 20, width - EDGE - 20, 14.0, 10.0 + CURVE
    inset = 12.0  # a label under the first point clears the axis
    span = max(counts) - min(counts) or 1

    def at(level: Level, scale: float) -> tuple[float, float]:
        share = (len(level.packing.tips) - min(counts)) / span
        return left + inset + share * (right - left - 2 * inset), low + scale / most * (
            high - low
        )

    marks: list[Mark] = [
        Path("ruler", ((left, high + 2), (left, low), (right, low))),
        Label(
            "note", (left, high + 5), "scale, with a bar up to the proven bound", 3.0, "start"
        ),
        Label("note", (right, low - 8), "flaps", 3.0, "end"),
        Label("note", (left - 2, low), "0", 3.0, "end"),
        Label("note", (left - 2, high), f"{most:.3g}", 3.0, "end"),
    ]
    for shape in dict.fromkeys(level.shape for level in all_levels):
        here = [level for level in all_levels if level.shape == shape]
        for level in here:
            x, y = at(level, level.packing.scale)
            top = at(level, min(_bound(level), most))[1]
            if top > y:
                marks += [
                    Path("cut mark", ((x, y), (x, top))),
                    Path("cut mark", ((x - 1.2, top), (x + 1.2, top))),
                ]
        marks.append(Path("ruler", tuple(at(level, level.packing.scale) for level in here)))
        for level in here:
            x, y = at(level, level.packing.scale)
            marks += [
                Disc("tip", (x, y), 0.9),
                Label("note", (x, low - 4), str(len(level.packing.tips)), 3.0),
                Label("note", (x, y - 3.6), f"{level.packing.scale:.4g}", 2.8),
            ]
        if len({level.shape for level in all_levels}) > 1:
            x, y = at(here[-1], here[-1].packing.scale)
            marks.append(Label("note", (x + 2, y), shape, 3.0, "start"))
    return marks


def _bound(level: Level) -> float:
    bound = level.packing.bound
    return level.packing.scale if bound is None else bound.scale
