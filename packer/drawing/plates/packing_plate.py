"""Plates to pin on the wall: a stick figure beside its packing, several packings together."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from packer.drawing.figure_drawing import figure_drawing, mm_to_fit
from packer.drawing.marks.names import MOST_NAMED_SMALL, name_list, numbers_of
from packer.drawing.marks.strokes import Area, Disc, Drawing, Label, Mark, Path, moved, plain
from packer.drawing.marks.styles import part_colours
from packer.drawing.packing_drawing import packing_drawing
from packer.model.figure import SYMMETRY_NAMES
from packer.model.regions import efficiency
from packer.numbers import counted

if TYPE_CHECKING:
    from collections.abc import Sequence

    from packer.drawing.marks.strokes import Group, Point
    from packer.model.packing import Packing

PANEL = 190.0
"""Side in mm of the square that is as large as a packing on its plate."""

LONGEST = 250.0
"""Longest side in mm of a packing on its plate."""

EDGE = 12.0
"""Room round a plate, in mm."""

TITLE = 24.0
"""Height of the head of a plate, in mm."""


def packing_plate(packing: Packing) -> Drawing:
    """Draw a stick figure beside its packing, with one colour a part in both.

    Below each stands a bar for the same length of the figure, and a key to the marks.
    """
    sheet = packing.sheet
    mm = min(PANEL / math.sqrt(sheet.area), LONGEST / max(sheet.width, sheet.height))
    numbers = numbers_of(packing.tree)
    right = packing_drawing(packing, mm, numbers)
    high = max(right.height, 0.8 * PANEL)
    figure_mm = mm_to_fit(packing.figure, 0.85 * PANEL, high, numbers)
    left = figure_drawing(packing.figure, figure_mm, numbers)
    width = EDGE + left.width + 14 + right.width + EDGE
    listed, tall = name_list(packing.tree, numbers, width - 2 * EDGE)
    foot = 34.0 + tall
    height = TITLE + high + foot
    left_at = EDGE, foot + (high - left.height) / 2
    right_at = width - EDGE - right.width, foot + (high - right.height) / 2
    bar = round_length(
        min(0.3 * right.width / (packing.scale * mm), 0.45 * left.width / figure_mm)
    )
    groups: list[Group] = [
        ("head", tuple(_head(packing, width, height))),
        *_shifted("figure", left, left_at),
        *_shifted("packing", right, right_at),
        (
            "bars",
            (
                *scale_bar(left_at[0], foot - 10, bar * figure_mm, _units(bar)),
                *scale_bar(
                    right_at[0], foot - 10, bar * packing.scale * mm, _on_sheet(packing, bar)
                ),
            ),
        ),
        ("list", tuple(moved(mark, EDGE, foot - 16) for mark in listed)),
        ("key", tuple(_key(packing, EDGE, 9.0))),
    ]
    return Drawing(
        width,
        height,
        tuple(groups),
        title=plain(packing.figure.name),
        description=right.description,
        colours=part_colours(packing.tree),
        margin=0.0,
    )


def gallery_plate(
    packings: Sequence[Packing],
    captions: Sequence[Sequence[str]] | None = None,
    title: str = "",
) -> Drawing:
    """Draw several packings side by side at one size, each with its numbers.

    Parameters
    ----------
    packings
        At least one; the best is usually first.
    captions
        Lines to stand below each; by default its scale, its flaps in the middle, its loose
        flaps and its headroom.
    title
        By default the name of the first figure.
    """
    columns = math.ceil(math.sqrt(len(packings)))
    if len(packings) <= 3:
        columns = len(packings)
    cell, gap = (96.0 if columns > 1 else PANEL), 10.0
    texts = captions or [_caption(p, packings[0]) for p in packings]
    below = 5.2 * max(len(lines) for lines in texts) + 6
    numbers = numbers_of(packings[0].tree, MOST_NAMED_SMALL)
    drawn = [
        packing_drawing(p, cell / max(p.sheet.width, p.sheet.height), numbers) for p in packings
    ]
    tall = max(drawing.height for drawing in drawn)
    rows = math.ceil(len(packings) / columns)
    width = 2 * EDGE + columns * cell + (columns - 1) * gap
    listed, foot = name_list(packings[0].tree, numbers, width - 2 * EDGE)
    foot += 8.0 if listed else 4.0
    height = TITLE + rows * (tall + below) + foot
    name = plain(title or packings[0].figure.name, 60)
    size = min(7.0, (width - 2 * EDGE) / (0.66 * max(len(name), 1)))
    heading = Label("heading", (EDGE, height - 13), name, size, "start")
    groups: list[Group] = [("head", (heading,))]
    for k, (drawing, lines) in enumerate(zip(drawn, texts, strict=True)):
        x = EDGE + (k % columns) * (cell + gap)
        top = height - TITLE - (k // columns) * (tall + below)
        groups += _shifted(
            f"packing {k + 1}", drawing, (x + (cell - drawing.width) / 2, top - drawing.height)
        )
        words = [
            Label("note" if n else "heading", (x, top - tall - 5 - 5.2 * n), line, 3.6, "start")
            for n, line in enumerate(lines)
        ]
        groups.append((f"caption {k + 1}", tuple(words)))
    groups.append(("list", tuple(moved(mark, EDGE, foot - 2) for mark in listed)))
    return Drawing(
        width,
        height,
        tuple(groups),
        title=name,
        description=f"{counted(len(packings), 'packing')} side by side",
        colours={part: c for p in packings for part, c in part_colours(p.tree).items()},
        margin=0.0,
    )


def _caption(packing: Packing, best: Packing) -> list[str]:
    kinds = list(packing.kinds.values())
    middle = counted(kinds.count("middle"), "middle flap")
    lines = [
        f"scale {packing.scale:.5g}" + (f" {packing.sheet.unit}" if packing.sheet.unit else ""),
        f"{_share(packing, best):.1%} of the first, {efficiency(packing):.0%} of the sheet used",
        f"{kinds.count('corner')} corner, {kinds.count('edge')} edge, {middle}",
        counted(len(packing.loose), "loose flap"),
    ]
    if packing.headroom is not None:
        lines[-1] += f", headroom {100 * round(packing.headroom, 6):.2g} % at most"
    if packing.tree.rivers:
        lines.append(_strands(packing))
    return lines


def _share(packing: Packing, best: Packing) -> float:
    """Return the share of the best scale in tenths of a percent, rounded down: 1 for none but equals."""
    return math.floor(1000 * packing.scale / best.scale + 1e-6) / 1000


def _strands(packing: Packing) -> str:
    split = len(packing.split_rivers)
    if not split:
        return "all rivers whole"
    return f"{counted(split, 'river')} in strands"


def scale_bar(x: float, y: float, length: float, text: str) -> list[Mark]:
    """Return a ruler of a length in mm from (x, y) to the right, half of it filled."""
    half = ((x, y), (x + length / 2, y), (x + length / 2, y + 1.6), (x, y + 1.6))
    whole = ((x, y), (x + length, y), (x + length, y + 1.6), (x, y + 1.6))
    return [
        Area("ruler fill", (half,)),
        Path("ruler", whole, closed=True),
        Label("note", (x + length + 2, y + 0.8), text, 3.2, "start"),
    ]


def round_length(most: float) -> float:
    """Return the largest of 1, 2 or 5 times a power of ten that is not above a length."""
    power = 10.0 ** math.floor(math.log10(most))
    return max(step * power for step in (1, 2, 5) if step * power <= most)


def _units(length: float) -> str:
    return f"length {length:g}"


def _on_sheet(packing: Packing, length: float) -> str:
    there = length * packing.scale
    if packing.sheet.mm_per_unit:
        return f"length {length:g} = {there * packing.sheet.mm_per_unit:.4g} mm on the sheet"
    return f"length {length:g} = {there / packing.sheet.width:.4g} of the sheet's width"


def _shifted(name: str, drawing: Drawing, at: Point) -> list[Group]:
    return [
        (f"{name}: {group}", tuple(moved(mark, *at) for mark in marks))
        for group, marks in drawing.groups
    ]


def _head(packing: Packing, width: float, height: float) -> list[Mark]:
    tree = packing.tree
    count = f"{len(tree.flaps)} flaps, {counted(len(tree.rivers), 'river')}"
    on = SYMMETRY_NAMES[packing.symmetry]
    sheet = packing.sheet.describe()
    scale = packing.scale * (packing.sheet.mm_per_unit or 1)
    unit = " mm a unit of length" if packing.sheet.unit else ""
    used = f"discs and rivers cover {efficiency(packing):.0%} of the sheet"
    name = plain(packing.figure.name, 60)
    size = min(7.0, 0.7 * width / (0.66 * max(len(name), 1)))
    return [
        Label("heading", (EDGE, height - 11), name, size, "start"),
        Label("note", (EDGE, height - 18.5), f"{count}, {on}", 3.6, "start"),
        Label("note", (width - EDGE, height - 12), f"sheet {sheet}, {used}", 3.6, "end"),
        Label("note", (width - EDGE, height - 18.5), f"scale {scale:.5g}{unit}", 3.6, "end"),
    ]


def _key(packing: Packing, x: float, y: float) -> list[Mark]:
    """Return samples of the marks on a packing, each with its meaning."""
    active, loose = len(packing.active), len(packing.loose)
    samples: list[Mark] = []

    def entry(marks: list[Mark], text: str) -> None:
        nonlocal x
        samples.extend(moved(mark, x, y) for mark in marks)
        samples.append(Label("note", (x + 9, y), text, 3.0, "start"))
        x += 9 + 0.58 * 3.0 * len(text) + 7

    box = ((0.0, -1.8), (7.0, -1.8), (7.0, 1.8), (0.0, 1.8))
    entry([Area("disc", (box,))], "a flap's paper")
    if packing.tree.rivers:
        entry([Area("river", (box,))], "a river")
    entry([Path("active path", ((0, 0), (7, 0)))], f"active path ({active})")
    if packing.symmetry != "none":
        entry([Path("axis", ((0, 0), (7, 0)))], "axis of symmetry")
    entry([Disc("tip", (3.5, 0), 0.8)], "tip")
    if loose:
        entry(
            [Area("loose disc", (box,)), Disc("loose tip", (3.5, 0), 0.8)],
            f"loose flap ({loose}): could be longer for nothing",
        )
    return samples
