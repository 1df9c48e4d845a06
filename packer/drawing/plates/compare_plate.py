"""Sheets compared, as one plate: every packing at one scale, so that equal areas look equal."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from packer.drawing.marks.names import MOST_NAMED_SMALL, name_list, numbers_of
from packer.drawing.marks.strokes import Drawing, Label, moved, plain
from packer.drawing.marks.styles import part_colours
from packer.drawing.packing_drawing import packing_drawing
from packer.drawing.plates.packing_plate import EDGE
from packer.model.figure import SYMMETRY_NAMES
from packer.numbers import counted
from packer.planning.comparison import row

if TYPE_CHECKING:
    from collections.abc import Sequence

    from packer.drawing.marks.strokes import Group, Mark
    from packer.planning.comparison import Comparison, Entry

PICTURE: Final = 78.0
"""Side in mm of a square with the mean area of the sheets."""

WIDTH: Final = 420.0
"""Most that a line of pictures takes, in mm: the longer side of A3."""

GAP: Final = 9.0
HEAD: Final = 26.0
SIZE: Final = 3.6
LINE: Final = 5.0
COLUMN: Final = 62.0
"""Least room for a picture with its words, in mm."""


def compare_plate(comparison: Comparison) -> Drawing:
    """Draw a comparison: each packing with its numbers below it, the best one framed in words."""
    entries = comparison.entries
    mean = sum(entry.packing.sheet.area for entry in entries) / len(entries)
    mm = PICTURE / math.sqrt(mean)
    widest = max(entry.packing.sheet.width for entry in entries)
    mm = min(mm, (WIDTH - 2 * EDGE) / widest)
    tree = entries[0].packing.tree
    numbers = numbers_of(tree, MOST_NAMED_SMALL)
    drawings = [_anonymous(packing_drawing(entry.packing, mm, numbers)) for entry in entries]
    lines = _in_lines([max(COLUMN, drawing.width) for drawing in drawings])
    texts = [entry_lines(comparison, entry) for entry in entries]
    below = LINE * max(len(text) for text in texts) + 9
    tall = [max(drawings[k].height for k in line) for line in lines]
    width = 2 * EDGE + max(
        sum(max(COLUMN, drawings[k].width) for k in line) + GAP * (len(line) - 1)
        for line in lines
    )
    listed, foot = name_list(tree, numbers, width - 2 * EDGE)
    foot += 8.0 if listed else 4.0
    height = HEAD + sum(tall) + below * len(lines) + foot
    groups: list[Group] = [
        ("head", tuple(_head(comparison, height))),
        ("list", tuple(moved(mark, EDGE, foot - 2) for mark in listed)),
    ]
    top = height - HEAD
    for line, high in zip(lines, tall, strict=True):
        x = EDGE
        for k in line:
            drawing = drawings[k]
            groups += [
                (f"{k + 1} {name}", tuple(moved(mark, x, top - high) for mark in marks))
                for name, marks in drawing.groups
            ]
            groups.append((f"{k + 1} words", tuple(_words(texts[k], x, top - high - 6))))
            x += max(COLUMN, drawing.width) + GAP
        top -= high + below
    return Drawing(
        width,
        height,
        tuple(groups),
        title=f"{plain(comparison.name)}: {counted(len(entries), 'sheet')} compared",
        description="; ".join(", ".join(text) for text in texts),
        colours=part_colours(entries[0].packing.tree),
        margin=0.0,
    )


def _anonymous(drawing: Drawing) -> Drawing:
    """Leave title and description out: the plate has its own."""
    return Drawing(drawing.width, drawing.height, drawing.groups, colours=drawing.colours)


def _in_lines(widths: Sequence[float]) -> list[list[int]]:
    lines: list[list[int]] = [[]]
    x = 2 * EDGE
    for k, width in enumerate(widths):
        if lines[-1] and x + width > WIDTH:
            lines.append([])
            x = 2 * EDGE
        lines[-1].append(k)
        x += width + GAP
    return lines


def _head(comparison: Comparison, height: float) -> list[Mark]:
    held = {
        "area": "sheets of equal area",
        "longest side": "sheets of equal longest side",
        "stock": f"sheets cut from one {comparison.stock.name}" if comparison.stock else "",
    }[comparison.equal]
    more = "" if comparison.complete else "; ended early, some sheets are missing"
    return [
        Label("heading", (EDGE, height - 12), plain(comparison.name, 60), 7, "start"),
        Label(
            "note", (EDGE, height - 19.5), f"{held}, seed {comparison.seed}{more}", 3.6, "start"
        ),
    ]


def _words(lines: Sequence[str], x: float, y: float) -> list[Mark]:
    return [
        Label("heading" if n == 0 else "note", (x, y - LINE * n), line, SIZE, "start")
        for n, line in enumerate(lines)
    ]


def entry_lines(comparison: Comparison, entry: Entry) -> list[str]:
    """Return what stands below a picture: name, scale, size, flaps, paper, headroom, waste."""
    line = row(comparison, entry)
    unit = f" {line['unit']}" if line["unit"] else ""
    is_best = entry is comparison.entries[comparison.best]
    share = "largest" if is_best else f"{100 * line['relative']:.1f} % of the largest"
    lines = [
        f"{line['sheet']}, {SYMMETRY_NAMES[line['symmetry']]}",
        f"scale {line['scale']:.4g}{unit}, {share}",
        f"figure {line['size']:.3g}{unit} long, about {line['layers']:.0f} layers",
        f"{line['corner']} corner, {line['edge']} edge, {counted(line['middle'], 'middle flap')}",
        f"{100 * line['paper_used']:.0f} % of the paper used, {line['loose']} loose",
    ]
    if line["headroom"] is not None:
        lines.append(f"headroom at most {100 * line['headroom']:.0f} %")
    if line["waste"] is not None:
        lines.append(f"{100 * line['waste']:.0f} % of the stock wasted")
    if line["grid_scale"] is not None:
        lines += [
            f"{line['grid_across']} x {line['grid_up']} cells: {100 * line['grid_share']:.1f} % of this scale,",
            f"{100 * line['grid_least_share']:.1f} % for the worst rounded part",
        ]
    if line["fold_creases"] is not None:
        lines += [
            f"rank {line['fold_rank']}: {line['fold_creases']} creases, {line['fold_together']} at once,",
            f"{line['fold_layers']} layers, finest {line['fold_feature']:.3g}{unit}",
        ]
    return lines
