"""The plot of scale against creases: what giving up a little scale saves in finding the tips."""

from __future__ import annotations

from typing import TYPE_CHECKING

from packer.drawing.marks.strokes import Disc, Drawing, Label, Path

if TYPE_CHECKING:
    from collections.abc import Sequence

    from packer.drawing.marks.strokes import Mark

WIDTH, HEIGHT = 120.0, 70.0
LEFT, BOTTOM = 16.0, 14.0


def snap_plot(rows: Sequence[tuple[float, int]], title: str = "") -> Drawing:
    """Return a plot of landmark steps over the share of the scale given up.

    Parameters
    ----------
    rows
        Pairs of a share of the scale and a number of steps.
    title
        What it is a plot of.
    """
    most_x = max((x for x, _ in rows), default=0.0) or 0.01
    most_y = max((y for _, y in rows), default=1) or 1

    def at(x: float, y: float) -> tuple[float, float]:
        across = LEFT + (WIDTH - LEFT - 6.0) * x / most_x
        return across, BOTTOM + (HEIGHT - BOTTOM - 12.0) * y / most_y

    axes: list[Mark] = [
        Path("ruler", ((LEFT, HEIGHT - 8.0), (LEFT, BOTTOM), (WIDTH - 4.0, BOTTOM))),
        Label("note", (WIDTH / 2, 4.0), "share of the scale given up, per cent", 3.0),
        Label("note", (2.5, HEIGHT - 3.5), "landmark steps", 3.0, "start"),
    ]
    for x, y in rows:
        axes.append(Label("note", (at(x, 0)[0], BOTTOM - 4.0), f"{100 * x:.2g}", 2.6))
        axes.append(Label("note", (LEFT - 2.0, at(0, y)[1]), str(y), 2.6, "end"))
    line = tuple(at(x, y) for x, y in rows)
    marks: list[Mark] = [Disc("mark", point, 1.0) for point in line]
    if len(line) > 1:
        marks.insert(0, Path("measure", line))
    return Drawing(WIDTH, HEIGHT, (("axes", tuple(axes)), ("steps", tuple(marks))), title)
