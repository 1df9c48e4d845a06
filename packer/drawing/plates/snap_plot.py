"""The plot of scale against creases: what giving up a little scale saves in finding the tips."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from packer.drawing.marks.strokes import Disc, Drawing, Label, Path

if TYPE_CHECKING:
    from collections.abc import Sequence

    from packer.drawing.marks.strokes import Mark

WIDTH, HEIGHT = 120.0, 70.0
LEFT, BOTTOM = 16.0, 14.0


def snap_plot(rows: Sequence[tuple[float, int]], most: float, title: str = "") -> Drawing:
    """Return a plot of landmark steps over the share of the scale given up, as stairs.

    Parameters
    ----------
    rows
        Pairs of a share of the scale and a number of steps.
    most
        Share of the scale that may be given up: where the plot ends.
    title
        What it is a plot of.
    """
    rows = sorted(set(rows))
    most_x = max(most, *(x for x, _ in rows))
    most_y = max((y for _, y in rows), default=1) or 1

    def at(x: float, y: float) -> tuple[float, float]:
        across = LEFT + (WIDTH - LEFT - 6.0) * x / most_x
        return across, BOTTOM + (HEIGHT - BOTTOM - 12.0) * y / most_y

    axes: list[Mark] = [
        Path("ruler", ((LEFT, HEIGHT - 8.0), (LEFT, BOTTOM), (WIDTH - 4.0, BOTTOM))),
        Label("note", (WIDTH / 2, 4.0), "share of the scale given up, per cent", 3.0),
        Label("note", (2.5, HEIGHT - 3.5), "landmark steps", 3.0, "start"),
    ]
    axes += [
        Label("note", (at(x, 0)[0], BOTTOM - 4.0), f"{100 * x:.2g}", 2.6)
        for x in sorted({x for x, _ in rows} | {most_x})
    ]
    axes += [
        Label("note", (LEFT - 2.0, at(0, y)[1]), str(y), 2.6, "end")
        for y in sorted({y for _, y in rows})
    ]
    corners = [*rows, (most_x, rows[-1][1])]
    stairs = [at(*corners[0])]
    for (_, y), (x, after) in pairwise(corners):
        stairs += [at(x, y), at(x, after)]
    marks: list[Mark] = [Path("measure", tuple(stairs))]
    marks += [Disc("mark", at(x, y), 1.0) for x, y in rows]
    return Drawing(WIDTH, HEIGHT, (("axes", tuple(axes)), ("steps", tuple(marks))), title)
