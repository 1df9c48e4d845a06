"""The drawing of a stick figure: one stroke a part, joints, tips and names."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from packer.drawing.marks.label_placement import Naming, place_labels
from packer.drawing.marks.labels import LETTER, Segment, label_box
from packer.drawing.marks.names import called
from packer.drawing.marks.strokes import Anchor, Disc, Drawing, Label, Mark, Path, moved, plain
from packer.drawing.marks.styles import part_colours
from packer.model.stick_layout import layout
from packer.model.tree import tree_of
from packer.numbers import counted

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from packer.model.figure import Figure
    from packer.model.tree import Tree

LONGER_SIDE = 150.0
"""Length in mm of the longer side of a figure's box of nodes."""

FILLS = 1.03
"""Ratio of the box to the drawing, in the tighter direction, up to which the box counts as filled."""

CROWDED = 24
"""Flaps above which names stand along their flaps where there is room."""


MOST_PLACED = 300
"""Names that a figure shows at most: more would hide it and each other, and only its strokes' titles
tell them. Dots are drawn smaller than usual then, so that strokes are seen between them."""

JOINT_MM, TIP_MM = 0.9, 0.6
"""Radii of the dots."""


def figure_drawing(
    figure: Figure, mm_per_unit: float | None = None, numbers: Mapping[str, int] | None = None
) -> Drawing:
    """Draw a stick figure with true proportions.

    Parameters
    ----------
    figure
        Any figure.
    mm_per_unit
        Millimetres for one unit of length; by default as many as make the longer side of the
        box round its nodes 150 mm.
    numbers
        Of parts as written: these stand in place of names and lengths.

    Returns
    -------
    Drawing
        With the groups rivers, flaps, joints, tips and names. No two names touch; of more than
        `MOST_PLACED` parts, twins counted once, there is a note instead.
    """
    tree = tree_of(figure)
    at = layout(tree)
    mm = mm_per_unit or LONGER_SIDE / float(np.ptp(at, axis=0).max())
    labels = _names(tree, at * mm, numbers or {})
    low, high = _extent(at * mm, labels)
    at = at * mm - low
    width, height = (float(side) for side in high - low)
    positions = [(float(x), float(y)) for x, y in at]
    dot = min(1.0, math.sqrt(MOST_PLACED / _parts(tree)))
    groups: list[tuple[str, list[Mark]]] = [
        ("rivers", _edges(tree, positions, len(tree.flaps), len(tree.names))),
        ("flaps", _edges(tree, positions, 0, len(tree.flaps))),
        ("joints", [Disc("joint", p, dot * JOINT_MM) for p in positions[tree.n_tips :]]),
        (
            "tips",
            [
                Disc("tip", p, dot * TIP_MM, name)
                for name, p in zip(tree.flaps, positions[: tree.n_tips], strict=True)
            ],
        ),
        ("names", [moved(label, *(-low).tolist()) for label in labels]),
    ]
    return Drawing(
        width,
        height,
        tuple((name, tuple(marks)) for name, marks in groups),
        title=f"{plain(figure.name)}: stick figure",
        description=f"{len(tree.flaps)} flaps and {counted(len(tree.rivers), 'river')}; one unit of length "
        f"is drawn {mm:.4g} mm long."
        + (" Names are left out; each stroke has its own as its title." if dot < 1 else ""),
        colours=part_colours(tree),
    )


def mm_to_fit(
    figure: Figure, width: float, height: float, numbers: Mapping[str, int] | None = None
) -> float:
    """Return the millimetres a unit at which a figure with its names fits into a box in mm."""
    box = np.ptp(layout(tree_of(figure)), axis=0)
    mm = max(width, height) / float(box.max())
    for _ in range(6):
        drawing = figure_drawing(figure, mm, numbers)
        share = min(width / drawing.width, height / drawing.height)
        if 1 <= share <= FILLS:
            break
        mm *= 0.985 * share
    return mm


def _edges(tree: Tree, at: list[tuple[float, float]], first: int, last: int) -> list[Mark]:
    kind = "stick river" if first else "stick flap"
    marks: list[Mark] = []
    for k in range(first, last):
        a, b = tree.ends[k].tolist()
        name = tree.names[k]
        title = f"{name}: {'river' if first else 'flap'}, length {tree.lengths[k]:g}"
        marks.append(Path(kind, (at[b], at[a]), part=name, title=title))
    return marks


def _parts(tree: Tree) -> int:
    """Return how many parts there are, twins counted once."""
    return int((tree.twin >= np.arange(len(tree.twin))).sum())


def _left_out(tree: Tree, positions: NDArray[np.float64]) -> Mark:
    """Say below a figure of many parts that their names are left out, and where they stand."""
    low, high = positions.min(axis=0), positions.max(axis=0)
    text = f"names of {_parts(tree)} parts left out; point at a stroke of the SVG, or see the table"
    size = min(3.0, float(high[0] - low[0]) / (LETTER * len(text)))
    return Label("note", (float(low[0]), float(low[1]) - 2.0 - size), text, size, "start")


def _names(
    tree: Tree, positions: NDArray[np.float64], numbers: Mapping[str, int]
) -> list[Mark]:
    """Name each flap beyond its tip, and one of two twin rivers beside it, with their lengths."""
    if _parts(tree) > MOST_PLACED:
        return [_left_out(tree, positions)]
    crowded = tree.n_tips > CROWDED
    share = math.sqrt(float(np.ptp(positions, axis=0).max()) / LONGER_SIDE)
    size = (2.4 if crowded else 3.2) * share
    namings = []
    for k, name in enumerate(tree.names):
        twin = int(tree.twin[k])
        if twin < k:
            continue
        text = called(tree, k, numbers)
        if not numbers:
            text += f"  {tree.lengths[k]:.4g}"
        if k >= tree.n_tips:
            far, near = positions[tree.ends[k]]
            label = Label("river name", (0.0, 0.0), text, 0.8 * size, part=name)
            middle = _point((near + far) / 2)
            namings.append(Naming([(place,) for place in _beside(label, near, far)], (middle,)))
            continue
        places, points = [], []
        for flap in dict.fromkeys((k, twin)):
            far, near = positions[tree.ends[flap]]
            label = Label("name", (0.0, 0.0), text, size, part=tree.names[flap])
            places.append(_beyond(label, near, far, crowded and not numbers))
            points.append(_point(far))
        namings.append(Naming(list(zip(*places, strict=True)), tuple(points)))
    strokes = [_segment(positions[pair]) for pair in tree.ends]
    return place_labels([_level(n) for n in namings] if numbers else namings, strokes)


def _level(naming: Naming) -> Naming:
    """Return places of a number: all level, since 6 and 9 are one on their heads."""
    places = [
        tuple(replace(label, angle=0.0, anchor="middle") for label in place)
        for place in naming.places
        if len(naming.points) > 1 or naming.places[0][0].kind == "name" or not place[0].angle
    ]
    return replace(naming, places=places)


def _point(at: NDArray[np.float64]) -> tuple[float, float]:
    x, y = at.tolist()
    return x, y


def _segment(ends: NDArray[np.float64]) -> Segment:
    (x0, y0), (x1, y1) = ends.tolist()
    return (x0, y0), (x1, y1)


def _beyond(
    label: Label, near: NDArray[np.float64], far: NDArray[np.float64], crowded: bool
) -> list[Label]:
    """Return places for a flap's name: level beside its tip, or on from it at some angle."""
    way = (far - near) / max(float(np.hypot(*(far - near))), 1e-300)
    x, y = (far + way * (0.8 + 0.4 * label.size)).tolist()
    anchor: Anchor = "middle" if abs(way[0]) < 0.35 else "start" if way[0] > 0 else "end"
    level = replace(label, at=(x, y + (0.3 * label.size * way[1])), anchor=anchor)
    if anchor == "middle":
        level = replace(level, at=(x, y + 0.3 * label.size * math.copysign(1, way[1])))
    along = []
    heading = math.degrees(math.atan2(way[1], way[0]))
    for aside in (0, 20, -20, 40, -40, 65, -65):
        angle = heading + (aside if way[0] >= 0 else -aside)
        c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
        gap = 0.8 + 0.3 * label.size
        position = float(far[0]) + gap * c, float(far[1]) + gap * s
        forwards = c >= -1e-9
        along.append(
            replace(
                label,
                at=position,
                anchor="start" if forwards else "end",
                angle=round(angle if forwards else angle - 180 * math.copysign(1, angle), 6),
            )
        )
    return along if crowded else [level, *along]


def _beside(label: Label, near: NDArray[np.float64], far: NDArray[np.float64]) -> list[Label]:
    """Return places for a river's name: level on either side of it, or along it."""
    way = (far - near) / max(float(np.hypot(*(far - near))), 1e-300)
    aside = np.array([way[1], -way[0]])
    if aside[0] < -1e-9:
        aside = -aside
    angle = math.degrees(math.atan2(way[1], way[0]))
    if abs(angle) > 90 + 1e-9:
        angle -= 180 * math.copysign(1, angle)
    choices = []
    for share in (0.5, 0.35, 0.65):
        position = near + share * (far - near)
        for hand in (1.0, -1.0):
            clear = hand * aside * (1.2 + 0.5 * label.size)
            anchor: Anchor = "middle"
            if abs(aside[0]) > 0.5:
                anchor = "start" if clear[0] > 0 else "end"
                clear = clear * 0.8
            x, y = (position + clear).tolist()
            choices.append(replace(label, at=(x, y), anchor=anchor))
            x, y = (position + hand * aside * (1.0 + 0.6 * label.size)).tolist()
            choices.append(replace(label, at=(x, y), angle=round(angle, 6)))
    return choices


def _extent(
    at: NDArray[np.float64], marks: list[Mark]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    boxes = [label_box(mark) for mark in marks if isinstance(mark, Label)]
    every = np.concatenate([at, *boxes])
    return every.min(axis=0) - 1.0, every.max(axis=0) + 1.0
