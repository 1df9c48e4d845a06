"""The plate of a grid packing: squares and bands beside the creases, and the choice of the unit."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from typing import TYPE_CHECKING, Final

from packer.drawing.grid_drawing import EVERY, crease_role_drawing, grid_drawing
from packer.drawing.marks.label_placement import Naming, place_labels
from packer.drawing.marks.names import numbers_of
from packer.drawing.marks.strokes import Area, Disc, Drawing, Label, Mark, Path, moved, plain
from packer.drawing.marks.styles import part_colours
from packer.drawing.plates.packing_plate import EDGE, LONGEST, PANEL
from packer.grid.bands import gap_paper
from packer.model.figure import SYMMETRY_NAMES
from packer.numbers import counted

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from packer.creases.pattern import CreasePattern
    from packer.drawing.marks.strokes import Group
    from packer.grid.grid_packing import GridPacking
    from packer.grid.proposals import Proposal

FOOT: Final = 78.0
ABOVE: Final = 26.0
"""Room below and above the two panels, in mm."""

_BOX = ((0.0, -1.8), (7.0, -1.8), (7.0, 1.8), (0.0, 1.8))


def grid_plate(
    packing: GridPacking, pattern: CreasePattern, offered: Sequence[Proposal] = ()
) -> Drawing:
    """Draw a grid packing beside its creases, with lengths asked and rounded below.

    Parameters
    ----------
    packing
        Any grid packing.
    pattern
        Its creases.
    offered
        Units to choose from, drawn as grid size against worst error.
    """
    sheet = packing.sheet
    mm = min(PANEL / math.sqrt(sheet.area), LONGEST / max(sheet.width, sheet.height))
    numbers = numbers_of(packing.tree)
    left = grid_drawing(packing, mm, numbers=numbers)
    right = crease_role_drawing(pattern, packing, mm)
    gap = 14.0
    width = max(2 * EDGE + 2 * left.width + gap, 260.0)
    height = ABOVE + left.height + FOOT
    at = EDGE, width - EDGE - right.width
    groups: list[Group] = [("head", tuple(_head(packing, width, height)))]
    for name, drawing, x in (("packing", left, at[0]), ("creases", right, at[1])):
        groups += [
            (f"{name}: {group}", tuple(moved(mark, x, FOOT) for mark in marks))
            for group, marks in drawing.groups
        ]
    groups.append(("key", tuple(_key(packing, right, at[0], at[1], FOOT - 7))))
    plot = 78.0 if offered else 0.0
    if offered:
        groups.append(("units", tuple(_unit_plot(packing, offered, EDGE, 12.0, plot - 16))))
    groups.append(
        (
            "lengths",
            tuple(_lengths(packing, numbers, EDGE + plot, 8.0, width - 2 * EDGE - plot)),
        )
    )
    return Drawing(
        width,
        height,
        tuple(groups),
        title=plain(packing.figure.name),
        description=left.description,
        colours=part_colours(packing.tree),
        margin=0.0,
    )


def _head(packing: GridPacking, width: float, height: float) -> list[Mark]:
    tree = packing.tree
    across, up = packing.cells
    cell = f", one cell {packing.cell_mm:.4g} mm" if packing.cell_mm else ""
    bound = packing.bound
    known: str = packing.status
    if bound is not None and bound.cells != packing.cells:
        known += f", at least {bound.cells[0]} x {bound.cells[1]}"
    on = SYMMETRY_NAMES[packing.symmetry]
    split = ", ".join(plain(name, 24) for name in packing.split_rivers)
    rivers = "all rivers whole" if packing.rivers_whole else f"rivers in strands: {split}"
    name = plain(packing.figure.name, 60)
    size = min(7.0, 0.5 * width / (0.66 * max(len(name), 1)))
    count = f"{len(tree.flaps)} flaps, {counted(len(tree.rivers), 'river')}, {on}; {rivers}"
    small = min(3.6, 0.62 * width / (0.58 * len(count)))
    top = f"{across} x {up} cells{cell}, {known}"
    unit = f"one cell is {packing.unit:.4g} of the figure's length"
    return [
        Label("heading", (EDGE, height - 11), name, size, "start"),
        Label("note", (EDGE, height - 19), count, small, "start"),
        Label("note", (width - EDGE, height - 12), top, 3.6, "end"),
        Label("note", (width - EDGE, height - 19), unit, 3.6, "end"),
    ]


def _key(
    packing: GridPacking, creases: Drawing, left: float, right: float, y: float
) -> list[Mark]:
    """Return samples of the marks below both panels, each with its meaning.

    A row that is full goes on below.
    """
    samples: list[Mark] = []
    gaps = not gap_paper(packing).is_empty

    def row(left: float, entries: Sequence[tuple[list[Mark], str]]) -> None:
        x, at = left, y
        for marks, text in entries:
            wide = 9 + 0.56 * 2.9 * len(text)
            if x > left and x + wide > left + creases.width:
                x, at = left, at - 4.4
            samples.extend(moved(mark, x, at) for mark in marks)
            samples.append(Label("note", (x + 9, at), text, 2.9, "start"))
            x += wide + 5

    squares: list[tuple[list[Mark], str]] = [([Area("disc", (_BOX,))], "a flap's square")]
    if packing.tree.rivers:
        squares.append(([Area("river", (_BOX,))], "a river"))
    if gaps:
        squares.append(([Area("gap paper", (_BOX,))], "paper no part needs"))
    squares += [
        ([Disc("tip", (3.5, 0), 0.8)], "tip"),
        ([Path("grid step", ((0, 0), (7, 0)))], f"every {EVERY}th line"),
    ]
    row(left, squares)
    lines = {mark.kind: None for mark in creases.marks if isinstance(mark, Path)}
    kinds = [kind for kind in lines if kind not in {"border", "blunt tip"}]
    row(right, [([Path(kind, ((0, 0), (7, 0)))], kind) for kind in kinds])
    return samples


def _unit_plot(
    packing: GridPacking, offered: Sequence[Proposal], x: float, y: float, width: float
) -> list[Mark]:
    """Return a small plot of worst error over cells, with the unit taken filled.

    Units not taken stand at the least cells that are not proven too few, the one taken at the
    cells of the grid found.
    """
    tall = FOOT - 38.0
    taken = [p.rounding.lengths == packing.rounded for p in offered]
    cells = [
        max(packing.cells if own else p.least) for p, own in zip(offered, taken, strict=True)
    ]
    sizes = [math.log(size) for size in cells]
    low, high = min(sizes) - 0.15, max(sizes) + 0.15
    top = max([0.1, *(p.rounding.error for p in offered)]) * 1.15
    positions = [
        (x + width * (size - low) / (high - low), y + tall * p.rounding.error / top)
        for size, p in zip(sizes, offered, strict=True)
    ]
    marks: list[Mark] = [
        Path("frame", ((x, y + tall), (x, y), (x + width, y))),
        Label(
            "note",
            (x + width / 2, y - 7),
            "cells along a side: found where filled, else least",
            2.6,
        ),
        Label(
            "note", (x, y + tall + 5), "worst error of a length (filled: taken)", 2.6, "start"
        ),
    ]
    if len(positions) > 1:
        marks.append(Path("ruler", tuple(sorted(positions))))
    ticks, errors = [], []
    for (a, b), proposal, size, own in zip(positions, offered, cells, taken, strict=True):
        kind = "heading" if own else "note"
        marks.append(Disc("tip" if own else "loose tip", (a, b), 1.1 if own else 0.9))
        tick = Label(kind, (a, y - 2.6), f"{size}", 2.4)
        places = [replace(tick, at=(a + step, y - 2.6)) for step in (0.0, 1.5, -1.5, 3.0, -3.0)]
        ticks.append(Naming([(place,) for place in places], ((a, y),)))
        error = Label(kind, (a, b), f"{proposal.rounding.error:.0%}", 2.4, "start")
        around = [(1.8, 1.8), (1.8, -1.8), (-7.0, 1.8), (-7.0, -1.8), (-2.5, 3.2), (-2.5, -3.2)]
        errors.append(
            Naming([(replace(error, at=(a + dx, b + dy)),) for dx, dy in around], ((a, b),))
        )
    lines = list(itertools.pairwise(sorted(positions)))
    return [
        *marks,
        *place_labels(ticks, [], (x - 4, y - 5, x + width + 4, y)),
        *place_labels(errors, lines, (x, y, x + width + 10, y + tall + 3)),
    ]


def _lengths(
    packing: GridPacking, numbers: Mapping[str, int], x: float, y: float, width: float
) -> list[Mark]:
    """Return every length asked and used in cells, twins once, in columns."""
    tree = packing.tree
    rows = []
    for k, name in enumerate(tree.names):
        twin = int(tree.twin[k])
        if twin < k:
            continue
        text = plain(tree.written[k], 22)
        if numbers:
            text = f"{numbers[tree.written[k]]}  {text}"
        asked = tree.lengths[k] / packing.unit
        rows.append((name, text, f"{asked:.2f}", f"{packing.lengths[k]}"))
    high = FOOT - 28.0
    columns = max(1, min(int(width // 44), math.ceil(len(rows) / 8)))
    lines = math.ceil(len(rows) / columns)
    step = min(4.6, high / (lines + 1))
    size = min(2.8, 0.72 * step)
    wide = min(width / columns, 58.0)
    marks: list[Mark] = []
    for column in range(columns):
        left = x + column * wide
        marks += [
            Label("note", (left + wide - 18, y + high), "asked", 0.9 * size, "end"),
            Label("note", (left + wide - 7, y + high), "cells", 0.9 * size, "end"),
        ]
    for k, (name, text, asked, used) in enumerate(rows):
        left, at = x + (k // lines) * wide, y + high - step * (1 + k % lines)
        box = (
            (left, at - 0.8),
            (left + 2.4, at - 0.8),
            (left + 2.4, at + 0.8),
            (left, at + 0.8),
        )
        fit = min(size, (wide - 30) / (0.58 * len(text)))
        marks += [
            Area("river", (box,), name),
            Label("note", (left + 4, at), text, fit, "start"),
            Label("note", (left + wide - 18, at), asked, size, "end"),
            Label("heading", (left + wide - 7, at), used, size, "end"),
        ]
    return marks
