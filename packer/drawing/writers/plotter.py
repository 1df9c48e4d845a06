"""A drawing for a scoring plotter: lines alone, each once, by purpose, in a short order.

Common practice for pens and creasing tools that follow a file: no fills, no text, one layer for
each purpose so that each can have its own tool and pressure, little travel with the tool up.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.drawing.marks.lines import Arc, Line, line_drawing, strokes_of
from packer.drawing.marks.strokes import Disc, Drawing, Path
from packer.drawing.marks.styles import STYLES, Style

if TYPE_CHECKING:
    from collections.abc import Sequence

    from packer.drawing.marks.lines import Stroke
    from packer.drawing.marks.strokes import Point

JOINED_MM: Final = 0.005
"""Ends nearer than this are drawn through without lifting the tool."""

PASSES: Final = 20
"""Sweeps of improvement over the order at most; it usually settles in a few."""

LONGEST_SWEEP: Final = 1500
"""Strokes in a layer above which the order is left as the nearest neighbours gave it."""

MOST_SIDES: Final = 20_000
"""Points of the lines of a layer above which each line is drawn as a whole: the nearest of many sides is
looked for in a time that grows as the square of their number."""

PEN_STYLES: Final[dict[str, Style]] = {
    kind: Style(line=style.line or style.fill, width=0.1) for kind, style in STYLES.items()
}
"""Styles for a plotter's file: whole hairlines, no fills; the layer says what a line is."""


def plotter_drawing(drawing: Drawing) -> Drawing:
    """Return a drawing of paths alone, grouped by purpose and ordered for short travel.

    Each group holds one kind of line and has its name; strokes that follow on from each other
    are one path.
    """
    layers: dict[str, list[Path]] = {}
    for mark in line_drawing(drawing).marks:
        if isinstance(mark, Path):
            layers.setdefault(mark.kind, []).append(mark)
        elif isinstance(mark, Disc):
            circle = Arc(mark.centre, mark.radius, 0.0, 2 * math.pi)
            layers.setdefault(mark.kind, []).append(_path(circle))
    here = 0.0, 0.0
    groups = []
    for kind, paths in layers.items():
        ordered = _ordered(_units(paths), here)
        here = ordered[-1].points[-1]
        groups.append((kind, tuple(replace(path, kind=kind) for path in chained(ordered))))
    return replace(drawing, groups=tuple(groups))


def _units(paths: Sequence[Path]) -> list[Path]:
    """Return what is put into an order: the sides of lines, or whole lines where those are many."""
    closed = [
        replace(p, points=(*p.points, p.points[0]), closed=False) if p.closed else p
        for p in paths
    ]
    sides = [
        _path(side)
        for path in (closed if sum(len(p.points) for p in closed) <= MOST_SIDES else ())
        for side in strokes_of(path.points, path.bulges, path.closed)
    ]
    return sides or closed


def travel(drawing: Drawing) -> float:
    """Return how far the tool travels lifted, in mm, from the origin through all paths."""
    total, here = 0.0, (0.0, 0.0)
    for path in drawing.marks:
        if not isinstance(path, Path):
            continue
        total += math.dist(here, path.points[0])
        here = path.points[0] if path.closed else path.points[-1]
    return total


def in_order(strokes: Sequence[Stroke], start: Point = (0.0, 0.0)) -> list[Path]:
    """Return strokes as paths in an order, and each in a direction, of short travel.

    The nearest free end comes next; then stretches of the order are turned round while that
    shortens it (the 2-opt moves of G. A. Croes, Operations Research 6, 1958).
    """
    return _ordered([_path(stroke) for stroke in strokes], start)


def _ordered(paths: Sequence[Path], start: Point) -> list[Path]:
    """Return open paths in an order of short travel, some turned round."""
    ends = np.array([(*p.points[0], *p.points[-1]) for p in paths]).reshape(-1, 2, 2)
    order, flipped = _nearest(ends, start)
    if len(paths) <= LONGEST_SWEEP:
        order, flipped = _shortened(ends, order, flipped, start)
    return [
        _backwards(paths[k]) if turn else paths[k]
        for k, turn in zip(order.tolist(), flipped.tolist(), strict=True)
    ]


def _nearest(ends: np.ndarray, start: Point) -> tuple[np.ndarray, np.ndarray]:
    free = np.ones(len(ends), dtype=bool)
    here = np.array(start)
    order = np.zeros(len(ends), dtype=int)
    flipped = np.zeros(len(ends), dtype=bool)
    for k in range(len(ends)):
        away = np.hypot(*(ends - here).transpose(2, 0, 1))
        away[~free] = np.inf
        order[k], end = np.unravel_index(int(away.argmin()), away.shape)
        flipped[k] = end == 1
        free[order[k]] = False
        here = ends[order[k], 1 - end]
    return order, flipped


def _shortened(
    ends: np.ndarray, order: np.ndarray, flipped: np.ndarray, start: Point
) -> tuple[np.ndarray, np.ndarray]:
    """Turn stretches of the order round while that shortens the travel.

    Turning the stretch i..j round replaces the ways into i and out of j alone.
    """
    count = len(order)
    for _ in range(PASSES):
        better = False
        for i in range(count):
            heads = ends[order, flipped.astype(int)]
            tails = ends[order, 1 - flipped.astype(int)]
            before = np.array(start) if i == 0 else tails[i - 1]
            into = np.hypot(*(tails[i:] - before).T) - math.dist(heads[i], before)
            out = np.zeros(count - i)
            after = heads[i + 1 :]
            out[:-1] = np.hypot(*(after - heads[i]).T) - np.hypot(*(after - tails[i:-1]).T)
            gain = into + out
            j = int(gain.argmin())
            if gain[j] < -1e-9:
                stretch = slice(i, i + j + 1)
                order[stretch] = order[stretch][::-1].copy()
                flipped[stretch] = ~flipped[stretch][::-1]
                better = True
        if not better:
            break
    return order, flipped


def _path(stroke: Stroke) -> Path:
    """Return a stroke as a path of one side; a whole circle is two sides from its start."""
    if isinstance(stroke, Line):
        return Path("", (stroke.start, stroke.end))
    if stroke.turn > 2 * math.pi - 1e-9:
        half = stroke.part(0.0, 0.5)
        return Path("", (half.start, half.end, half.start), bulges=(1.0, 1.0))
    return Path("", (stroke.start, stroke.end), bulges=(math.tan(stroke.turn / 4),))


def _backwards(path: Path) -> Path:
    """Return an open path from its end to its start."""
    return replace(
        path, points=path.points[::-1], bulges=tuple(-bulge for bulge in path.bulges[::-1])
    )


def chained(paths: Sequence[Path]) -> list[Path]:
    """Join each path to the one before where it begins at its end."""
    chains: list[Path] = []
    for path in paths:
        if chains and math.dist(chains[-1].points[-1], path.points[0]) <= JOINED_MM:
            last = chains[-1]
            bulges = (*_bulges(last), *_bulges(path))
            chains[-1] = replace(
                last,
                points=(*last.points, *path.points[1:]),
                bulges=bulges if any(bulges) else (),
            )
        else:
            chains.append(path)
    return chains


def _bulges(path: Path) -> tuple[float, ...]:
    return path.bulges or (0.0,) * (len(path.points) - 1)
